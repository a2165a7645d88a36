package notation

import (
	"fmt"
	"strings"

	"antiphon/internal/music"
)

func (m *measure) attributes(n *node) {
	if k := n.kid("divisions"); k != nil {
		m.divisions(k)
	}
	if v, ok := whole(n.at("staves"), 100); ok && v > m.part.Staves {
		m.part.Staves = v
	}
	for _, k := range n.kids {
		a := music.Attributes{Bar: m.bar, At: m.cursor, Staff: min(max(wholeOr(k.get("number"), 100, 0), 0), 100)}
		switch k.name {
		case "key":
			a.Key = m.key(k)
		case "time":
			if a.Time = m.time(k); a.Time != nil {
				m.st.time = *a.Time
				if b := &m.r.s.Bars[m.bar]; m.cursor.IsZero() && b.Time.Parts == nil {
					b.Time = *a.Time
				}
			}
		case "clef":
			a.Clef = m.clef(k)
		case "transpose":
			t := music.Transpose{Diatonic: wholeOr(k.at("diatonic"), 100, 0), Chromatic: wholeOr(k.at("chromatic"), 100, 0),
				Octave: wholeOr(k.at("octave-change"), 8, 0), Double: k.has("double")}
			if !k.has("diatonic") && t.Chromatic != 0 { // spell it as the nearest interval
				t.Diatonic = nearestSteps(t.Chromatic)
			}
			a.Transpose = &t
		case "staff-details":
			m.staffDetails(k, &a)
		case "measure-style":
			m.simile(k)
			continue
		default:
			continue
		}
		if a.Key == nil && a.Time == nil && a.Clef == nil && a.Transpose == nil && a.Lines == 0 && a.Tuning == nil && a.Capo == 0 {
			continue
		}
		if m.r.attributes++; m.r.attributes > maxAttributes {
			m.forgive(k, "there are more changes of key, time and clef than can be kept")
			return
		}
		m.part.Attributes = append(m.part.Attributes, a)
	}
}

// nearestSteps is the number of steps in an interval of so many semitones, as it is commonly spelled.
func nearestSteps(semitones int) int {
	sign := 1
	if semitones < 0 {
		sign, semitones = -1, -semitones
	}
	return sign * (7*(semitones/12) + [12]int{0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6}[semitones%12])
}

func (m *measure) divisions(k *node) {
	num, den, ok := decimal(k.text)
	if !ok || num <= 0 || num > maxDivisions*den {
		m.forgive(k, fmt.Sprintf("divisions of a quarter are %q; the last good value was kept", printable(clip(k.text, 20))))
		return
	}
	m.st.divNum, m.st.divDen = num, den
}

func (m *measure) key(k *node) *music.Key {
	f, ok := whole(k.at("fifths"), 7)
	if !ok {
		m.forgive(k, "a key signature is not one of fifths; it was left out")
		return nil
	}
	return &music.Key{Fifths: f, Mode: clip(k.at("mode"), maxVoiceName)}
}

func (m *measure) time(k *node) *music.Time {
	if k.has("senza-misura") {
		return &music.Time{Senza: true}
	}
	t := music.Time{Symbol: oneOf(k.get("symbol"), "common", "cut")}
	var p music.TimePart
	for _, c := range k.kids {
		switch c.name {
		case "beats":
			p.Beats = nil
			for _, f := range strings.FieldsFunc(c.text, func(r rune) bool { return r == '+' || r == ' ' }) {
				if v, ok := whole(f, 512); ok && v > 0 && len(p.Beats) < 32 {
					p.Beats = append(p.Beats, v)
				}
			}
		case "beat-type":
			v, ok := whole(c.text, 1024)
			if !ok || v < 1 || v&(v-1) != 0 || len(p.Beats) == 0 || len(t.Parts) >= 16 {
				m.forgive(c, "a time signature cannot be read; it was left out")
				return nil
			}
			p.Unit = v
			t.Parts = append(t.Parts, p)
			p = music.TimePart{}
		}
	}
	if len(t.Parts) == 0 {
		m.forgive(k, "a time signature cannot be read; it was left out")
		return nil
	}
	return &t
}

func (m *measure) clef(k *node) *music.Clef {
	sign := strings.TrimSpace(k.at("sign"))
	for _, known := range []string{"G", "F", "C", "percussion", "TAB", "jianpu", "none"} {
		if strings.EqualFold(sign, known) {
			return &music.Clef{Sign: known, Line: min(max(wholeOr(k.at("line"), 20, 0), 0), 20), Octave: min(max(wholeOr(k.at("clef-octave-change"), 4, 0), -4), 4)}
		}
	}
	m.forgive(k, fmt.Sprintf("clef %q is unknown; it was left out", printable(clip(sign, 20))))
	return nil
}

func (m *measure) staffDetails(k *node, a *music.Attributes) {
	a.Lines = min(max(wholeOr(k.at("staff-lines"), 20, 0), 0), 20)
	a.Capo = min(max(wholeOr(k.at("capo"), 24, 0), 0), 24)
	tuning := map[int]music.Pitch{}
	top := 0
	for _, t := range k.kids {
		if t.name != "staff-tuning" {
			continue
		}
		line, ok := whole(t.get("line"), 20)
		step := strings.ToUpper(t.at("tuning-step"))
		octave, okOctave := whole(t.at("tuning-octave"), 9)
		if !ok || line < 1 || len(step) != 1 || step[0] < 'A' || step[0] > 'G' || !okOctave || octave < 0 {
			m.forgive(t, "the tuning of a string cannot be read")
			return
		}
		tuning[line] = music.Pitch{Step: step[0], Alter: min(max(wholeOr(t.at("tuning-alter"), 2, 0), -2), 2), Octave: octave}
		top = max(top, line)
	}
	if top > 0 && len(tuning) == top {
		for line := 1; line <= top; line++ {
			a.Tuning = append(a.Tuning, tuning[line])
		}
	}
}
