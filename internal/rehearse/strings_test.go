package rehearse

import (
	"math"
	"math/rand/v2"
	"testing"
)

// spectrumPeakHz finds the strongest frequency within ±60 cents of hz by correlating with a windowed
// complex exponential: slow, plain, and independent of the delay lines under test.
func spectrumPeakHz(x []float32, hz float64) float64 {
	best, bestHz := 0.0, 0.0
	for c := -60.0; c <= 60; c += 0.5 {
		f := hz * math.Exp2(c/1200)
		re, im := 0.0, 0.0
		for i, v := range x {
			w := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(len(x)))
			s, co := math.Sincos(2 * math.Pi * f * float64(i) / RateHz)
			re, im = re+w*co*float64(v), im+w*s*float64(v)
		}
		if e := re*re + im*im; e > best {
			best, bestHz = e, f
		}
	}
	return bestHz
}

func TestStringsAreInTune(t *testing.T) {
	for _, steel := range []bool{false, true} {
		for _, c := range []struct{ midi, str int }{{40, 6}, {47, 5}, {55, 3}, {64, 1}, {76, 1}} {
			v := stringedVoice{steel: steel}
			rng := rand.New(rand.NewPCG(1, 2))
			x := v.Play([]Pluck{{OnsetS: 0.1, OffsetS: 2, Midi: float64(c.midi), String: c.str, Part: 1}}, Tuning{A4Hz: 440}, 1.2, rng)
			want := 440 * math.Exp2(float64(c.midi-69)/12)
			got := spectrumPeakHz(x[int(0.25*RateHz):int(1.1*RateHz)], want)
			if cents := 1200 * math.Log2(got/want); math.Abs(cents) > 3 {
				t.Errorf("steel %v, MIDI %d: %.1f cents off equal temperament at A4 = 440 Hz (ISO 16)", steel, c.midi, cents)
			}
		}
	}
}
