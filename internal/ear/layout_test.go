package ear

import (
	"context"
	"slices"
	"testing"

	"antiphon/internal/media"
	"antiphon/internal/music"
)

// Two bars are written to be played twice, two more follow: with the repeat taken, left out, and broken off.
func TestAWrittenRepeatThatIsTakenIsWhole(t *testing.T) {
	score := scale(line...)
	score.Bars[1].RepeatEnd = 2
	for name, c := range map[string]struct {
		played []int
		passes int
		whole  bool
	}{
		"taken":               {slices.Concat(line[:8], line), 2, true},
		"left out":            {line, 1, true},
		"taken, broken off":   {slices.Concat(line[:8], line[:11]), 2, false},
		"taken, begun late":   {slices.Concat(line[4:8], line), 2, false},
		"taken, then started": {slices.Concat(line[:8], line[:8]), 2, false},
	} {
		h, err := Hear(context.Background(), take(440, c.played), score, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(h.Passes) != c.passes {
			t.Errorf("%s: passes %+v, want %d", name, h.Passes, c.passes)
			continue
		}
		for _, p := range h.Passes {
			if p.Complete != c.whole && name != "taken, begun late" || name == "taken, begun late" && p.N == 1 && p.Complete {
				t.Errorf("%s: pass %d whole is %v, want %v", name, p.N, p.Complete, c.whole)
			}
		}
	}
}

// The same bar stands near and far: who goes back is taken to go back to the nearer.
func TestOfEqualPlacesTheNearerIsTaken(t *testing.T) {
	bar := []int{62, 65, 69, 65}
	long := slices.Concat(bar, line, bar, []int{72, 71, 67, 64, 60, 64, 67, 72})
	played := slices.Concat(long[:26], bar) // and there the take ends
	h, err := Hear(context.Background(), takeWithStop(played, 26), scale(long...), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(h.Jumps) != 1 || h.Jumps[0].Kind != Restart || h.Jumps[0].ToBar != "6" {
		t.Errorf("jumps %+v, want one back to bar 6", h.Jumps)
	}
}

// Three wrong notes in one are three wrong notes.
func TestThreeWrongNotesAreNoRestart(t *testing.T) {
	for _, from := range []int{5, 8, 10} {
		played := slices.Clone(line)
		for i := from; i < from+3; i++ {
			played[i] += []int{1, -2, 2}[i-from]
		}
		h, err := Hear(context.Background(), take(440, played), scale(line...), Options{})
		if err != nil {
			t.Fatal(err)
		}
		wrong := 0
		for _, p := range h.Played {
			if p.Verdict == Wrong {
				wrong++
			}
		}
		if len(h.Jumps) != 0 || wrong != 3 {
			t.Errorf("three wrong notes from the %d-th on: %d said to be wrong, jumps %+v", from+1, wrong, h.Jumps)
		}
	}
}

// takeWithStop is a take with a stop of two seconds before one note.
func takeWithStop(midi []int, before int) media.PCM {
	x := make([]float32, int((5+0.75*float64(len(midi)))*RateHz))
	for i, m := range midi {
		onset := 1 + 0.75*float64(i)
		if i >= before {
			onset += 2
		}
		plucked(x, music.Hz(float64(m), 440), onset)
	}
	return media.PCM{Samples: x, RateHz: RateHz}
}
