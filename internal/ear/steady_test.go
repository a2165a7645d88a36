package ear

import (
	"math"
	"slices"
	"testing"
)

// Two partials ring; at a stroke one goes on and the other is plucked anew at the same level. By their levels
// they look alike, by their phases they do not.
func TestARingingStringKeepsItsPhase(t *testing.T) {
	const onHz, againHz, at = 196.0, 261.6, 1.2
	x := make([]float32, 3*RateHz)
	for i := range x {
		s := float64(i) / RateHz
		x[i] = float32(0.2 * math.Exp(-0.8*s) * math.Sin(2*math.Pi*onHz*s))
		phase := 0.3
		if s >= at {
			phase = 2.4
		}
		x[i] += float32(0.2 * math.Exp(-0.8*s) * math.Sin(2*math.Pi*againHz*s+phase))
	}
	st, err := newSteady(x)
	if err != nil {
		t.Fatal(err)
	}
	first := func(hz float64, frame int) (before, after, gain, miss float32) {
		v := st.appendTo(nil, frame, hz, 0)
		if len(v) != steadyCount {
			t.Fatalf("%d values, want %d", len(v), steadyCount)
		}
		return v[0], v[1], v[3], v[5]
	}
	frame := int(math.Round(at * activityFps))
	before, after, gain, miss := first(onHz, frame)
	if before < 0.98 || after < 0.98 || miss > 0.1 || math.Abs(float64(gain)) > 0.1 {
		t.Errorf("ringing on: steady %.2f, as foretold %.2f, gain %.2f, missed by %.2f", before, after, gain, miss)
	}
	before, after, gain, miss = first(againHz, frame)
	if before < 0.98 || after > 0 || miss < 0.5 || math.Abs(float64(gain)) > 0.1 {
		t.Errorf("plucked anew: steady %.2f, as foretold %.2f, gain %.2f, missed by %.2f", before, after, gain, miss)
	}
	if _, after, _, _ := first(againHz, frame-60); after < 0.98 {
		t.Errorf("well before the stroke it goes on: %.2f", after)
	}
}

func TestNearestPlaces(t *testing.T) {
	places := []int{1, 4, 9, 10, 12, 20, 21, 30, 44, 70}
	for _, c := range []struct {
		i    int
		want []int
	}{
		{10, []int{9, 12, 4, 1, 20, 21, 30, 44}}, // not itself; of equals the earlier first
		{0, []int{1, 4, 9, 10, 12, 20, 21, 30}},
		{99, []int{70, 44, 30, 21, 20, 12, 10, 9}},
	} {
		if got := nearestTo(places, c.i); !slices.Equal(got, c.want) {
			t.Errorf("nearest to %d: %v, want %v", c.i, got, c.want)
		}
	}
	if got := nearestTo(nil, 3); len(got) != 0 {
		t.Errorf("nearest of none: %v", got)
	}
}
