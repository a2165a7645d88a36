package notation

import (
	"fmt"
	"strconv"
	"strings"

	"antiphon/internal/music"
)

// event writes one note, chord, rest or gap.
func (m *meiWriter) event(st *meiStaff, bar int, e *voiceEvent) {
	p := &m.s.Parts[st.part]
	length := []string{"dur", meiDur[e.typ], "dots", positive(e.dots)}
	if len(e.notes) == 0 {
		m.empty("space", length...)
		return
	}
	if st.tab {
		m.tabEvent(st, e, length)
		return
	}
	first := &p.Notes[e.notes[0]]
	if e.tied == "" {
		m.markEvents(st, bar, e)
	}
	if first.Rest {
		name, id := "rest", m.restID(st, e.notes[0])
		if first.Hidden {
			name, id = "space", ""
		}
		if id != "" {
			id += e.tied
		}
		attrs := append([]string{"xml:id", id}, length...)
		if first.Pitch.Step != 0 {
			attrs = append(attrs, "ploc", stepName(first.Pitch.Step), "oloc", strconv.Itoa(first.Pitch.Octave))
		}
		m.empty(name, attrs...)
		return
	}
	if e.next != "" {
		for _, j := range e.notes {
			id := m.noteID(st, j)
			m.add(bar, "tie", "", "startid", "#"+id+e.tied, "endid", "#"+id+e.next)
			m.pieces[id] = e.next
		}
	}
	shared := length
	if e.grace {
		kind := "acc"
		if first.Slash {
			kind = "unacc"
		}
		shared = append(shared, "grace", kind)
		if first.Slash {
			shared = append(shared, "stem.mod", "1slash")
		}
	}
	if first.Cue {
		shared = append(shared, "cue", "true")
	}
	switch first.Stem {
	case "up", "down":
		shared = append(shared, "stem.dir", first.Stem)
	case "none":
		shared = append(shared, "stem.visible", "false")
	}
	if t := first.Tremolo; (t.Kind == "single" || t.Kind == "unmeasured") && t.Beams > 0 {
		shared = append(shared, "stem.mod", strconv.Itoa(min(t.Beams, 6))+"slash")
	}
	chord := len(e.notes) > 1
	if chord {
		m.begin("chord", append([]string{"xml:id", "c" + m.noteID(st, e.notes[0]) + e.tied}, shared...)...)
		shared = nil
		m.articulations(p, e)
		m.verses(p, e)
	}
	for k, j := range e.notes {
		m.note(st, j, e, shared, !chord && k == 0)
	}
	if chord {
		m.end()
	}
}

func (m *meiWriter) note(st *meiStaff, j int, e *voiceEvent, shared []string, alone bool) {
	p := &m.s.Parts[st.part]
	n := &p.Notes[j]
	attrs := append([]string{"xml:id", m.noteID(st, j) + e.tied}, shared...)
	step, octave := n.Pitch.Step, n.Pitch.Octave
	if step == 0 {
		step, octave = 'B', 4
	}
	shift := m.octaveShift(st, n)
	attrs = append(attrs, "pname", stepName(step), "oct", strconv.Itoa(octave-shift))
	if shift != 0 {
		attrs = append(attrs, "oct.ges", strconv.Itoa(octave))
	}
	if n.Hidden {
		attrs = append(attrs, "visible", "false")
	}
	attrs = append(attrs, "head.shape", headShape(n))
	m.begin("note", attrs...)
	sign := st.accidentals[j]
	if e.tied != "" {
		sign = ""
	}
	switch {
	case sign != "":
		enclose := ""
		if n.Accidental.Parens || n.Accidental.Cautionary {
			enclose = "paren"
		}
		m.empty("accid", "accid", sign, "enclose", enclose)
	case n.Pitch.Alter != 0:
		m.empty("accid", "accid.ges", accidSign(n.Pitch.Alter))
	}
	if alone {
		m.articulations(p, e)
		m.verses(p, e)
	}
	m.end()
}

func headShape(n *music.Note) string {
	switch n.Notehead {
	case "x", "cross":
		return "x"
	case "diamond":
		return "diamond"
	case "slash":
		return "slash"
	case "square":
		return "square"
	case "triangle":
		return "isotriangle"
	}
	if n.Harmonic.Artificial {
		return "diamond"
	}
	return ""
}

