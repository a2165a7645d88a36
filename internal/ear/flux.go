package ear

import (
	"slices"

	"antiphon/internal/dsp"
)

// Frames of flux are 5 ms apart, through a window of 23 ms.
const (
	fluxHop    = activityHop / 2
	fluxFps    = float64(RateHz) / fluxHop
	fluxWindow = 512
)

// attackFlux is how much the spectrum brightens at once, over all frequencies: the pluck itself,
// whatever the pitch. Its own slow floor is taken away.
func attackFlux(x []float32) ([]float32, error) {
	spectra, err := dsp.NewSpectra(fluxWindow)
	if err != nil {
		return nil, err
	}
	frames := len(x)/fluxHop + 1
	lo, hi := 250*fluxWindow/RateHz, 9000*fluxWindow/RateHz
	m := make([]float32, spectra.Bins())
	scale := bandScale(x, spectra, frames, lo, hi)
	hist := [3][]float32{make([]float32, hi-lo), make([]float32, hi-lo), make([]float32, hi-lo)}
	flux := make([]float32, frames)
	for t := range frames {
		spectra.At(m, x, t*fluxHop)
		now, past := hist[t%3], hist[(t+1)%3] // two frames ago
		var sum float32
		for k := range now {
			g := dsp.Log(1 + m[lo+k]*scale[k])
			if t >= 2 {
				sum += max(0, g-past[k])
			}
			now[k] = g
		}
		flux[t] = sum
	}
	flux = dsp.Smooth(flux, 1)
	floor := dsp.RunningMedian(flux, 61)
	for t := range flux {
		flux[t] = max(0, flux[t]-floor[t])
	}
	return flux, nil
}

// bandScale makes a loud moment of each band about 3 on the scale of log1p, so that a hissing phone
// and a dull room are heard alike.
func bandScale(x []float32, spectra *dsp.Spectra, frames, lo, hi int) []float32 {
	const sampled = 1500
	step := max(1, frames/sampled)
	m := make([]float32, spectra.Bins())
	cols := make([][]float32, hi-lo)
	for t := 0; t < frames; t += step {
		spectra.At(m, x, t*fluxHop)
		for k := range cols {
			cols[k] = append(cols[k], m[lo+k])
		}
	}
	scale := make([]float32, hi-lo)
	for k, c := range cols {
		slices.Sort(c)
		scale[k] = 1 / (0.3*c[len(c)*9/10] + 1e-9)
	}
	return scale
}
