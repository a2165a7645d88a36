package notation

import (
	"fmt"
	"strings"

	"antiphon/internal/music"
)

// shorthand gives the decorations that one letter stands for (ABC 2.1, 4.14).
func shorthand(c byte) (string, bool) {
	switch c {
	case '.':
		return "staccato", true
	case '~':
		return "roll", true
	case 'H':
		return "fermata", true
	case 'L':
		return "accent", true
	case 'M':
		return "lowermordent", true
	case 'O':
		return "coda", true
	case 'P':
		return "uppermordent", true
	case 'S':
		return "segno", true
	case 'T':
		return "trill", true
	case 'u':
		return "upbow", true
	case 'v':
		return "downbow", true
	}
	return "", false
}

// abcMarks are decorations that are one sign of MusicXML on the next note.
var abcMarks = map[string]music.Mark{
	"staccato": {Kind: "staccato"}, "accent": {Kind: "accent"}, ">": {Kind: "accent"}, "emphasis": {Kind: "accent"}, "tenuto": {Kind: "tenuto"},
	"marcato": {Kind: "strong-accent", Text: "up"}, "^": {Kind: "strong-accent", Text: "up"}, "wedge": {Kind: "staccatissimo"}, "breath": {Kind: "breath-mark", Text: "comma"},
	"fermata": {Kind: "fermata", Text: "upright"}, "invertedfermata": {Kind: "fermata", Text: "inverted"},
	"trill": {Kind: "trill-mark"}, "lowermordent": {Kind: "mordent"}, "mordent": {Kind: "mordent"}, "uppermordent": {Kind: "inverted-mordent"},
	"pralltriller": {Kind: "inverted-mordent"}, "turn": {Kind: "turn"}, "invertedturn": {Kind: "inverted-turn"}, "roll": {Kind: "other-ornament", Text: "roll"},
	"upbow": {Kind: "up-bow"}, "downbow": {Kind: "down-bow"}, "open": {Kind: "open-string"}, "thumb": {Kind: "thumb-position"}, "snap": {Kind: "snap-pizzicato"},
	"plus": {Kind: "stopped"}, "+": {Kind: "stopped"}, "slide": {Kind: "scoop"},
}

// decorate reads a decoration by its name: a sign for the next note, or a direction at this place.
func (v *abcVoice) decorate(name string, line int) {
	if m, ok := abcMarks[name]; ok {
		if len(v.next.marks) < maxMarks {
			v.next.marks = append(v.next.marks, m)
		}
		return
	}
	b := &v.bars[v.bar()].Bar
	switch {
	case len(name) == 1 && name[0] >= '0' && name[0] <= '5':
		if len(v.next.fingers) < maxMarks {
			v.next.fingers = append(v.next.fingers, music.Fingering{Text: name})
		}
	case dynamicMarks[name]:
		v.direct(music.Direction{Kind: music.Dynamic, Text: name, Placed: "below"})
	case name == "crescendo(" || name == "<(":
		v.direct(music.Direction{Kind: music.Wedge, Text: "crescendo", Number: 1, Placed: "below"})
	case name == "diminuendo(" || name == ">(":
		v.direct(music.Direction{Kind: music.Wedge, Text: "diminuendo", Number: 1, Placed: "below"})
	case name == "crescendo)" || name == "<)" || name == "diminuendo)" || name == ">)":
		v.direct(music.Direction{Kind: music.Wedge, Text: "stop", Number: 1, Placed: "below"})
	case name == "arpeggio":
		v.next.arpeggio = true
	case name == "segno":
		b.Segno = "segno"
		v.direct(music.Direction{Kind: music.SegnoSign, Placed: "above"})
	case name == "coda":
		v.direct(music.Direction{Kind: music.CodaSign, Placed: "above"})
	case name == "fine":
		b.Fine = true
		v.direct(music.Direction{Kind: music.Words, Text: "Fine", Placed: "above"})
	case name == "D.C.", name == "dacapo":
		v.jumps(b, "D.C.")
		b.DaCapo = true
	case name == "D.S.":
		v.jumps(b, "D.S.")
		b.DalSegno = "segno"
	case name == "dacoda":
		v.jumps(b, "To Coda")
		b.ToCoda = "coda"
	case strings.HasPrefix(name, "D.C.al"), strings.HasPrefix(name, "D.S.al"):
		v.jumps(b, name[:4]+" "+name[4:])
		if name[2] == 'C' {
			b.DaCapo = true
		} else {
			b.DalSegno = "segno"
		}
	default:
		v.forgive(line, fmt.Sprintf("decoration %q is unknown; it was left out", printable(clip(name, 40))))
	}
}

func (v *abcVoice) jumps(b *music.Bar, words string) {
	v.direct(music.Direction{Kind: music.Words, Text: words, Placed: "above"})
}

// onto puts what stood before a note on it: fingers one by one on the notes of a chord, the rest on
// the first, a roll on all.
func (a *ahead) onto(v *abcVoice, notes []music.Note) {
	head := &notes[0]
	head.Marks = append(head.Marks, a.marks...)
	for i, f := range a.fingers {
		k := min(i, len(notes)-1)
		notes[k].Fingers = append(notes[k].Fingers, f)
	}
	if a.arpeggio {
		for i := range notes {
			notes[i].Arpeggio = music.Arpeggio{Kind: "arpeggiate", Number: 1}
		}
	}
	for range min(a.slurs, 16-min(v.slurs, 16)) {
		v.slurs++
		head.Spans = append(head.Spans, music.Span{Kind: "slur", Role: "start", Number: min(v.slurs, 16)})
	}
	for i := range notes {
		inGroups(&notes[i])
	}
	*a = ahead{}
}
