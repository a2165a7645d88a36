package sound

import (
	"math"
	"strings"
	"testing"
)

// TestLoopJoins: a loop is one round of endless playing. The same bars written out many times and
// played straight through must give, in the middle, the very samples of the loop, over its join too.
func TestLoopJoins(t *testing.T) {
	const bar = "E,B,EG Be g b|[CEGc]4 [G,,DG]4|"
	const rounds = 5
	loop := rendered(t, abc(t, head("Round", "M:4/4\nL:1/8\nQ:1/4=96\nK:C\n"+bar+"\n")), Options{Guitar: Strings, Loop: &Loop{}})
	long := rendered(t, abc(t, head("Straight", "M:4/4\nL:1/8\nQ:1/4=96\nK:C\n"+strings.Repeat(bar, rounds)+"\n")), Options{Guitar: Strings})
	n := len(loop.Left)
	if want := exactSample(8, 1, 96); n != want {
		t.Fatalf("the loop has %d samples, want %d", n, want)
	}
	from := exactSample(8*3, 1, 96)
	straight := long.Left[from : from+n]
	by, _ := fit(straight, loop.Left, clickSoundOf(n))
	var worst, loud float64
	for i, v := range straight {
		worst = max(worst, math.Abs(float64(v)-by*float64(loop.Left[i])))
		loud = max(loud, math.Abs(float64(v)))
	}
	// At 96 all places are whole samples, so nothing is left but rounding.
	if db(worst/loud) > -90 {
		t.Errorf("the loop differs from endless playing by %.1f dB", db(worst/loud))
	}
	t.Logf("the loop differs from endless playing by %.1f dB", db(worst/loud))
	// And the join itself: the sound bends there no more than elsewhere just before and after a stroke.
	bend := func(i int) float64 {
		at := func(k int) float64 { return float64(loop.Left[((i+k)%n+n)%n]) }
		return math.Abs(at(-2) - 3*at(-1) + 3*at(0) - at(1))
	}
	most := 0.0
	for i := range n {
		if d := min(i, n-i); d > 100 {
			most = max(most, bend(i))
		}
	}
	for i := -3; i <= 3; i++ {
		if b := bend(i); b > most {
			t.Errorf("a click at the join: third difference %.4f at sample %d, elsewhere at most %.4f", b, i, most)
		}
	}
}

// clickSoundOf is a track that has nothing to do with the music: fit then finds the gain alone.
func clickSoundOf(n int) []float32 {
	out := make([]float32, n)
	copy(out, clickSound(Weak))
	return out
}

// TestTailsGoRound: what still rings at the end of a loop is heard at its beginning.
func TestTailsGoRound(t *testing.T) {
	s := abc(t, head("Tail", "M:2/4\nL:1/4\nQ:1/4=60\nK:C\nze|\n"))
	loop := rendered(t, s, Options{Guitar: Strings, Loop: &Loop{}})
	if loop.Left[0] == 0 || loop.Left[100] == 0 {
		t.Error("nothing rings on into the beginning")
	}
	if len(loop.Left) != 2*RateHz {
		t.Errorf("%d samples, want two seconds", len(loop.Left))
	}
	// A round that goes round: everybody plays all the time, each at a place of their own.
	round := rendered(t, abc(t, head("Round", "M:2/4\nL:1/4\nQ:1/4=60\nK:C\nCD|EF|GA|Bc|\n")), Options{Silent: true, Loop: &Loop{}, EnterAfter: 1, Entries: 4})
	if len(round.Notes) != 32 {
		t.Errorf("%d notes of four players, want 32", len(round.Notes))
	}
	for _, n := range round.Notes {
		if n.At < 0 || n.At >= 8*RateHz {
			t.Errorf("a note at sample %d, outside the loop", n.At)
		}
	}
}
