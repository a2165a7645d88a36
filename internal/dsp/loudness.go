package dsp

import "math"

// biquad is one second-order section with a0 = 1.
type biquad struct{ b0, b1, b2, a1, a2 float64 }

// kWeighting is the two-stage filter of ITU-R BS.1770 at 48 kHz: the head's shelf, then the high
// pass. The coefficients are those printed in the Recommendation.
var kWeighting = [2]biquad{
	{1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585},
	{1, -2, 1, -1.99004745483398, 0.99007225036621},
}

// KGainDb is the gain of the K-weighting filter of ITU-R BS.1770 at a frequency below 24 kHz, in dB.
// At 0 Hz it is −Inf.
func KGainDb(hz float64) float64 {
	w := 2 * math.Pi * hz / 48000
	c1, s1, c2, s2 := math.Cos(w), math.Sin(w), math.Cos(2*w), math.Sin(2*w)
	gain := 1.0
	for _, q := range kWeighting {
		num := math.Hypot(q.b0+q.b1*c1+q.b2*c2, q.b1*s1+q.b2*s2)
		den := math.Hypot(1+q.a1*c1+q.a2*c2, q.a1*s1+q.a2*s2)
		gain *= num / den
	}
	return 20 * math.Log10(gain)
}
