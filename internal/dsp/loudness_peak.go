package dsp

import "math"

// Oversampling of the true-peak meter. ITU-R BS.1770-4, annex 2, asks for at least 192 kHz in all:
// four times at 48 kHz. A longer filter than the one printed there is used, since it reads high
// frequencies truer; EBU Tech 3341 cases 15 to 23 judge the whole.
const (
	peakPhases = 4
	peakTaps   = 32 // a phase
)

// peakFilter is a windowed sinc that gives the values at 1/4, 2/4 and 3/4 between two samples.
// Half of the taps lie before the place.
func peakFilter() [peakPhases - 1][peakTaps]float64 {
	var f [peakPhases - 1][peakTaps]float64
	for p := range f {
		frac := float64(p+1) / peakPhases
		sum := 0.0
		for k := range f[p] {
			x := float64(k-peakTaps/2+1) - frac
			w := bessel0(8*math.Sqrt(max(0, 1-x*x/(peakTaps/2)/(peakTaps/2)))) / bessel0(8) // Kaiser
			f[p][k] = w * math.Sin(math.Pi*x) / (math.Pi * x)
			sum += f[p][k]
		}
		for k := range f[p] {
			f[p][k] /= sum
		}
	}
	return f
}

// bessel0 is the modified Bessel function of the first kind and order 0, by its series.
func bessel0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1; term > 1e-12*sum; k++ {
		term *= (x / 2 / float64(k)) * (x / 2 / float64(k))
		sum += term
	}
	return sum
}

// TruePeak is the largest magnitude of the sound at and between the samples; 0 for none.
func TruePeak(pcm []float32) float64 {
	peak := 0.0
	for _, v := range pcm {
		peak = max(peak, math.Abs(float64(v)))
	}
	TruePeaks(pcm, peak, func(_ int, v float64) { peak = max(peak, v) })
	return peak
}

// TruePeaks calls f, in order of time, for each sample where the sound reaches the floor, with the
// largest magnitude from that sample on to before the next.
func TruePeaks(pcm []float32, floor float64, f func(i int, peak float64)) {
	filter := peakFilter()
	most := 0.0 // what the filter can make of samples of magnitude 1
	for p := range filter {
		sum := 0.0
		for _, h := range filter[p] {
			sum += math.Abs(h)
		}
		most = max(most, sum)
	}
	const block = 64 // quiet blocks need no filter
	tops := make([]float64, len(pcm)/block+3)
	for i, v := range pcm {
		b := i/block + 1
		tops[b] = max(tops[b], math.Abs(float64(v)))
	}
	for b := 0; b*block < len(pcm); b++ {
		if max(tops[b], tops[b+1], tops[b+2])*most < floor {
			continue
		}
		for i := b * block; i < min(len(pcm), (b+1)*block); i++ {
			v := math.Abs(float64(pcm[i]))
			for p := range filter {
				v = max(v, math.Abs(between(pcm, i, &filter[p])))
			}
			if v >= floor {
				f(i, v)
			}
		}
	}
}

// between is the filter's output between samples i and i+1.
func between(pcm []float32, i int, h *[peakTaps]float64) float64 {
	sum := 0.0
	from := i - peakTaps/2 + 1
	if from >= 0 && from+peakTaps <= len(pcm) {
		for k, x := range pcm[from : from+peakTaps] {
			sum += h[k] * float64(x)
		}
		return sum
	}
	for k := range h {
		if j := from + k; j >= 0 && j < len(pcm) {
			sum += h[k] * float64(pcm[j])
		}
	}
	return sum
}
