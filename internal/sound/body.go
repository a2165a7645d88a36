package sound

import "math"

// mode is one resonance of the body.
type mode struct{ hz, q, gain float64 }

// bodyModes are the box as we hear it: the air at about 100 Hz, the first modes of top and back near
// 200 Hz (the reference; Fletcher & Rossing 1998, from memory), and some smaller ones that keep the
// notes from being all alike. The list is ours.
func bodyModes() []mode {
	return []mode{
		{101, 16, 1.5}, {196, 22, 1.7}, {228, 24, 0.9}, {312, 22, 0.6}, {385, 26, 0.7}, {462, 26, 0.4},
		{563, 28, 0.5}, {688, 28, 0.4}, {821, 24, 0.5}, {1043, 8, 1.6}, {1352, 7, 1.8}, {1810, 6, 1.8}, {2520, 5, 1.6}, {3400, 4, 1.4},
	}
}

// knocking is the number of modes that the stroke itself sets going.
const knocking = 4

// bodyPeak is how much the resonances add at a frequency: 1 far from all of them.
func bodyPeak(hz float64) float64 {
	sum := 0.0
	for _, m := range bodyModes() {
		x := m.q * (hz/m.hz - m.hz/hz)
		sum += m.gain / (1 + x*x)
	}
	return 1 + sum
}

// bodyGain is the whole body: little below the air resonance, the resonances, and less above 7 kHz.
func bodyGain(hz float64) float64 {
	const lowHz, highHz = 130, 7500
	low := (hz / lowHz) * (hz / lowHz)
	return low / math.Sqrt(1+low*low) * bodyPeak(hz) / math.Sqrt(1+(hz/highHz)*(hz/highHz))
}

// bodySign turns the wave round from one resonance to the next, as the answer of a body does; it
// keeps the pulses of the string from piling up in one peak.
func bodySign(hz float64) float64 {
	sign := 1.0
	for _, m := range bodyModes() {
		if hz > m.hz {
			sign = -sign
		}
	}
	return sign
}

// withoutRumble takes away what no guitar can radiate: a second-order high pass (Butterworth) at 38 Hz.
func withoutRumble(in []float64) []float32 {
	const hz = 38
	k := math.Tan(math.Pi * hz / RateHz)
	a0 := 1 + math.Sqrt2*k + k*k
	a1, a2 := 2*(k*k-1)/a0, (1-math.Sqrt2*k+k*k)/a0
	var u, v float64
	out := make([]float32, len(in))
	for i, x := range in {
		x /= a0
		y := x + u
		u = -2*x - a1*y + v
		v = x - a2*y
		out[i] = float32(y)
	}
	return out
}
