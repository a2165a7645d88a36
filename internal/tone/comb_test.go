package tone

import (
	"math"
	"math/rand/v2"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/media"
	"antiphon/internal/music"
)

// TestCombHasItsNodes: a string plucked at a fifth of its length lacks every fifth partial, and its third
// is sin(3π/5)/sin(π/5) = 1.618 times as strong as its first, 4.18 dB (Traube & Smith 2000, eq. for the
// plucked ideal string; the number worked apart from this program).
func TestCombHasItsNodes(t *testing.T) {
	floor := 10 * math.Log10(combFloor)
	for k := 1.0; k <= 20; k++ {
		if got := comb(k / 5); (math.Mod(k, 5) == 0) != (got < floor+1) {
			t.Errorf("partial %v of a string plucked at 1/5: %.1f dB", k, got)
		}
	}
	if got := comb(3./5) - comb(1./5); math.Abs(got-4.18) > 0.2 {
		t.Errorf("third against first: %.2f dB, want 4.18", got)
	}
}

// made is a note of a string whose partials follow the model with some noise, under a colour.
func made(rng *rand.Rand, midi int, r, ratio float64, colour func(hz float64) float64, visit int) reading {
	n := reading{midi: midi, ratio: ratio, visit: visit}
	f0 := music.Hz(float64(midi), 440)
	slope := 2 * rng.NormFloat64()
	for k := 1; k <= mostPartials && partialHz(f0, k) < highestHz; k++ {
		hz := partialHz(f0, k)
		o := math.Log2(hz / middleHz)
		n.partial = append(n.partial, partial{k: float64(k), hz: hz, octave: o, seen: true,
			db: comb(float64(k)*r*ratio) - 6*o + slope*o + colour(hz) + 3*rng.NormFloat64()})
	}
	return n
}

// TestPlacesOutOfTheModel: under any smooth colour the places of bars come back.
func TestPlacesOutOfTheModel(t *testing.T) {
	for seed := range uint64(8) {
		rng := rand.New(rand.NewPCG(seed, 1))
		phase, depth := 6*rng.Float64(), 6*rng.Float64()
		colour := func(hz float64) float64 { return depth * math.Sin(phase+1.3*math.Log2(hz)) }
		want := []float64{0.2, 0.2, 0.09, 0.09, 0.32, 0.32}
		var notes []reading
		for visit, r := range want {
			for _, str := range []int{64, 59, 55, 50} {
				for _, fret := range []int{0, 2} {
					notes = append(notes, made(rng, str+fret, r, math.Exp2(float64(fret)/12), colour, visit))
				}
			}
		}
		got := estimate(notes, len(want))
		for visit, r := range want {
			if m := got.bars[visit].mean(); math.Abs(m-r) > 0.02 {
				t.Errorf("seed %d, bar %d: R %.3f, want %.3f", seed, visit, m, r)
			}
		}
		if got.gain < leastGain {
			t.Errorf("seed %d: combs explain no more than none (%.2f)", seed, got.gain)
		}
	}
}

// TestOneNoteTwoPlaces: where the same notes were played at both places their difference follows the
// combs; where they only sound as if, it does not.
func TestOneNoteTwoPlaces(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	share := func(second float64) (float64, int) {
		var list []combed
		var at []Place
		var r []float64
		for range 3 {
			for _, midi := range []int{64, 59, 55, 57} {
				list = append(list, newCombed(made(rng, midi, 0.2, 1, func(float64) float64 { return 0 }, 0)), newCombed(made(rng, midi, second, 1, func(float64) float64 { return 0 }, 1)))
				at, r = append(at, music.OverHole, music.NearBridge), append(r, 0.2, 0.09) // as they were taken for
			}
		}
		return follows(list, at, r, music.OverHole, music.NearBridge)
	}
	if got, notes := share(0.09); math.Abs(got-1) > 0.25 || notes != 4 {
		t.Errorf("plucked at two places: %.2f of %d notes, want about 1 of 4", got, notes)
	}
	if got, notes := share(0.2); math.Abs(got) > 0.25 || notes != 4 {
		t.Errorf("plucked at one place: %.2f of %d notes, want about 0 of 4", got, notes)
	}
}

