package compare

import "testing"

// TestOnlyTheAddedIsOther: what is the same in both takes is said once.
func TestOnlyTheAddedIsOther(t *testing.T) {
	here := 1.0
	for _, c := range []struct {
		a, b   count
		change Change
		want   string
	}{
		{count{extra: 1}, count{}, Better, "Bar 9: all notes right; nothing added, 1 added before."},
		{count{missed: 1}, count{wrong: 1, extra: 2}, NotYet, "Bar 9: 1 note not right; 2 added, nothing added before."},
		{count{missed: 2}, count{extra: 1}, Better, "Bar 9: all notes right and 1 added, 2 notes not right before."},
	} {
		got := barSay(Bar{Bar: "9", AS: &here, BS: &here, Change: c.change, a: c.a, b: c.b}, &side{}, &side{})
		if got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
