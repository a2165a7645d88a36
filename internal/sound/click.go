package sound

import (
	"math"

	"antiphon/internal/dsp"
)

// clickHz and clickDb of the three accents: a dry, low tick, nothing above 1.6 kHz to speak of, since
// children listen for long.
func clickHz(a Accent) float64 { return [3]float64{880, 1046.5, 1318.5}[a] }
func clickDb(a Accent) float64 { return [3]float64{-5, -2.5, 0}[a] }

const (
	clickFallS = 0.011 // to 1/e
	clickS     = 0.09
)

// clickSound is one click at full level. Its first sample is its onset, and already sounds.
func clickSound(accent Accent) []float32 {
	out := make([]float32, samples(clickS))
	w := 2 * math.Pi * clickHz(accent) / RateHz
	for i := range out {
		t := float64(i+1) / RateHz
		fade := 1.0
		if left := float64(len(out) - i); left < 480 {
			fade = left / 480
		}
		out[i] = float32(gain(clickDb(accent)) * math.Sin(w*float64(i+1)) * math.Exp(-t/clickFallS) * fade)
	}
	return out
}

// clickUnderLu is how far the loudest 400 ms of the clicks stay below the integrated loudness of the
// music, and clickUnderDb how far their peak stays below the music's. A click is so short that it is
// heard clearly there. Ours.
const (
	clickUnderLu = 6
	clickUnderDb = 3
	// aloneLufs is the level of clicks without music.
	aloneLufs = -26
)

// addClicks mixes the clicks in below the music, and says how loud they are.
func (a *Audio) addClicks(music dsp.Loudness) error {
	a.ClickDb = math.Inf(-1)
	if len(a.Clicks) == 0 {
		return nil
	}
	var sounds [3][]float32
	for i := range sounds {
		sounds[i] = clickSound(Accent(i))
	}
	track := make([]float32, len(a.Left))
	for _, c := range a.Clicks {
		for i, v := range sounds[c.Accent] {
			at := c.At + i
			if at >= len(track) {
				if !a.Looped {
					break
				}
				at %= len(track)
			}
			track[at] += v
		}
	}
	l, err := dsp.MeasureLoudness([][]float32{track, track}, RateHz)
	if err != nil {
		return err
	}
	want := gain(aloneLufs - l.MomentaryLufs)
	if !math.IsInf(music.IntegratedLufs, -1) {
		want = gain(music.IntegratedLufs - clickUnderLu - l.MomentaryLufs)
		want = min(want, gain(music.TruePeakDb-clickUnderDb-l.TruePeakDb))
	}
	for i, v := range track {
		a.Left[i] += float32(want) * v
		a.Right[i] += float32(want) * v
	}
	a.ClickDb = l.MomentaryLufs + db(want)
	return nil
}
