package report

import (
	"fmt"
	"math"
	"strings"

	"antiphon/internal/media"
)

// waveColumns is how finely the picture of the sound is drawn: a wide screen shows no more.
const waveColumns = 1400

// peaks are the lowest and highest sample of each of n equal slices of the sound, from −1 to 1.
func peaks(pcm media.PCM, n int) (low, high []float64) {
	low, high = make([]float64, n), make([]float64, n)
	total := len(pcm.Samples)
	for i := range n {
		from, to := i*total/n, (i+1)*total/n
		lo, hi := 0.0, 0.0
		for _, x := range pcm.Samples[from:to] {
			v := finite(float64(x))
			lo, hi = min(lo, v), max(hi, v)
		}
		low[i], high[i] = max(-1, lo), min(1, hi)
	}
	return low, high
}

// wavePath draws the sound as one closed outline, waveColumns wide and 2 high about 0. Quiet takes
// are drawn at full height: loudness is read off the ribbons, not off this picture.
func wavePath(pcm media.PCM) string {
	if len(pcm.Samples) == 0 {
		return ""
	}
	low, high := peaks(pcm, waveColumns)
	top := 1e-6
	for i := range low {
		top = max(top, high[i], -low[i])
	}
	var b strings.Builder
	for i := range high {
		c := 'L'
		if i == 0 {
			c = 'M'
		}
		fmt.Fprintf(&b, "%c%d %.3g", c, i, -round3(high[i]/top))
	}
	for i := len(low) - 1; i >= 0; i-- {
		fmt.Fprintf(&b, "L%d %.3g", i, -round3(low[i]/top))
	}
	b.WriteString("Z")
	return b.String()
}

func round3(v float64) float64 { return math.Round(v*1000) / 1000 }