// noteID is the id of a written note; one that does not sound gets its place as an id.
func (m *meiWriter) noteID(st *meiStaff, j int) string {
	if id := m.ids[music.NoteRef{Part: st.part, Note: j}]; id != "" {
		return id
	}
	return fmt.Sprintf("u%d-%d", st.part+1, j+1)
}

func (m *meiWriter) restID(st *meiStaff, j int) string {
	return fmt.Sprintf("r%d-%d", st.part+1, j+1)
}

// meiArtic are MEI's names of the signs that it counts as articulations.
var meiArtic = map[string]string{
	"accent": "acc", "strong-accent": "marc", "soft-accent": "acc-soft", "staccato": "stacc", "tenuto": "ten", "staccatissimo": "stacciss",
	"spiccato": "spicc", "detached-legato": "ten-stacc", "stress": "stress", "unstress": "unstress", "up-bow": "upbow", "down-bow": "dnbow",
	"open-string": "open", "snap-pizzicato": "snap", "stopped": "stop", "harmon-closed": "stop",
}

func (m *meiWriter) articulations(p *music.Part, e *voiceEvent) {
	if e.tied != "" {
		return
	}
	seen := map[string]bool{}
	for _, j := range e.notes {
		n := &p.Notes[j]
		for _, k := range n.Marks {
			if name := meiArtic[k.Kind]; name != "" && !seen[name] {
				seen[name] = true
				m.empty("artic", "artic", name, "place", k.Placed)
			}
		}
		if n.Harmonic.Present && !n.Harmonic.Artificial && !seen["harm"] {
			seen["harm"] = true
			m.empty("artic", "artic", "harm")
		}
	}
}

func (m *meiWriter) verses(p *music.Part, e *voiceEvent) {
	if e.tied != "" {
		return
	}
	for _, j := range e.notes {
		for i, l := range p.Notes[j].Lyrics {
			if l.Text == "" {
				continue
			}
			m.begin("verse", "n", or(verseNumber(l.Number), strconv.Itoa(i+1)))
			con, pos := "", ""
			switch l.Syllabic {
			case "begin":
				con, pos = "d", "i"
			case "middle":
				con, pos = "d", "m"
			case "end":
				pos = "t"
			}
			if l.Extend {
				con = "u"
			}
			m.leaf("syl", l.Text, "con", con, "wordpos", pos)
			m.end()
		}
	}
}

func verseNumber(s string) string {
	if n, err := strconv.Atoi(strings.TrimSpace(s)); err == nil && n > 0 && n < 20 {
		return strconv.Itoa(n)
	}
	return ""
}

// meiDur are MEI's names of the note lengths.
var meiDur = map[string]string{
	"maxima": "maxima", "long": "long", "breve": "breve", "whole": "1", "half": "2", "quarter": "4", "eighth": "8", "16th": "16",
	"32nd": "32", "64th": "64", "128th": "128", "256th": "256", "512th": "512", "1024th": "1024",
}

// octaveShift is how many octaves a note is drawn below where it is stated: it stands under an 8va.
func (m *meiWriter) octaveShift(st *meiStaff, n *music.Note) int {
	shift := 0
	for _, d := range m.octaves[st.part] {
		if n.Start.Less(d.At) || (d.Staff != 0 && d.Staff != st.staff) {
			continue
		}
		by := max((d.Size-1)/7, 1)
		switch d.Text {
		case "down": // the notes are written lower than they sound: an 8va
			shift = by
		case "up":
			shift = -by
		case "stop":
			shift = 0
		}
	}
	return shift
}

// mostOctaves of a part that are looked at; a score with more of them is a mistake or an attack.
const mostOctaves = 200

func octaveShifts(s *music.Score) [][]*music.Direction {
	out := make([][]*music.Direction, len(s.Parts))
	for i := range s.Parts {
		for j := range s.Parts[i].Directions {
			if d := &s.Parts[i].Directions[j]; d.Kind == music.OctaveShift && len(out[i]) < mostOctaves {
				out[i] = append(out[i], d)
			}
		}
	}
	return out
}
