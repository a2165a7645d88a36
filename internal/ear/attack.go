package ear

import (
	"math"

	"antiphon/internal/dsp"
)

// Near a stroke the attack is looked at again, through a window of 12 ms every 2.5 ms: the strings
// of a rolled chord follow each other so closely.
const (
	fineHop    = fluxHop / 2
	fineWindow = 256
	fineFps    = float64(RateHz) / fineHop
)

// attacks reads fine flux.
type attacks struct {
	x       []float32
	spectra *dsp.Spectra
	scale   []float32
	lo, hi  int
	m       []float32
	hist    [3][]float32
}

func newAttacks(x []float32) (*attacks, error) {
	s, err := dsp.NewSpectra(fineWindow)
	if err != nil {
		return nil, err
	}
	a := &attacks{x: x, spectra: s, m: make([]float32, s.Bins()),
		lo: 350 * fineWindow / RateHz, hi: 9000 * fineWindow / RateHz}
	a.scale = bandScale(x, s, len(x)/fluxHop+1, a.lo, a.hi)
	for i := range a.hist {
		a.hist[i] = make([]float32, a.hi-a.lo)
	}
	return a, nil
}

// flux fills dst with the flux of fine frames from, from+1, ….
func (a *attacks) flux(dst []float64, from int) {
	for i := -2; i < len(dst); i++ {
		a.spectra.At(a.m, a.x, (from+i)*fineHop)
		now, past := a.hist[(i+3)%3], a.hist[(i+4)%3]
		var sum float32
		for k := range now {
			now[k] = dsp.Log(1 + a.m[a.lo+k]*a.scale[k])
			sum += max(0, now[k]-past[k])
		}
		if i >= 0 {
			dst[i] = float64(sum)
		}
	}
}

// gauss is the normal curve without its factor.
func gauss(d float64) float64 { return math.Exp(-0.5 * d * d) }
