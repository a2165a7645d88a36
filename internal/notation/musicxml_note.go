package notation

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"antiphon/internal/music"
)

func (m *measure) note(n *node) error {
	if m.r.notes++; m.r.notes > m.r.lim.Notes {
		return tooLarge("it has more than %d notes", m.r.lim.Notes)
	}
	d := music.Note{Bar: m.bar, Start: m.cursor, Voice: clip(or(n.at("voice"), "1"), maxVoiceName), Staff: 1}
	if v, ok := whole(n.at("staff"), 100); ok && v > 0 {
		d.Staff = v
	}
	d.Hidden = n.get("print-object") == "no"
	d.Cue = n.has("cue")
	if g := n.kid("grace"); g != nil {
		d.Grace, d.Slash = true, g.get("slash") == "yes"
	}
	d.Chord = n.has("chord")
	if d.Chord && !m.noted {
		m.forgive(n, "a chord has no first note; it was begun here")
		d.Chord = false
	}
	m.typeOf(n, &d)
	if err := m.pitchOf(n, &d); err != nil {
		return err
	}
	if !d.Grace {
		var err error
		if d.Duration, err = m.lengthOf(n, &d); err != nil {
			return err
		}
		switch {
		case !d.Duration.IsZero():
		case d.Rest:
			m.forgive(n, "a rest lasts no time; it was left out")
			return nil
		default:
			m.forgive(n, "a note lasts no time; it was taken as a grace note")
			d.Grace = true
		}
	}
	for _, t := range n.kids {
		switch t.name {
		case "tie":
			m.tie(t.get("type"), &d)
		case "accidental":
			d.Accidental = music.Accidental{Name: clip(t.text, maxVoiceName), Cautionary: t.get("cautionary") == "yes",
				Editorial: t.get("editorial") == "yes", Parens: t.get("parentheses") == "yes"}
		case "stem":
			d.Stem = oneOf(t.text, "up", "down", "none", "double")
		case "notehead":
			d.Notehead = clip(t.text, maxVoiceName)
		case "beam":
			if v := oneOf(t.text, "begin", "continue", "end", "forward hook", "backward hook"); v != "" {
				d.Beams = append(d.Beams, music.Beam{Number: min(max(wholeOr(t.get("number"), 8, 1), 1), 8), Value: v})
			}
		case "notations":
			m.notations(t, &d)
		case "lyric":
			m.lyric(t, &d)
		}
	}
	inGroups(&d)
	if d.Chord {
		d.Start = m.chordAt
		m.part.Notes = append(m.part.Notes, d)
		if end := d.Start.Add(d.Duration); m.reached.Less(end) {
			m.reached = end // a longer note in a chord
		}
		return nil
	}
	m.chordAt, m.noted = m.cursor, true
	m.part.Notes = append(m.part.Notes, d)
	if d.Grace {
		return nil
	}
	return m.advance(n, d.Duration)
}

func (m *measure) typeOf(n *node, d *music.Note) {
	d.Type = noteType(n.at("type"))
	for _, k := range n.kids {
		if k.name == "dot" && d.Dots < 8 {
			d.Dots++
		}
	}
	if tm := n.kid("time-modification"); tm != nil {
		a, okA := whole(tm.at("actual-notes"), 1000)
		b, okB := whole(tm.at("normal-notes"), 1000)
		if !okA || !okB || a < 1 || b < 1 {
			m.forgive(tm, "a tuplet has no ratio")
			return
		}
		d.Ratio = music.Ratio{Actual: a, Normal: b, Type: noteType(tm.at("normal-type"))}
		for _, k := range tm.kids {
			if k.name == "normal-dot" && d.Ratio.Type != "" && d.Ratio.Dots < 8 {
				d.Ratio.Dots++
			}
		}
	}
}

// noteLengths are the standard's note types with their lengths in 1024ths of a whole note.
var noteLengths = [...]struct {
	name string
	n    int64
}{
	{"1024th", 1}, {"512th", 2}, {"256th", 4}, {"128th", 8}, {"64th", 16}, {"32nd", 32}, {"16th", 64}, {"eighth", 128},
	{"quarter", 256}, {"half", 512}, {"whole", 1024}, {"breve", 2048}, {"long", 4096}, {"maxima", 8192},
}

func noteType(s string) string {
	if _, ok := typeLength(s); ok {
		return s
	}
	return ""
}

// typeLength is the length of an undotted note of a type.
func typeLength(name string) (music.Beats, bool) {
	for _, l := range noteLengths {
		if l.name == name {
			return music.Quarters(l.n, 256), true
		}
	}
	return music.Beats{}, false
}

