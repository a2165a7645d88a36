package hands

import (
	"math"
	"strings"
	"testing"

	"antiphon/internal/guitar"
	"antiphon/internal/hands/grip"
)

// TestReasonsAreTrue: for every option of a piece, what the accounts of the two ways differ by is the
// extra cost that is told, and the reason begins with the kind that differs most. The sum of the parts
// is the source.
func TestReasonsAreTrue(t *testing.T) {
	s := invented(80, 2)
	sounding, written := s.Sounding(), s.Written()
	var pick []int
	for i := range sounding {
		pick = append(pick, i)
	}
	v := solve(lay(s, sounding, written, pick, guitar.Standard(), nil), grip.Learned(), Options{})
	checked := 0
	for k, list := range v.options {
		for _, op := range list {
			if op.Stop == v.stops[k] {
				continue
			}
			d := v.lattice.Detour(v.best, op)
			was, is := v.lattice.Account(d.From, v.best[d.From:d.To]), v.lattice.Account(d.From, d.Edges)
			sum, largest := 0.0, grip.Kind(0)
			for i := range was {
				sum += was[i] - is[i]
				if math.Abs(was[i]-is[i]) > math.Abs(was[largest]-is[largest]) {
					largest = grip.Kind(i)
				}
			}
			if extra := v.lattice.Score() - op.Score; math.Abs(sum-extra) > 1e-3*(1+extra) {
				t.Errorf("note %d %v: the parts differ by %.4f, the whole by %.4f", k, op.Stop, sum, extra)
			}
			reason := v.reason(d)
			worse, better := words(largest)
			want := "costs " + worse
			if is[largest] > was[largest] {
				want = "gives " + better
			}
			if math.Abs(is[largest]-was[largest]) > worthSaying && !strings.HasPrefix(reason, want) {
				t.Errorf("note %d %v: %q does not begin with %q", k, op.Stop, reason, want)
			}
			checked++
		}
	}
	if checked < 100 {
		t.Errorf("only %d reasons were checked", checked)
	}
}
