package listen

import (
	"slices"
	"strings"
	"testing"

	"antiphon/internal/notation"
	"antiphon/internal/studio"
)

// abc is a work with a score from ABC notation.
func abc(t *testing.T, title, tune string) studio.Work {
	t.Helper()
	s, _, err := notation.Read(strings.NewReader(tune), "tune.abc", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := notation.WriteMusicXML(&b, s); err != nil {
		t.Fatal(err)
	}
	return studio.Work{ID: "w", Title: title, Score: b.String()}
}

// TestDemands: open strings ask for nothing, a melody with high G sharps for the fourth finger, full chords for chords; what
// is no score is said to be none.
func TestDemands(t *testing.T) {
	open := demandOf(abc(t, "Open strings", "X:1\nT:open\nM:4/4\nL:1/4\nK:C\nE,, A,, D, G,|B, E B, G,|E,, A,, D, G,|B, E B, G,|]\n"))
	if slices.Contains(open.Skills, "fourth finger") || slices.Contains(open.Skills, "higher positions") || open.Bars != 4 || open.LastBar != "4" || open.Strain {
		t.Errorf("open strings: %+v", open)
	}
	fourth := demandOf(abc(t, "Fourth finger", "X:1\nT:four\nM:4/4\nL:1/4\nK:E\n^G E ^G E|^G ^F ^G E|^G E ^G E|^G ^F ^G E|]\n"))
	if !slices.Contains(fourth.Skills, "fourth finger") {
		t.Errorf("with G sharps: %+v, open strings %+v", fourth, open)
	}
	chords := demandOf(abc(t, "Chords", "X:1\nT:chords\nM:4/4\nL:1/4\nK:C\n[C,E,G,CE] z z z|[G,,B,,D,G,B,G] z z z|[C,E,G,CE] z z z|[G,,B,,D,G,B,G] z z z|]\n"))
	if !slices.Contains(chords.Skills, "chords") {
		t.Errorf("chords: %+v", chords)
	}
	high := demandOf(abc(t, "High", "X:1\nT:high\nM:4/4\nL:1/4\nK:C\nz4|E B, G, E|^G E ^G E|^G ^F ^G E|E E E E|^G E E E|]\n"))
	if at := high.Where["fourth finger"]; !slices.Equal(at, []int{2, 3, 5, 5}) || high.Numbers != nil {
		t.Errorf("where the fourth finger is needed: %v of %+v", at, high)
	}
	if bad := demandOf(studio.Work{Title: "x", Score: "no score"}); bad.Why == "" || bad.Load != 0 {
		t.Errorf("no score: %+v", bad)
	}
}
