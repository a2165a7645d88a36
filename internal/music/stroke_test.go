package music

import "testing"

func TestStroke(t *testing.T) {
	n := Note{Marks: []Mark{{Kind: "accent"}}}
	for _, s := range []Stroke{RestStroke, FreeStroke, RestStroke} {
		n.SetStroke(s)
		if n.Stroke() != s || len(n.Marks) != 2 || n.Marks[1].Kind != "accent" {
			t.Errorf("set %q: %q, marks %v", s, n.Stroke(), n.Marks)
		}
	}
	if n.SetStroke(NoStroke); n.Stroke() != NoStroke || len(n.Marks) != 1 {
		t.Errorf("taken away: %q, marks %v", n.Stroke(), n.Marks)
	}
	if (Note{Marks: []Mark{{Kind: "other-technical", Text: "tambora"}}}).Stroke() != NoStroke {
		t.Error("another sign is no stroke")
	}
}
