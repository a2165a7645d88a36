package ear

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"
)

// A pattern of one bar that comes three times, between a beginning and an end of their own.
var (
	opening = []int{60, 64, 67, 72}
	pattern = []int{62, 65, 69, 65}
	ending  = []int{71, 67, 62, 60}
	going   = slices.Concat(opening, pattern, pattern, pattern, ending) // bars 1 to 5
)

const beatS = 0.75 // between the notes of take; the first is at one second

func hinted(t *testing.T, midi []int, hints ...Hint) *Hearing {
	t.Helper()
	h, err := Hear(context.Background(), take(440, midi), scale(going...), Options{Hints: hints})
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// atNote is when the n-th note of a take is played.
func atNote(n int) float64 { return 1 + beatS*float64(n) }

func TestAHintSaysWhichOfEqualBars(t *testing.T) {
	played := slices.Concat(pattern, pattern) // bars 2 and 3, or 3 and 4
	for _, bar := range []int{1, 2} {
		h := hinted(t, played, Hint{Kind: BarHere, AtS: atNote(0) + 0.1, Bar: bar})
		if len(h.Passes) != 1 || h.Passes[0].FromBar != scale(going...).Bars[bar].Number || len(h.Played) != len(played) || len(h.Missed) != 0 {
			t.Errorf("bar %d hinted: passes %+v, %d notes, %d missed", bar+1, h.Passes, len(h.Played), len(h.Missed))
		}
	}
	// In the middle of a pass a hint moves what stands around it, too.
	h := hinted(t, played, Hint{Kind: BarHere, AtS: atNote(6), Bar: 3})
	if len(h.Passes) != 1 || h.Passes[0].FromBar != "3" || h.Passes[0].ToBar != "4" {
		t.Errorf("bar 4 hinted at the seventh note: passes %+v, want bars 3 to 4", h.Passes)
	}
}

// Three bars of the pattern are written and four are played: where the player went back, only a listener knows.
func TestAHintSaysWhereTheRestartIs(t *testing.T) {
	played := slices.Concat(opening, pattern, pattern, pattern, pattern, ending)
	for _, c := range []struct {
		note, bar int
		toBar     string
	}{{8, 1, "2"}, {12, 2, "3"}, {12, 1, ""}, {16, 3, "4"}} {
		hint := Hint{Kind: RestartHere, AtS: atNote(c.note), Bar: c.bar}
		if c.toBar == "" {
			hint.Bar = -1
		}
		h := hinted(t, played, hint)
		if c.toBar == "" { // some way back, at this note
			if len(h.Jumps) == 0 || math.Abs(h.Jumps[0].ResumeS-atNote(c.note)) > 0.1 {
				t.Errorf("a restart at note %d without a bar: jumps %+v", c.note, h.Jumps)
			}
			continue
		}
		if len(h.Jumps) != 1 || h.Jumps[0].Kind != Restart || h.Jumps[0].ToBar != c.toBar || math.Abs(h.Jumps[0].ResumeS-atNote(c.note)) > 0.1 || h.Jumps[0].Confidence != 1 {
			t.Errorf("a restart at note %d: jumps %+v, want one to bar %s at %.2f s", c.note, h.Jumps, c.toBar, atNote(c.note))
		}
	}
}

// After ten notes the player goes on from bar 2, or plays five wrong notes: a listener knows.
func TestAHintSaysThatNobodyWentBack(t *testing.T) {
	played := slices.Concat(line[:10], line[4:])
	free, err := Hear(context.Background(), take(440, played), scale(line...), Options{})
	if err != nil || len(free.Jumps) != 1 {
		t.Fatalf("without a hint: jumps %+v, %v; want a restart", free.Jumps, err)
	}
	h, err := Hear(context.Background(), take(440, played), scale(line...), Options{Hints: []Hint{{Kind: NoJump, AtS: free.Jumps[0].ResumeS}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, j := range h.Jumps {
		if math.Abs(j.ResumeS-free.Jumps[0].ResumeS) <= noJumpS {
			t.Errorf("told that nobody jumped at %.2f s, the ear says %+v", free.Jumps[0].ResumeS, j)
		}
	}
	if h.Match != free.Match {
		t.Errorf("a hint has changed how well the take fits: %g, was %g", h.Match, free.Match)
	}
}

func TestHintsWithoutAPlaceAreRefused(t *testing.T) {
	for name, k := range map[string]Hint{
		"a bar that is not there": {Kind: BarHere, AtS: 2, Bar: 9},
		"no bar":                  {Kind: BarHere, AtS: 2, Bar: -1},
		"an unknown kind":         {Kind: "louder", AtS: 2},
		"no time":                 {Kind: NoJump, AtS: math.NaN()},
	} {
		if _, err := Hear(context.Background(), take(440, going), scale(going...), Options{Hints: []Hint{k}}); !errors.Is(err, ErrHint) {
			t.Errorf("%s: %v, want ErrHint", name, err)
		}
	}
}
