package sound

import (
	"math"

	"antiphon/internal/dsp"
)

// noteLevel is the mean square, K-weighted (ITU-R BS.1770), that the first 300 ms of every recording
// are brought to. The number is arbitrary: the whole is levelled at the end.
const (
	noteLevel = 0.01
	noteS     = 0.3
)

// equallyLoud brings a note to the common level, measured from its onset on.
func equallyLoud(pcm []float32, onset int) {
	head := pcm[min(onset, len(pcm)):min(len(pcm), onset+int(noteS*RateHz))]
	energy := dsp.KEnergy(head, RateHz)
	if energy == 0 {
		return
	}
	by := float32(math.Sqrt(noteLevel * noteS * RateHz / energy))
	for i := range pcm {
		pcm[i] *= by
	}
}
