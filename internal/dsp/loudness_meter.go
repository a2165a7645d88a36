package dsp

import (
	"errors"
	"math"
	"slices"
)

// Loudness of a piece of sound by ITU-R BS.1770 and EBU Tech 3341. Silence is −Inf.
type Loudness struct {
	IntegratedLufs float64 // gated, over all of it
	MomentaryLufs  float64 // the loudest 400 ms
	ShortTermLufs  float64 // the loudest 3 s
	TruePeakDb     float64 // dBTP, four times oversampled
}

// Errors of the loudness meter.
var (
	errChannels = errors.New("dsp: loudness is defined for 1 to 5 channels of one length")
	errLowRate  = errors.New("dsp: loudness needs at least 8000 samples a second")
)

// binS is the grain of the meter: the loudest moment is sought every 10 ms, so that a tone of 400 ms
// is found wherever it starts; the gated loudness steps by 100 ms as the Recommendation has it.
const (
	binsPerS      = 100
	momentaryBins = 40
	shortBins     = 300
	gateHopBins   = 10
)

// The gates, and the offset that undoes the filter's gain at 997 Hz. Source: ITU-R BS.1770-4.
const (
	absoluteGateLufs = -70
	relativeGateLu   = -10
	offsetLufs       = -0.691
)

// MeasureLoudness measures up to five channels in the order left, right, centre, left surround, right
// surround. One channel counts as one loudspeaker: a mono sine of 997 Hz at full scale is −3.01 LUFS.
func MeasureLoudness(channels [][]float32, rateHz int) (Loudness, error) {
	silent := Loudness{math.Inf(-1), math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	if len(channels) == 0 || len(channels) > 5 {
		return silent, errChannels
	}
	for _, c := range channels {
		if len(c) != len(channels[0]) {
			return silent, errChannels
		}
	}
	if rateHz < 8000 {
		return silent, errLowRate
	}
	bins, total := binEnergies(channels, rateHz)
	l := silent
	l.IntegratedLufs = gated(bins)
	l.MomentaryLufs = loudest(bins, total, momentaryBins)
	l.ShortTermLufs = loudest(bins, total, shortBins)
	for _, c := range channels {
		l.TruePeakDb = max(l.TruePeakDb, 20*math.Log10(TruePeak(c)))
	}
	return l, nil
}

// binEnergies is the K-weighted mean square of each 10 ms, summed over the channels with their
// weights; total is the sum over all samples, with what lies after the last whole bin.
func binEnergies(channels [][]float32, rateHz int) (bins []float64, total float64) {
	weights := [5]float64{1, 1, 1, 1.41, 1.41}
	n := len(channels[0])
	bins = make([]float64, n*binsPerS/rateHz)
	for c, pcm := range channels {
		filter := kFilter{q: kWeightingAt(rateHz)}
		at := 0
		for b := 0; at < n; b++ {
			end := n
			if b < len(bins) {
				end = (b + 1) * rateHz / binsPerS
			}
			sum := 0.0
			for _, v := range pcm[at:end] {
				x := filter.pass(float64(v))
				sum += x * x
			}
			total += weights[c] * sum / float64(rateHz) * binsPerS
			if b < len(bins) {
				bins[b] += weights[c] * sum / float64(end-at)
			}
			at = end
		}
	}
	return bins, total
}

// kFilter is the K-weighting at work on one channel.
type kFilter struct {
	q [2]biquad
	z [2][2]float64
}

func (f *kFilter) pass(x float64) float64 {
	for i := range f.q {
		q := &f.q[i]
		y := q.b0*x + f.z[i][0]
		f.z[i][0] = q.b1*x - q.a1*y + f.z[i][1]
		f.z[i][1] = q.b2*x - q.a2*y
		x = y
	}
	return x
}

// KEnergy is the sum of the squared K-weighted samples: the energy of a sound that is too short for
// the meter, such as one note or one click.
func KEnergy(pcm []float32, rateHz int) float64 {
	f := kFilter{q: kWeightingAt(rateHz)}
	sum := 0.0
	for _, v := range pcm {
		x := f.pass(float64(v))
		sum += x * x
	}
	return sum
}

func lufs(meanSquare float64) float64 { return offsetLufs + 10*math.Log10(meanSquare) }

// gated is the integrated loudness of 400 ms blocks that step by 100 ms.
func gated(bins []float64) float64 {
	var blocks []float64
	for from := 0; from+momentaryBins <= len(bins); from += gateHopBins {
		sum := 0.0
		for _, e := range bins[from : from+momentaryBins] {
			sum += e
		}
		blocks = append(blocks, sum/momentaryBins)
	}
	above := func(gate float64) float64 {
		sum, n := 0.0, 0
		for _, e := range blocks {
			if lufs(e) > gate {
				sum, n = sum+e, n+1
			}
		}
		if n == 0 {
			return math.Inf(-1)
		}
		return lufs(sum / float64(n))
	}
	first := above(absoluteGateLufs)
	if math.IsInf(first, -1) {
		return first
	}
	return above(max(absoluteGateLufs, first+relativeGateLu))
}

// loudest is the loudest stretch of so many bins. Sound that is shorter is taken with silence around it.
func loudest(bins []float64, total float64, span int) float64 {
	if len(bins) < span {
		return lufs(total / float64(span))
	}
	sums := slices.Clone(bins)
	sum, most := 0.0, 0.0
	for i, e := range sums {
		sum += e
		if i >= span {
			sum -= sums[i-span]
		}
		if i >= span-1 {
			most = max(most, sum)
		}
	}
	return lufs(most / float64(span))
}

// kWeightingAt is the K-weighting filter at any sampling rate: at 48 kHz the Recommendation's own
// coefficients, elsewhere those of the same analogue prototypes. The prototypes' corner, gain and Q
// are what open meters derive from the printed coefficients; a test holds the two against each other.
func kWeightingAt(rateHz int) [2]biquad {
	if rateHz == 48000 {
		return kWeighting
	}
	const (
		shelfHz, shelfDb, shelfQ = 1681.974450955533, 3.999843853973347, 0.7071752369554196
		highHz, highQ            = 38.13547087602444, 0.5003270373238773
	)
	k := math.Tan(math.Pi * shelfHz / float64(rateHz))
	vh := math.Pow(10, shelfDb/20)
	vb := math.Pow(vh, 0.4996667741545416)
	a0 := 1 + k/shelfQ + k*k
	shelf := biquad{
		b0: (vh + vb*k/shelfQ + k*k) / a0, b1: 2 * (k*k - vh) / a0, b2: (vh - vb*k/shelfQ + k*k) / a0,
		a1: 2 * (k*k - 1) / a0, a2: (1 - k/shelfQ + k*k) / a0,
	}
	k = math.Tan(math.Pi * highHz / float64(rateHz))
	a0 = 1 + k/highQ + k*k
	return [2]biquad{shelf, {b0: 1, b1: -2, b2: 1, a1: 2 * (k*k - 1) / a0, a2: (1 - k/highQ + k*k) / a0}}
}
