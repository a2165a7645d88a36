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
		{563, 28, 0.5}, {688, 28, 0.35}, {821, 30, 0.4}, {1043, 30, 0.35}, {1352, 30, 0.3}, {1810, 26, 0.3}, {2520, 22, 0.3},
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

// bodyGain is the whole body: little below the air resonance, the resonances, and less above 4 kHz.
func bodyGain(hz float64) float64 {
	const lowHz, highHz = 75, 4000
	low := (hz / lowHz) * (hz / lowHz)
	return low / math.Sqrt(1+low*low) * bodyPeak(hz) / math.Sqrt(1+(hz/highHz)*(hz/highHz))
}
