package notation

import (
	"bytes"
	"fmt"
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

// directive reads which voices share a staff, and how far accidentals reach; the others are about looks.
func (t *tune) directive(text string) {
	word, rest, _ := strings.Cut(text, " ")
	switch word {
	case "propagate-accidentals":
		t.propagate = strings.TrimSpace(rest)
		return
	case "score", "staves":
	default:
		return
	}
	t.shared = nil
	var group []string
	depth := 0
	for _, f := range strings.Fields(strings.NewReplacer("(", " ( ", ")", " ) ", "[", " ", "]", " ", "{", " ", "}", " ", "|", " ").Replace(rest)) {
		switch f {
		case "(":
			depth, group = depth+1, nil
		case ")":
			if depth > 0 && len(group) > 1 {
				t.shared = append(t.shared, group)
			}
			depth, group = 0, nil
		default:
			if depth > 0 {
				group = append(group, f)
			}
		}
	}
}

// field reads an information field, of the header or within the tune.
func (t *tune) field(l abcLine, name byte, value string) error {
	switch name {
	case 'T':
		if !t.body || t.titles == 0 {
			if t.titles++; t.titles == 1 {
				t.s.Title = oneLine(abcText(value))
			} else if t.titles == 2 {
				t.s.Subtitle = oneLine(abcText(value))
			}
		}
	case 'C':
		if t.s.Composer == "" {
			t.s.Composer = oneLine(abcText(value))
		} else if !t.body && len(t.s.Creators) < 50 {
			t.s.Creators = append(t.s.Creators, music.Creator{Role: "composer", Name: oneLine(abcText(value))})
		}
	case 'M':
		return t.meter(l, value)
	case 'L':
		return t.unitLength(l, value)
	case 'Q':
		if !t.body {
			t.pending = &tempoText{l.n, value}
			return nil
		}
		t.tempo(l.n, value)
	case 'K':
		return t.keyField(l, value)
	case 'V':
		return t.voiceField(l, value)
	case 'U':
		if sign, meaning, ok := strings.Cut(value, "="); ok && len(strings.TrimSpace(sign)) == 1 {
			t.user[strings.TrimSpace(sign)[0]] = strings.Trim(strings.TrimSpace(meaning), "!+")
		}
	case 'I':
		t.directive(value)
	case 'P':
		if t.body {
			t.voice().direct(music.Direction{Kind: music.Rehearsal, Text: oneLine(abcText(value)), Placed: "above"})
		} else {
			t.p.add(l.n, "", "the order of parts (P:) is not followed; the tune is read as it stands")
		}
	case 'w', 's':
		t.p.add(l.n, "", "words and symbols under the notes were left out")
	case 'm':
		t.p.add(l.n, "", "macros (m:) are not followed")
	}
	return nil
}

func (t *tune) meter(l abcLine, value string) error {
	time, ok := parseMeter(value)
	if !ok {
		t.p.add(l.n, "", fmt.Sprintf("meter %q cannot be read; it was left out", printable(clip(value, 40))))
		return nil
	}
	if !t.body {
		t.time = time
		return nil
	}
	t.voice().setTime(time) // of the voice in which it stands
	return nil
}

// parseMeter reads "4/4", "C", "C|", "(2+3)/8", "none".
func parseMeter(v string) (music.Time, bool) {
	switch v = strings.ReplaceAll(v, " ", ""); v {
	case "C":
		return music.Time{Parts: []music.TimePart{{Beats: []int{4}, Unit: 4}}, Symbol: "common"}, true
	case "C|":
		return music.Time{Parts: []music.TimePart{{Beats: []int{2}, Unit: 2}}, Symbol: "cut"}, true
	case "none", "":
		return music.Time{Senza: true}, true
	}
	num, den, ok := strings.Cut(v, "/")
	unit, okUnit := whole(den, 128)
	if !ok || !okUnit || unit < 1 || unit&(unit-1) != 0 {
		return music.Time{}, false
	}
	part := music.TimePart{Unit: unit}
	for _, f := range strings.Split(strings.Trim(num, "()"), "+") {
		n, ok := whole(f, 256)
		if !ok || n < 1 || len(part.Beats) > 16 {
			return music.Time{}, false
		}
		part.Beats = append(part.Beats, n)
	}
	return music.Time{Parts: []music.TimePart{part}}, true
}

func (t *tune) unitLength(l abcLine, value string) error {
	b, ok := parseFraction(value)
	if !ok {
		t.p.add(l.n, "", fmt.Sprintf("unit note length %q cannot be read; it was left out", printable(clip(value, 40))))
		return nil
	}
	if !t.body {
		t.unit, t.hasUnit = b, true
		return nil
	}
	t.voice().unit = b
	return nil
}

// parseFraction reads "1/8" of a whole note as quarters.
func parseFraction(s string) (music.Beats, bool) {
	num, den, slash := strings.Cut(strings.ReplaceAll(s, " ", ""), "/")
	n, ok := whole(num, 512)
	d := 1
	if slash {
		var okDen bool
		d, okDen = whole(den, 512)
		ok = ok && okDen
	}
	if !ok || n < 1 || d < 1 || d&(d-1) != 0 {
		return music.Beats{}, false
	}
	return music.Quarters(int64(4*n), int64(d)), true
}

// defaultUnit is 1/16 where the meter is under three quarters of a whole note, else 1/8 (ABC 2.1, 3.1.7).
func (t *tune) defaultUnit() music.Beats {
	if l := t.time.Length(); !l.IsZero() && l.Less(music.Quarters(3, 1)) {
		return music.Quarters(1, 4)
	}
	return music.Quarters(1, 2)
}

// tempo reads "1/4=120", `"Allegro" 1/4=120`, `"Allegro"` and the older "120".
func (t *tune) tempo(line int, value string) {
	v := t.voice()
	rest := value
	if before, after, ok := strings.Cut(value, `"`); ok {
		words, end, _ := strings.Cut(after, `"`)
		rest = before + " " + end
		if words = oneLine(abcText(words)); words != "" {
			v.direct(music.Direction{Kind: music.Words, Text: words, Placed: "above"})
		}
	}
	rest = strings.TrimSpace(rest)
	if rest == "" {
		return
	}
	note, speed, ok := strings.Cut(rest, "=")
	var unit music.Beats
	if !ok {
		speed, unit = rest, v.unit
	}
	for _, f := range strings.Fields(note) {
		if !ok {
			break
		}
		if f == "C" || f == "c" {
			unit = unit.Add(v.unit)
			continue
		}
		b, good := parseFraction(f)
		if !good {
			t.p.add(line, "", fmt.Sprintf("tempo %q cannot be read; it was left out", printable(clip(value, 40))))
			return
		}
		unit = unit.Add(b)
	}
	bpm, _ := perMinute(speed)
	if bpm == 0 || unit.IsZero() || bpm*unit.Q() > maxBpm {
		t.p.add(line, "", fmt.Sprintf("tempo %q cannot be read; it was left out", printable(clip(value, 40))))
		return
	}
	v.tempos = append(v.tempos, barTempo{len(v.bars) - 1, music.TempoMark{At: v.cursor, Bpm: bpm, Unit: unit}})
}

// abcText undoes the commonest escapes of accented letters.
func abcText(s string) string {
	if !strings.Contains(s, `\`) && !strings.Contains(s, "&") {
		return s
	}
	return abcEscapes().Replace(s)
}

func abcEscapes() *strings.Replacer {
	return strings.NewReplacer(`\'e`, "é", "\\`e", "è", `\^e`, "ê", `\"e`, "ë", `\'a`, "á", "\\`a", "à", `\^a`, "â", `\"a`, "ä", `\"o`, "ö", `\'o`, "ó",
		`\^o`, "ô", `\"u`, "ü", `\'u`, "ú", `\'i`, "í", `\^i`, "î", `\"i`, "ï", `\~n`, "ñ", `\cc`, "ç", `\"A`, "Ä", `\"O`, "Ö", `\"U`, "Ü", `\'E`, "É",
		`\ss`, "ß", `\aa`, "å", `\/o`, "ø", `\ae`, "æ", `\&`, "&", `\%`, "%", `\\`, `\`,
		"&eacute;", "é", "&egrave;", "è", "&agrave;", "à", "&auml;", "ä", "&ouml;", "ö", "&uuml;", "ü", "&ntilde;", "ñ", "&ccedil;", "ç", "&amp;", "&")
}
