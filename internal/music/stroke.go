package music

import "slices"

// Stroke is how a finger of the right hand leaves the string. It is kept as a technical sign with a
// text, since MusicXML has no sign of its own for it and <other-technical> goes through every reader.
type Stroke string

const (
	NoStroke   Stroke = ""
	RestStroke Stroke = "rest stroke" // the finger comes to rest on the next string
	FreeStroke Stroke = "free stroke" // it passes over the next string
)

// Stroke is what the note's signs say of it.
func (n Note) Stroke() Stroke {
	for _, m := range n.Marks {
		if m.Kind == "other-technical" && (m.Text == string(RestStroke) || m.Text == string(FreeStroke)) {
			return Stroke(m.Text)
		}
	}
	return NoStroke
}

// SetStroke puts the sign of s in the place of any other stroke's; NoStroke takes it away.
// It stands before the articulations and the fermata, as files have it.
func (n *Note) SetStroke(s Stroke) {
	n.Marks = slices.DeleteFunc(n.Marks, func(m Mark) bool {
		return m.Kind == "other-technical" && (m.Text == string(RestStroke) || m.Text == string(FreeStroke))
	})
	if s != NoStroke {
		n.Marks = slices.Insert(n.Marks, 0, Mark{Kind: "other-technical", Text: string(s)})
	}
	if len(n.Marks) == 0 {
		n.Marks = nil
	}
}
