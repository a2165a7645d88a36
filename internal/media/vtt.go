package media

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Cue is a text that stands while a film plays from one moment to another.
type Cue struct {
	FromS, ToS float64
	Text       string // lines, without markup
}

// Limits on captions that people hand in: an hour of talk has some 1500 cues and 60 KB.
const (
	mostCues     = 5000
	mostCueText  = 2000
	mostVTTBytes = 1 << 20
	lineLength   = 42 // characters in a line of a caption, and two lines at a time: common practice, no source
)

// Errors of ReadVTT and Captions; what they wrap says the line.
var (
	ErrNotVTT  = errors.New("these are no captions in WebVTT: its first line is WEBVTT")
	ErrVTTSize = errors.New("the captions are longer than a lesson can be")
)

// WriteVTT writes cues as the W3C's WebVTT (Candidate Recommendation, 2019). Marks that mean something
// there are escaped; empty cues, and those that end before they begin, are left out.
func WriteVTT(w io.Writer, cues []Cue) error {
	b := bufio.NewWriter(w)
	fmt.Fprint(b, "WEBVTT\n")
	for _, c := range cues {
		text := cueText(c.Text)
		if text == "" || !(c.FromS >= 0 && math.Round(c.FromS*1000) < math.Round(c.ToS*1000)) || math.IsInf(c.ToS, 0) {
			continue
		}
		fmt.Fprintf(b, "\n%s --> %s\n%s\n", cueTime(c.FromS), cueTime(c.ToS), vttEscapes.Replace(text))
	}
	return b.Flush()
}

// An arrow within a text would read as a cue's times, so ">" is escaped too.
var vttEscapes = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")

// cueText drops what a cue cannot hold: empty lines, which end it, and control characters.
func cueText(s string) string {
	var lines []string
	for _, l := range strings.FieldsFunc(strings.ToValidUTF8(s, "\uFFFD"), func(r rune) bool { return r == '\n' || r == '\r' }) {
		l = strings.Join(strings.FieldsFunc(l, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) }), " ")
		if l != "" {
			lines = append(lines, l)
		}
	}
	return strings.Join(lines, "\n")
}

func cueTime(s float64) string {
	ms := int64(math.Round(s * 1000))
	return fmt.Sprintf("%02d:%02d:%02d.%03d", ms/3600000, ms/60000%60, ms/1000%60, ms%1000)
}

// ReadVTT reads WebVTT, leniently: comments, styles, regions, settings and markup are passed over, entities
// become what they stand for. What is wrong with a cue's times is an error that names the line.
func ReadVTT(r io.Reader) ([]Cue, error) {
	raw, err := io.ReadAll(io.LimitReader(r, mostVTTBytes+1))
	if err != nil {
		return nil, err
	}
	if len(raw) > mostVTTBytes {
		return nil, ErrVTTSize
	}
	text := strings.TrimPrefix(strings.ToValidUTF8(string(raw), "\uFFFD"), "\uFEFF")
	lines := strings.Split(strings.NewReplacer("\r\n", "\n", "\r", "\n", "\x00", "\uFFFD").Replace(text), "\n")
	if !isVTT(lines[0]) {
		return nil, ErrNotVTT
	}
	var cues []Cue
	for i := 1; i < len(lines); {
		if strings.TrimSpace(lines[i]) == "" {
			i++
			continue
		}
		from := i
		for i < len(lines) && strings.TrimSpace(lines[i]) != "" {
			i++
		}
		c, ok, err := readCue(lines[from:i], from)
		if err != nil {
			return nil, err
		}
		if ok {
			cues = append(cues, c)
		}
		if len(cues) > mostCues {
			return nil, ErrVTTSize
		}
	}
	return cues, nil
}

func isVTT(first string) bool {
	rest, ok := strings.CutPrefix(first, "WEBVTT")
	return ok && (rest == "" || rest[0] == ' ' || rest[0] == '\t')
}

// readCue reads one block; what is no cue is none.
func readCue(block []string, at int) (Cue, bool, error) {
	for i, l := range block[:min(2, len(block))] { // the first line may name the cue
		left, right, arrow := strings.Cut(l, "-->")
		if !arrow {
			continue
		}
		if w := strings.Fields(right); len(w) > 0 {
			right = w[0]
		}
		from, err1 := readCueTime(strings.TrimSpace(left))
		to, err2 := readCueTime(strings.TrimSpace(right))
		if err1 != nil || err2 != nil || to <= from {
			return Cue{}, false, fmt.Errorf("line %d: %q are no times of a caption: write them like 00:01:02.500 --> 00:01:05.000", at+i+1, shortened(l))
		}
		text := cueText(unmarked(strings.Join(block[i+1:], "\n")))
		if utf8.RuneCountInString(text) > mostCueText {
			return Cue{}, false, fmt.Errorf("line %d: %w in one caption", at+i+1, ErrVTTSize)
		}
		return Cue{from, to, text}, text != "", nil
	}
	return Cue{}, false, nil
}

