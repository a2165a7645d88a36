package ear

import (
	"math"
	"testing"
)

// struck is a string of three partials that rings from the start and is struck again at a moment, as loud as it
// had become: by its level nothing happens there.
func struck(hz, at float64, anew bool) []float32 {
	x := make([]float32, 3*RateHz)
	for i := range x {
		s := float64(i) / RateHz
		turn := 0.0
		if anew && s >= at {
			turn = 2
		}
		for n := 1; n <= 3; n++ {
			x[i] += float32(0.2 / float64(n) * math.Exp(-0.8*s) * math.Sin(2*math.Pi*partialHz(hz, n)*s+float64(n)*turn))
		}
	}
	return x
}

func TestAStringStruckAnewLeavesItsWay(t *testing.T) {
	const hz = 196.0
	at := 1.5
	for _, anew := range []bool{false, true} {
		x := struck(hz, at, anew)
		brief, err := newBrief(x)
		if err != nil {
			t.Fatal(err)
		}
		long, err := newSteady(x)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range []struct {
			*looks
			step int
		}{{brief, briefAhead}, {long.looks, steadyAhead}} {
			l.open(int(math.Round(at * activityFps)))
			p := l.through(hz, 0, l.step)
			var shared [portraitPartials]bool
			for n := 3; n < portraitPartials; n++ {
				shared[n] = true
			}
			v := p.sumOver(nil, &shared)
			if len(v) != anewSums {
				t.Fatalf("%d sums, want %d", len(v), anewSums)
			}
			miss, as, gain, was := v[0], v[1], v[2], v[4]
			if math.Abs(float64(gain)) > 0.1 || was < 0.95 {
				t.Errorf("anew %v: louder by %.2f, steady before %.2f", anew, gain, was)
			}
			if anew && (miss < 0.5 || as > 0.5) || !anew && (miss > 0.1 || as < 0.97) {
				t.Errorf("anew %v, window %d: missed by %.2f, as foretold %.2f", anew, 4*(l.bins-1), miss, as)
			}
		}
	}
}

// E2 and E3 share every other partial of the lower one and all of the higher one, E4 and F4 next to none.
func TestPartialsThatAreShared(t *testing.T) {
	j := &judge{evidence: &evidence{}}
	count := func(midi, other int) (n int) {
		var shared [portraitPartials]bool
		j.share(&shared, j.hz(midi), other)
		for _, s := range shared {
			if s {
				n++
			}
		}
		return n
	}
	if got := count(40, 52); got != portraitPartials/2 {
		t.Errorf("the lower of an octave shares %d partials, want %d", got, portraitPartials/2)
	}
	if got := count(52, 40); got != portraitPartials {
		t.Errorf("the higher shares %d, want all %d", got, portraitPartials)
	}
	if got := count(64, 65); got != 1 { // the lowest, 20 Hz apart, which looks so short cannot tell from each other
		t.Errorf("a semitone apart %d are shared, want 1", got)
	}
}

func TestWhatMayStillRing(t *testing.T) {
	j := companyOfNotes()
	co := j.gather()
	others, since := co.ringing(j.claims, 60, 3)
	if len(others) != 2 || since != 1 { // 48 and 64; 60 itself was doubtful a second before that
		t.Errorf("at 3 s %v may ring and the pitch was heard %v s before", others, since)
	}
	if others, since = co.ringing(j.claims, 67, 9); len(others) != 0 || since != anewLongest {
		t.Errorf("long after, %v may ring, %v s", others, since)
	}
}

func TestStrokesAround(t *testing.T) {
	j := &judge{strokes: []stroke{{s: 1}, {s: 1.4}, {s: 1.41}, {s: 3}}}
	for _, c := range []struct{ s, back, ahead float64 }{{1.4, 0.4, 1}, {1, 1, 0.4}, {2.5, 1, 0.5}, {9, 1, 1}} {
		if back, ahead := j.strokesAround(c.s); math.Abs(back-c.back) > 1e-9 || math.Abs(ahead-c.ahead) > 1e-9 {
			t.Errorf("around %v: %v before, %v after, want %v and %v", c.s, back, ahead, c.back, c.ahead)
		}
	}
}
