// Package notation reads scores from MusicXML, Standard MIDI Files and ABC, and writes MusicXML, MEI and
// Standard MIDI Files.
//
// It is liberal in what it reads and says what it forgave; what it writes is valid. It refuses, with
// a *ReadError, what is no score, what is hostile, and what is larger than its Limits. It fetches
// nothing: a DOCTYPE is accepted and ignored, entities are not.
package notation

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"unicode/utf8"

	"antiphon/internal/music"
)

// Limits on what is read. The zero value of each field is the default that it states.
type Limits struct {
	Bytes         int64 // of the file as it comes; 0 means 20 MB
	UnzippedBytes int64 // of the score inside a compressed file; 0 means 100 MB
	Ratio         int64 // unzipped to zipped size; 0 means 200
	Notes         int   // notes and rests; 0 means 200,000
	Bars          int   // 0 means 20,000
	Elements      int   // XML elements, MIDI events or ABC tokens; 0 means 6,000,000
	Depth         int   // of nested XML elements; 0 means 64
}

func (l Limits) filled() Limits {
	set := func(p *int64, v int64) {
		if *p <= 0 {
			*p = v
		}
	}
	seti := func(p *int, v int) {
		if *p <= 0 {
			*p = v
		}
	}
	set(&l.Bytes, 20<<20)
	set(&l.UnzippedBytes, 100<<20)
	set(&l.Ratio, 200)
	seti(&l.Notes, 200_000)
	seti(&l.Bars, 20_000)
	seti(&l.Elements, 6_000_000)
	seti(&l.Depth, 64)
	return l
}

// Forgiven is something in a file that is not as the standard has it, and what was made of it.
type Forgiven struct {
	Line int    // 0 unknown
	Bar  string // as printed; "" unknown or not in a bar
	What string // one sentence
	More int    // how often the same was met after the first time
}

func (f Forgiven) String() string {
	s := f.What
	switch {
	case f.Bar != "" && f.Line > 0:
		s = fmt.Sprintf("bar %s (line %d): %s", f.Bar, f.Line, s)
	case f.Bar != "":
		s = fmt.Sprintf("bar %s: %s", f.Bar, s)
	case f.Line > 0:
		s = fmt.Sprintf("line %d: %s", f.Line, s)
	}
	if f.More > 0 {
		s += fmt.Sprintf(" (and %d more like it)", f.More)
	}
	return s
}

// pardons collects what was forgiven, each kind once.
type pardons struct {
	list []Forgiven
	seen map[string]int
}

// maxPardons keeps the list readable: kinds beyond it are counted in none.
const maxPardons = 50

func (p *pardons) add(line int, bar, what string) {
	if p.seen == nil {
		p.seen = map[string]int{}
	}
	if i, ok := p.seen[what]; ok {
		p.list[i].More++
		return
	}
	if len(p.list) >= maxPardons {
		return
	}
	p.seen[what] = len(p.list)
	p.list = append(p.list, Forgiven{Line: line, Bar: bar, What: what})
}

// ReadFile reads a score from a file of any format that Read knows.
func ReadFile(path string, lim Limits) (*music.Score, []Forgiven, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, nil, unreadable(path, err)
	}
	if !info.Mode().IsRegular() {
		return nil, nil, &ReadError{Name: path, Kind: NotAScore, Say: "this is a folder or a device, not a file", Err: ErrNotAScore}
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, unreadable(path, err)
	}
	defer f.Close()
	return Read(f, path, lim)
}

func unreadable(path string, err error) *ReadError {
	say := "the file cannot be opened; check its permissions"
	if errors.Is(err, fs.ErrNotExist) {
		say = "there is no such file; check the name"
	}
	return &ReadError{Name: path, Kind: Unreadable, Say: say, Err: err}
}

// Read reads a score and tells its format by its content. The name is used only in messages.
func Read(r io.Reader, name string, lim Limits) (s *music.Score, forgiven []Forgiven, err error) {
	lim = lim.filled()
	data, err := io.ReadAll(io.LimitReader(r, lim.Bytes+1))
	if err != nil {
		return nil, nil, fmt.Errorf("read score %s: %w", printable(name), err)
	}
	defer func() {
		if re, ok := err.(*ReadError); ok && re.Name == "" {
			re.Name = name
		}
	}()
	if int64(len(data)) > lim.Bytes {
		return nil, nil, tooLarge("the file is larger than %d MB", max(1, lim.Bytes>>20))
	}
	var p pardons
	switch sniff(data) {
	case formatEmpty:
		return nil, nil, &ReadError{Kind: Empty, Say: "the file is empty; export the score again", Err: ErrEmpty}
	case formatZip:
		s, err = readMXL(data, lim, &p)
	case formatMIDI:
		s, err = readMIDI(data, lim, &p)
	case formatXML:
		s, err = readXML(data, lim, &p)
	case formatABC:
		s, err = readABC(data, lim, &p)
	default:
		return nil, nil, &ReadError{Kind: NotAScore, Say: "this is no MusicXML, MIDI or ABC file; export the score as MusicXML", Err: ErrNotAScore}
	}
	if err != nil {
		return nil, nil, err
	}
	return s, p.list, nil
}

type format int

const (
	formatUnknown format = iota
	formatEmpty
	formatZip
	formatMIDI
	formatXML
	formatABC
)

func sniff(data []byte) format {
	switch {
	case len(data) == 0:
		return formatEmpty
	case bytes.HasPrefix(data, []byte("PK\x03\x04")), bytes.HasPrefix(data, []byte("PK\x05\x06")):
		return formatZip
	case bytes.HasPrefix(data, []byte("MThd")), isRMID(data):
		return formatMIDI
	case bytes.HasPrefix(data, []byte{0xFE, 0xFF}), bytes.HasPrefix(data, []byte{0xFF, 0xFE}),
		bytes.HasPrefix(data, []byte{'<', 0}), bytes.HasPrefix(data, []byte{0, '<'}):
		return formatXML // UTF-16; ABC is never written so
	}
	text := bytes.TrimLeft(bytes.TrimPrefix(data, []byte("\xEF\xBB\xBF")), " \t\r\n")
	switch {
	case len(text) == 0:
		return formatEmpty
	case text[0] == '<':
		return formatXML
	case looksABC(text):
		return formatABC
	}
	return formatUnknown
}

// printable makes a string from a file safe to show: control characters, also those that change the
// direction of writing, become "?", and it is cut at 200 characters.
func printable(s string) string {
	out := make([]rune, 0, min(len(s), 200))
	for _, r := range s {
		if len(out) == 200 {
			return string(out) + "…"
		}
		if r < 0x20 || (r >= 0x7F && r < 0xA0) || r == utf8.RuneError || r == 0x2028 || r == 0x2029 || r == 0x061C ||
			(r >= 0x200B && r <= 0x200F) || (r >= 0x202A && r <= 0x202E) || (r >= 0x2060 && r <= 0x206F) || r == 0xFEFF {
			r = '?'
		}
		out = append(out, r)
	}
	return string(out)
}
