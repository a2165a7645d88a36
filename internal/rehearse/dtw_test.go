package rehearse

import (
	"math"
	"testing"
)

// A baseline that cannot follow a plain take would flatter whatever stands beside it.
func TestPlainAlignerFollowsAPlainTake(t *testing.T) {
	x, p, perf := LongTake(30, 90, 22050, 5)
	onsets, notes, err := ChromaDTW(x, 22050, p)
	if err != nil {
		t.Fatal(err)
	}
	m := JudgePlaces(Truth{Notes: perf.Notes, DurationS: 30}, onsets, notes)
	if got := Quantile(m.OnsetErrS, 0.5); math.IsNaN(got) || got > 0.04 {
		t.Errorf("median error %.0f ms, want at most two frames of 20 ms", 1000*got)
	}
	if share := float64(len(m.OnsetErrS)) / float64(m.AlignedOf); share < 0.95 {
		t.Errorf("%.0f %% of the notes placed within 0.3 s", 100*share)
	}
}

func TestWarpFindsAShift(t *testing.T) {
	frame := func(c int) (f [24]float64) { f[c] = 1; return f }
	a := [][24]float64{frame(0), frame(1), frame(2), frame(3)}
	b := [][24]float64{frame(0), frame(0), frame(0), frame(1), frame(2), frame(3)}
	path := warp(a, b)
	for i, want := range []int{0, 3, 4, 5} {
		if i > 0 && path[i] != want {
			t.Errorf("frame %d meets %d, want %d", i, path[i], want)
		}
	}
}
