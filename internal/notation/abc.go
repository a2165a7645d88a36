package notation

import (
	"bytes"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"antiphon/internal/music"
)

// maxABCLine is the longest line that is read.
const maxABCLine = 100_000

// looksABC recognises ABC: its own mark, or a tune header that ends with a key.
func looksABC(text []byte) bool {
	if bytes.HasPrefix(text, []byte("%abc")) {
		return true
	}
	key, other := false, false
	for i, line := range bytes.Split(text[:min(len(text), 20_000)], []byte("\n")) {
		if i > 500 {
			break
		}
		if len(line) > 1 && line[1] == ':' {
			switch line[0] {
			case 'K':
				key = true
			case 'X', 'T', 'M', 'L':
				other = true
			}
		}
		if key && other {
			return true
		}
	}
	return false
}

// abcLine is a line of a tune with its place in the file.
type abcLine struct {
	n    int
	text string
}

// readABC reads the first tune of an ABC 2.1 file.
func readABC(data []byte, lim Limits, p *pardons) (*music.Score, error) {
	data = bytes.TrimPrefix(data, []byte("\xEF\xBB\xBF"))
	if !utf8.Valid(data) {
		out, err := charmap.Windows1252.NewDecoder().Bytes(data)
		if err != nil {
			return nil, illFormed(0, "", "its text cannot be decoded", err)
		}
		data = out
	}
	lines, err := firstTune(string(data), p)
	if err != nil {
		return nil, err
	}
	t := newTune(lim, p)
	for _, l := range lines {
		if err := t.line(l); err != nil {
			return nil, err
		}
	}
	return t.finish()
}

// firstTune takes the first tune out of a file: from its X: (or, where there is none, its first field)
// to the next empty line, with comments and continued lines put right.
func firstTune(text string, p *pardons) ([]abcLine, error) {
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	var out []abcLine
	begun, body, tunes := false, false, 0
	fileHeader := true // what stands at the top holds for every tune, up to an empty line (2.2.2)
	started := strings.HasPrefix(text, "X:") || strings.Contains(text, "\nX:")
	for i, raw := range strings.Split(text, "\n") {
		if len(raw) > maxABCLine {
			return nil, illFormed(i+1, "", "a line is longer than a tune is", nil)
		}
		line := strings.TrimRight(raw, " \t")
		isX := strings.HasPrefix(line, "X:")
		if isX {
			tunes++
		}
		switch {
		case tunes > 1:
			if isX && tunes == 2 {
				p.add(i+1, "", "the file holds several tunes; the first was read")
			}
			continue
		case !begun:
			if begun = isX || (!started && isField(line)); !begun {
				if fileHeader = fileHeader && line != ""; fileHeader && isField(line) && line[0] != 'K' && line[0] != 'T' {
					out = append(out, abcLine{i + 1, withoutComment(line)})
				}
				continue
			}
		case line == "":
			if body { // an empty line ends a tune
				return tail(out, text, i, p), nil
			}
			continue
		}
		if strings.HasPrefix(line, "%%") {
			out = append(out, abcLine{i + 1, line})
			continue
		}
		line = strings.TrimRight(withoutComment(line), " \t")
		if line == "" {
			continue
		}
		body = body || strings.HasPrefix(line, "K:")
		out = append(out, abcLine{i + 1, line})
	}
	if !body {
		return nil, illFormed(0, "", "the tune has no key (K:), which ends the header of an ABC tune", nil)
	}
	return out, nil
}

// tail notes that more tunes follow the first.
func tail(out []abcLine, text string, line int, p *pardons) []abcLine {
	rest := strings.SplitN(text, "\n", line+1)
	if len(rest) > line && (strings.HasPrefix(rest[line], "X:") || strings.Contains(rest[line], "\nX:")) {
		p.add(line+1, "", "the file holds several tunes; the first was read")
	}
	return out
}

func isField(line string) bool {
	return len(line) > 1 && line[1] == ':' && (line[0] >= 'A' && line[0] <= 'Z' || line[0] >= 'a' && line[0] <= 'z')
}

// isMusic tells a line like "d:|" from a field.
func isMusic(line string) bool {
	return strings.IndexByte("EJYabcdefghijklnopqtuvxyz", line[0]) >= 0 || (len(line) > 2 && (line[2] == '|' || line[2] == ':'))
}

// withoutComment cuts a line at an unescaped per cent sign.
func withoutComment(line string) string {
	for i := range len(line) {
		if line[i] == '%' && (i == 0 || line[i-1] != '\\') {
			return line[:i]
		}
	}
	return line
}

// tune is an ABC tune while it is being read.
type tune struct {
	lim       Limits
	p         *pardons
	s         *music.Score
	titles    int
	body      bool
	unit      music.Beats // L:
	hasUnit   bool
	time      music.Time // M:
	key       abcKey
	clef      abcClef
	voices    []*abcVoice
	byID      map[string]*abcVoice
	now       *abcVoice
	shared    [][]string // voices that stand on one staff, by %%score
	propagate string     // how far accidentals reach: "not", "octave", or else to all octaves
	user      map[byte]string
	grid      grid
	notes     int
	tokens    int
	pending   *tempoText // Q: of the header, until the unit is known
}

type tempoText struct {
	line int
	text string
}

func newTune(lim Limits, p *pardons) *tune {
	return &tune{lim: lim, p: p, s: &music.Score{}, byID: map[string]*abcVoice{}, user: map[byte]string{},
		time: music.Time{}, clef: abcClef{clef: music.Clef{Sign: "G", Line: 2}}}
}

func (t *tune) line(l abcLine) error {
	switch {
	case strings.HasPrefix(l.text, "%%"):
		t.directive(strings.TrimSpace(l.text[2:]))
		return nil
	case isField(l.text) && !(t.body && isMusic(l.text)):
		return t.field(l, l.text[0], strings.TrimSpace(l.text[2:]))
	case !t.body:
		t.p.add(l.n, "", "a line of the header is no field; it was left out")
		return nil
	case strings.HasPrefix(l.text, "+:"): // more of the field before
		return nil
	}
	return t.voice().music(l)
}
