package ear

import (
	"math"

	"antiphon/internal/music"
)

const (
	partialCount = 16
	noiseBands   = 20
	// The partials of a plucked string fall off roughly as 1/h^0.6 in the first tenth of a second,
	// averaged over pluck places; templates learned from each take did worse (prototype, 13 takes).
	partialSlope = 0.6
	// Mean stiffness of nylon and steel strings; see Fletcher 1964 for f_n = n·f0·√(1+B·n²).
	stiffness = 6e-5
)

// partialHz is the n-th partial of a string, from 1.
func partialHz(f0 float64, n int) float64 {
	h := float64(n)
	return f0 * h * math.Sqrt(1+stiffness*h*h)
}

// dictionary holds what one unit of each pitch, and of each band of noise, looks like in the bank:
// rows sum to 1. Pitches come first.
type dictionary struct {
	rows  []sparse
	bands int
}

func newDictionary(b *bank, tuningCents float64) *dictionary {
	d := &dictionary{bands: len(b.centreHz)}
	resp, sum := make([]float32, d.bands), make([]float32, d.bands)
	for p := lowestMidi; p <= highestMidi; p++ {
		clear(sum)
		f0 := music.Hz(float64(p)+tuningCents/100, 440)
		for h := 1; h <= partialCount; h++ {
			hz := partialHz(f0, h)
			if hz > bandCeilingHz*0.97 {
				break
			}
			b.response(resp, hz)
			gain := float32(math.Pow(float64(h), -partialSlope))
			for i, v := range resp {
				sum[i] += gain * v
			}
		}
		d.add(sum)
	}
	step := float64(d.bands-1) / (noiseBands - 1)
	for j := range noiseBands {
		for i := range sum {
			sum[i] = float32(max(0, 1-math.Abs(float64(i)-float64(j)*step)/step))
		}
		d.add(sum)
	}
	for _, slope := range []float64{-2, 0, 2, 5} { // room tone from dull to bright
		for i := range sum {
			sum[i] = float32(math.Exp(-float64(i) / float64(d.bands) * slope))
		}
		d.add(sum)
	}
	return d
}

// add appends one row, scaled to sum 1 and without what is too small to matter.
func (d *dictionary) add(dense []float32) {
	var total, peak float32
	for _, v := range dense {
		total += v
		peak = max(peak, v)
	}
	var s sparse
	for i, v := range dense {
		if v > peak*1e-3 {
			s.at = append(s.at, int32(i))
			s.w = append(s.w, v/total)
		}
	}
	d.rows = append(d.rows, s)
}