// TestPartialsOfItsOwn: a note whose partials another one has, too, is not read; beside one that shares
// some, it is read from the others.
func TestPartialsOfItsOwn(t *testing.T) {
	sound := func(notes ...sounding) media.PCM {
		x := make([]float32, 2*ear.RateHz)
		for _, n := range notes {
			for k := 1; partialHz(n.hz, k) < highestHz; k++ {
				for i := range x {
					x[i] += float32(0.1 / float64(k) * math.Sin(2*math.Pi*partialHz(n.hz, k)*float64(i)/ear.RateHz))
				}
			}
		}
		return media.PCM{Samples: x, RateHz: ear.RateHz}
	}
	low, high, fifth := sounding{0.5, 2, music.Hz(40, 440)}, sounding{0.5, 2, music.Hz(64, 440)}, sounding{0.5, 2, music.Hz(59, 440)}
	for _, c := range []struct {
		name  string
		notes []sounding // the first is read
		ok    bool
	}{
		{"alone", []sounding{high}, true},
		{"over its own octaves", []sounding{high, low}, false},
		{"over a fifth", []sounding{high, fifth}, true},
		{"soon followed", []sounding{high, {0.56, 2, music.Hz(59, 440)}}, false},
	} {
		r, err := newReader(sound(c.notes...))
		if err != nil {
			t.Fatal(err)
		}
		n, ok := r.read(c.notes, 0)
		if ok != c.ok {
			t.Errorf("%s: read %v, want %v", c.name, ok, c.ok)
		}
		for _, p := range n.partial {
			if ok && shared([]float64{c.notes[len(c.notes)-1].hz}, p.hz, 10) && len(c.notes) > 1 {
				t.Errorf("%s: partial %v is the other's, too", c.name, p.k)
			}
		}
		if c.name == "alone" {
			sum, of := 0.0, 0.0
			for _, p := range n.partial { // amplitudes 1/k: the centroid is the number of partials over their harmonic sum
				sum, of = sum+1, of+1/p.k
			}
			if want := sum / of; math.Abs(n.bright-want) > 0.15 {
				t.Errorf("brightness %.2f, want %.2f", n.bright, want)
			}
		}
	}
}

// TestCurveIsSolved: the normal equations give back a curve that data determine.
func TestCurveIsSolved(t *testing.T) {
	var a normal
	want := func(hz float64) float64 { return 3 * math.Log2(hz/1000) }
	for hz := 60.0; hz < highestHz; hz *= 1.02 {
		a.see(hz, want(hz), 100)
	}
	a.prior()
	c := a.solve()
	off := c.at(1000) - want(1000)
	for hz := 70.0; hz < 5000; hz *= 1.3 {
		if got := c.at(hz) - off; math.Abs(got-want(hz)) > 0.3 {
			t.Errorf("%.0f Hz: %.2f dB, want %.2f", hz, got, want(hz))
		}
	}
}

// TestNeighbours: a bar that says nothing goes with those beside it, and one that says much does not.
func TestNeighbours(t *testing.T) {
	says := func(place int, much float64) (c chances) {
		for p := range c {
			d := float64(p - place)
			c[p] = much * min(d*d, 25)
		}
		return c
	}
	got := neighbours([]chances{says(4, 2), says(0, 0), says(4, 2), says(20, 2)})
	for b, want := range []int{4, 4, 4, 20} {
		if p := got[b].likeliest(); p != want {
			t.Errorf("bar %d: place %d, want %d", b, p, want)
		}
		sum := 0.0
		for _, v := range got[b] {
			sum += v
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Errorf("bar %d: chances add up to %v", b, sum)
		}
	}
}
