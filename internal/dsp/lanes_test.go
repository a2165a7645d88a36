package dsp

import (
	"math/rand/v2"
	"slices"
	"testing"
)

func noise(rng *rand.Rand, n int) []float32 {
	x := make([]float32, n)
	for i := range x {
		x[i] = float32(rng.NormFloat64())
	}
	return x
}

// The instructions of this processor against Go, to the last bit, whatever the length.
func TestLanesAreAsInGo(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for n := range 40 {
		spectra, at, w := make([]Lanes, 50), make([]int32, n), noise(rng, n)
		for i := range spectra {
			copy(spectra[i][:], noise(rng, 4))
		}
		for i := range at {
			at[i] = int32(rng.IntN(len(spectra)))
		}
		if got, want := DotLanes(at, w, spectra), dotInGo(at, w, spectra); got != want {
			t.Errorf("the sum of %d terms is %v, in Go %v", n, got, want)
		}
		h := spectra[3]
		got, want := slices.Clone(spectra), slices.Clone(spectra)
		SpreadLanes(got, at, w, h)
		spreadInGo(want, at, w, h)
		if !slices.Equal(got, want) {
			t.Errorf("%d terms were spread otherwise than in Go", n)
		}
		sums, rows := noise(rng, n), noise(rng, 4*n)
		alike(t, "rows added", n, sums, func(x []float32) { AddRows(x, rows, h) }, func(x []float32) { addRowsInGo(x, rows, h) })
	}
	for n := 4; n <= 64; n += 4 {
		x, w := noise(rng, n), noise(rng, n)
		alike(t, "products", n, make([]float32, n), func(d []float32) { times(d, x, w) }, func(d []float32) { timesInGo(d, x, w) })
		turns := noise(rng, n/4*turnLanes)
		both := noise(rng, 8*n)
		alike(t, "quarters", n, both, func(b []float32) { quarters(b[:4*n], b[4*n:], turns) }, func(b []float32) { quartersInGo(b[:4*n], b[4*n:], turns) })
	}
}

func alike(t *testing.T, what string, n int, x []float32, here, inGo func([]float32)) {
	t.Helper()
	got, want := slices.Clone(x), slices.Clone(x)
	here(got)
	inGo(want)
	if !slices.Equal(got, want) {
		t.Errorf("%s of %d are otherwise than in Go:\n%v\n%v", what, n, got, want)
	}
}
