package ear

import (
	"math"
	"math/cmplx"
	"slices"

	"antiphon/internal/dsp"
)

// tuningCents is how far the take lies from A4 = 440 Hz, between −50 and +50 cents: the circular
// mean of where spectral peaks between 150 and 1200 Hz fall within their semitone. Which semitone
// is meant, only the score can tell.
func tuningCents(x []float32) (float64, error) {
	spectra, err := dsp.NewSpectra(longWindow)
	if err != nil {
		return 0, err
	}
	const hop = 4 * activityHop
	frames := len(x)/hop + 1
	lo, hi := 150*longWindow/RateHz, 1200*longWindow/RateHz
	m := make([]float32, spectra.Bins())
	tops := make([]float64, 0, frames)
	type peak struct{ top, mag, cents float64 }
	var peaks []peak
	for t := range frames {
		spectra.At(m, x, t*hop)
		top := float64(slices.Max(m[lo:hi]))
		tops = append(tops, top)
		for k := lo; k < hi; k++ {
			c := float64(m[k])
			if m[k] <= m[k-1] || m[k] <= m[k+1] || c < top*0.03 {
				continue
			}
			l, mid, r := math.Log(float64(m[k-1])+1e-7), math.Log(c+1e-7), math.Log(float64(m[k+1])+1e-7)
			hz := (float64(k) + 0.5*(l-r)/(l-2*mid+r-1e-9)) * RateHz / longWindow
			peaks = append(peaks, peak{top, c, 1200 * math.Log2(hz/440)})
		}
	}
	slices.Sort(tops)
	floor := tops[len(tops)*2/5] * 0.05 // silence and noise between the notes have no say
	var sum complex128
	for _, p := range peaks {
		if p.top > floor {
			sum += cmplx.Rect(p.mag, 2*math.Pi*p.cents/100)
		}
	}
	return cmplx.Phase(sum) / (2 * math.Pi) * 100, nil
}
