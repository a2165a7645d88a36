package notation

import (
	"fmt"
	"strings"

	"antiphon/internal/music"
)

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
	if len(v.tempos) >= maxAttributes/10 {
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
