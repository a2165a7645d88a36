package main

import (
	"math"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/ear"
)

func scores(odds []float64, wanted ...int) (out []scored) {
	for i, o := range odds {
		out = append(out, scored{o, slices.Contains(wanted, i)})
	}
	return out
}

func TestAveragePrecisionAndRecall(t *testing.T) {
	for _, c := range []struct {
		name                string
		in                  []scored
		want, at8, at5, at0 float64
		source              string
	}{
		{"documented example", scores([]float64{0.1, 0.4, 0.35, 0.8}, 2, 3), 0.5*1 + 0.5*2/3, 0.5, 1, 1, "scikit-learn's page on average_precision_score: y 0 0 1 1 gives 0.83; by hand 5/6"},
		{"perfect", scores([]float64{1, 2, 3}, 2, 1), 1, 1, 1, 1, "definition"},
		{"all equal", scores([]float64{1, 1, 1, 1}, 0), 0.25, 0, 0, 1, "by hand: one threshold, precision 1/4, recall 1"},
		{"last", scores([]float64{4, 3, 2, 1}, 3), 0.25, 0, 0, 1, "by hand: recall comes at the fourth"},
		{"precision comes back", scores([]float64{9, 8, 7, 6, 5, 4}, 1, 2, 3, 4), (1.0/2 + 2.0/3 + 3.0/4 + 4.0/5) / 4, 1, 1, 1, "by hand: precision is 0.8 at the fifth"},
	} {
		if got := averagePrecision(c.in); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %v, want %v (%s)", c.name, got, c.want, c.source)
		}
		for precision, want := range map[float64]float64{0.8: c.at8, 0.5: c.at5, 0: c.at0} {
			if got := recallAt(c.in, precision); got != want {
				t.Errorf("%s: recall at precision %v is %v, want %v (%s)", c.name, precision, got, want, c.source)
			}
		}
	}
}

func TestFigures(t *testing.T) {
	r := &rows{said: make([]float32, 4), target: []float32{1, 1, 1, 0}, instrument: []int{0, 1, 1, 1}}
	keep := []int{0, 1, 2, 3}
	// Among written notes the one that was missed is sought; its log odds are the lowest.
	if got := wantedFigures(ear.Written, r, keep, []float32{3, 2, 1, -1}); !strings.HasPrefix(got, "1 missed, average precision 1.000") {
		t.Error(got)
	}
	if got := wantedFigures(ear.Stranger, r, keep, []float32{3, 2, 1, 4}); !strings.HasPrefix(got, "3 began, average precision 0.639") { // (1/2+2/3+3/4)/3
		t.Error(got)
	}
	if got := wantedFigures(ear.Written, r, keep[:3], []float32{3, 2, 1, 4}); got != "nothing to find" {
		t.Error(got)
	}
	// A frame is 2.494 ms: 0, 1, 2 and 11 frames off.
	if got := onsetFigures(ear.Onset, r, keep, []float32{1, 2, 3, 11}); got != "median error 5.0 ms, 95 % below 27.4 ms, 25.00 % beyond 25 ms" {
		t.Error(got)
	}
	var out strings.Builder
	check(&out, ear.Written, r, keep, []float32{3, 2, 1, -1}, []string{"reed", "pipe", "absent"})
	if s := out.String(); !strings.Contains(s, "reed") || !strings.Contains(s, "pipe") || strings.Contains(s, "absent") {
		t.Errorf("a line for each instrument that was kept, no other:\n%s", s)
	}
}

func TestOneTakeOfTenIsKept(t *testing.T) {
	r := &rows{}
	for take := range 300 {
		r.take = append(r.take, take, take)
	}
	learn, keep := r.split()
	kinds, takes := map[int]bool{}, map[int]bool{}
	for _, i := range keep {
		kinds[r.take[i]%30], takes[r.take[i]] = true, true
	}
	if len(takes) != 30 || len(kinds) != 30 || len(learn) != 540 {
		t.Errorf("of 300 takes %d are kept, of %d of 30 kinds; %d rows to learn from", len(takes), len(kinds), len(learn))
	}
	for _, i := range learn {
		if takes[r.take[i]] {
			t.Fatalf("take %d is on both sides", r.take[i])
		}
	}
}