func shortened(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return s
}

// readCueTime reads mm:ss.ttt or hours before it.
func readCueTime(s string) (float64, error) {
	parts := strings.Split(s, ":")
	if len(parts) < 2 || len(parts) > 3 {
		return 0, ErrNotVTT
	}
	sum := 0.0
	for i, p := range parts {
		whole, ms, _ := strings.Cut(p, ".")
		last := i == len(parts)-1
		n, err := strconv.Atoi(whole)
		if err != nil || n < 0 || len(whole) < 2 || len(whole) > 4 || i > 0 && n > 59 || last != (len(ms) == 3) {
			return 0, ErrNotVTT
		}
		sum = sum*60 + float64(n)
		if last {
			m, err := strconv.Atoi(ms)
			if err != nil || m < 0 {
				return 0, ErrNotVTT
			}
			sum += float64(m) / 1000
		}
	}
	return sum, nil
}

// unmarked drops tags and reads entities.
func unmarked(s string) string {
	var b strings.Builder
	in := false
	for _, r := range s {
		switch {
		case r == '<':
			in = true
		case r == '>' && in:
			in = false
		case !in:
			b.WriteRune(r)
		}
	}
	return vttEntities.Replace(b.String())
}

var vttEntities = strings.NewReplacer("&amp;", "&", "&lt;", "<", "&gt;", ">", "&lrm;", "", "&rlm;", "", "&nbsp;", " ")

// Captions reads what a teacher typed or pasted for an item of lengthS: WebVTT, or plain text, which is
// spread evenly by its letters. Cues beyond the item's end are cut.
func Captions(text string, lengthS float64) ([]Cue, error) {
	if len(text) > mostVTTBytes {
		return nil, ErrVTTSize
	}
	if !(lengthS > 0) || math.IsInf(lengthS, 0) {
		return nil, nil
	}
	first, _, _ := strings.Cut(strings.TrimPrefix(text, "\uFEFF"), "\n")
	if !isVTT(strings.TrimRight(first, "\r")) {
		return spread(text, lengthS), nil
	}
	cues, err := ReadVTT(strings.NewReader(text))
	var in []Cue
	for _, c := range cues {
		if c.ToS = min(c.ToS, lengthS); c.FromS < c.ToS {
			in = append(in, c)
		}
	}
	return in, err
}

// spread cuts a text into captions of at most two lines, each as long as its share of the letters.
func spread(text string, lengthS float64) []Cue {
	var pieces []string
	for _, para := range strings.Split(cueText(text), "\n") {
		lines := captionLines(para)
		for len(lines) > 0 {
			n := min(2, len(lines))
			pieces = append(pieces, strings.Join(lines[:n], "\n"))
			lines = lines[n:]
		}
	}
	if len(pieces) > mostCues {
		pieces = pieces[:mostCues]
	}
	all := 0
	for _, p := range pieces {
		all += utf8.RuneCountInString(p)
	}
	var cues []Cue
	at := 0
	for _, p := range pieces {
		n := utf8.RuneCountInString(p)
		cues = append(cues, Cue{lengthS * float64(at) / float64(all), lengthS * float64(at+n) / float64(all), p})
		at += n
	}
	return cues
}

// captionLines breaks a text at blanks; a sentence's end that falls into the second half of a line ends the line.
func captionLines(s string) (lines []string) {
	line := ""
	flush := func() {
		if line != "" {
			lines, line = append(lines, line), ""
		}
	}
	for _, word := range strings.Fields(s) {
		for utf8.RuneCountInString(word) > lineLength {
			flush()
			r := []rune(word)
			lines, word = append(lines, string(r[:lineLength])), string(r[lineLength:])
		}
		if line != "" && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > lineLength {
			flush()
		}
		if line != "" {
			line += " "
		}
		line += word
		if strings.ContainsRune(".!?…", rune(word[len(word)-1])) && utf8.RuneCountInString(line) > lineLength/2 {
			flush()
		}
	}
	flush()
	return lines
}

// Shifted moves cues by a time, as those of an item to its place in a film.
func Shifted(cues []Cue, byS float64) []Cue {
	out := make([]Cue, len(cues))
	for i, c := range cues {
		out[i] = Cue{c.FromS + byS, c.ToS + byS, c.Text}
	}
	return out
}