// dotted adds dots to a length: n dots make it 2 - 1/2ⁿ times as long.
func dotted(b music.Beats, dots int) music.Beats {
	return b.Mul(int64(1)<<(dots+1)-1, int64(1)<<dots)
}

// shownLength is the length of a note as it looks.
func shownLength(d *music.Note) (music.Beats, bool) {
	b, ok := typeLength(d.Type)
	if !ok {
		return b, false
	}
	b = dotted(b, d.Dots)
	if d.Ratio.Actual > 0 {
		b = b.Mul(int64(d.Ratio.Normal), int64(d.Ratio.Actual))
	}
	return b, true
}

func (m *measure) lengthOf(n *node, d *music.Note) (music.Beats, error) {
	if n.has("duration") {
		return m.duration(n)
	}
	if b, ok := shownLength(d); ok {
		m.forgive(n, "a note has no duration; it was taken from how it looks")
		num, den := b.Fraction()
		return m.beats(n, num*m.st.divNum, den*m.st.divDen)
	}
	if d.Rest {
		m.forgive(n, "a rest has no duration; it was taken to fill the bar")
		d.WholeBar = true
		return m.r.exact(m.st.time.Length()), nil
	}
	m.forgive(n, "a note has no duration; it was taken as 0")
	return music.Beats{}, nil
}

func (m *measure) pitchOf(n *node, d *music.Note) error {
	if rest := n.kid("rest"); rest != nil {
		d.Rest, d.WholeBar = true, rest.get("measure") == "yes"
		d.Pitch = displayPitch(rest)
		return nil
	}
	if u := n.kid("unpitched"); u != nil {
		d.Unpitched, d.Pitch = true, displayPitch(u)
		return nil
	}
	p := n.kid("pitch")
	if p == nil {
		m.forgive(n, "a note has no pitch; it was taken as a rest")
		d.Rest = true
		return nil
	}
	step := strings.ToUpper(p.at("step"))
	octave, ok := whole(p.at("octave"), 12)
	if len(step) != 1 || step[0] < 'A' || step[0] > 'G' || !ok || octave < -1 || octave > 9 {
		return m.wrong(p, fmt.Sprintf("a note has no pitch that exists (step %q, octave %q)", printable(clip(p.at("step"), 20)), printable(clip(p.at("octave"), 20))))
	}
	d.Pitch = music.Pitch{Step: step[0], Octave: octave}
	if a := p.at("alter"); a != "" {
		f, err := strconv.ParseFloat(a, 64)
		if err != nil || math.IsNaN(f) || f < -3 || f > 3 {
			return m.wrong(p, fmt.Sprintf("a note is altered by %q semitones", printable(clip(a, 20))))
		}
		d.Pitch.Alter = int(math.Round(f))
		if f != math.Trunc(f) {
			m.forgive(p, "a quarter tone was rounded to a semitone")
		}
	}
	return nil
}

// displayPitch is where a rest or an unpitched note is drawn.
func displayPitch(n *node) music.Pitch {
	step := strings.ToUpper(n.at("display-step"))
	octave, ok := whole(n.at("display-octave"), 12)
	if len(step) != 1 || step[0] < 'A' || step[0] > 'G' || !ok || octave < 0 || octave > 9 {
		return music.Pitch{}
	}
	return music.Pitch{Step: step[0], Octave: octave}
}

// tie takes a <tie> or a <tied>: writers forget one or the other.
func (m *measure) tie(kind string, d *music.Note) {
	switch kind {
	case "start":
		d.TieStart = true
	case "stop":
		d.TieStop = true
	case "continue":
		d.TieStart, d.TieStop = true, true
	case "let-ring":
		d.LetRing = true
	}
}

func (m *measure) lyric(n *node, d *music.Note) {
	if len(d.Lyrics) >= 20 {
		return
	}
	l := music.Lyric{Number: clip(n.get("number"), maxVoiceName), Syllabic: oneOf(n.at("syllabic"), "single", "begin", "end", "middle"), Extend: n.has("extend")}
	for _, k := range n.kids {
		switch k.name {
		case "text":
			l.Text += k.text
		case "elision":
			l.Text += or(k.text, "‿")
		}
	}
	l.Text = clip(l.Text, maxText)
	if l.Text != "" || l.Extend {
		d.Lyrics = append(d.Lyrics, l)
	}
}

func oneOf(s string, allowed ...string) string {
	for _, a := range allowed {
		if s == a {
			return s
		}
	}
	return ""
}
