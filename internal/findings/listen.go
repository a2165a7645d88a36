package findings

import (
	"math"

	"antiphon/internal/dsp"
	"antiphon/internal/media"
)

// Sound is what a recording mostly holds. It matters only where a take is not of its score.
type Sound string

// The sounds told apart.
const (
	Unknown Sound = ""
	Silent  Sound = "silence" // nothing, or hardly anything
	Noise   Sound = "noise"   // steady noise without tones
	Talk    Sound = "talk"
	Tones   Sound = "tones" // somebody plays or sings something
)

// How the sounds are told apart. A plucked string keeps its partials where they are; a voice glides. On
// 13 development takes of a guitar the strongest partial stayed for 49 to 84 % of the moments, in running
// sixteenths at 112 for 36 %, in six synthetic voices (real ones were not at hand) for 1 % at most. Looked
// at after twice the time, sixteenths (17 %) could not be told from talk.
const (
	soundN     = 2048 // samples of a spectrum; 93 ms at the ear's rate
	soundHop   = 512
	silentPeak = -58.0 // dB below full scale of the loud moments
	loudRange  = 22.0  // dB below the loud moments, down to which a moment counts
	keepFrames = 3     // hops between two looks at one partial, about 70 ms
	keepCents  = 10.0
	flatNoise  = 0.35 // spectral flatness (geometric over arithmetic mean of power) of noise; 0.56 for white noise
	talkKept   = 0.18 // share of moments whose strongest partial stays: talk below, playing above
)

// Listen tells what a recording mostly holds.
func Listen(pcm media.PCM) (Sound, error) {
	m, err := measure(pcm)
	switch {
	case err != nil:
		return Unknown, err
	case m.loudDb < silentPeak:
		return Silent, nil
	case m.flatness > flatNoise:
		return Noise, nil
	case m.kept < talkKept:
		return Talk, nil
	}
	return Tones, nil
}

type soundMeasures struct{ loudDb, flatness, kept float64 }

func measure(pcm media.PCM) (soundMeasures, error) {
	m := soundMeasures{loudDb: math.Inf(-1)}
	frames := (len(pcm.Samples) - soundN) / soundHop
	if frames <= keepFrames || pcm.RateHz <= 0 {
		return m, nil
	}
	fft, err := dsp.NewSpectra(soundN)
	if err != nil {
		return m, err
	}
	levels, strongest, flats := make([]float64, frames), make([]float64, frames), make([]float64, frames)
	mag := make([]float32, soundN/2+1)
	binHz := float64(pcm.RateHz) / soundN
	lo, hi := int(80/binHz), int(1600/binHz)
	for i := range frames {
		x := pcm.Samples[i*soundHop : i*soundHop+soundN]
		var sum float64
		for _, v := range x {
			sum += float64(v) * float64(v)
		}
		levels[i] = 10 * math.Log10(sum/soundN+1e-12)
		fft.At(mag, pcm.Samples, i*soundHop+soundN/2)
		top := lo
		var logs, powers float64
		for k := lo; k <= hi; k++ {
			p := float64(mag[k])*float64(mag[k]) + 1e-15
			logs, powers = logs+math.Log(p), powers+p
			if mag[k] > mag[top] {
				top = k
			}
		}
		n := float64(hi - lo + 1)
		flats[i] = math.Exp(logs/n) / (powers / n)
		strongest[i] = peakHz(mag, top) * binHz
	}
	m.loudDb = dsp.Percentile(levels, 0.95)
	var counted, kept int
	var loudFlats []float64
	for i, l := range levels {
		if l < m.loudDb-loudRange {
			continue
		}
		loudFlats = append(loudFlats, flats[i])
		if i+keepFrames >= frames || levels[i+keepFrames] < m.loudDb-loudRange {
			continue
		}
		counted++
		if math.Abs(1200*math.Log2(strongest[i]/strongest[i+keepFrames])) < keepCents {
			kept++
		}
	}
	if counted > 0 {
		m.kept = float64(kept) / float64(counted)
	}
	m.flatness = dsp.Percentile(loudFlats, 0.5)
	return m, nil
}

// peakHz places a peak between bins by a parabola through the logs of three magnitudes; in bins.
func peakHz(mag []float32, k int) float64 {
	if k <= 0 || k+1 >= len(mag) {
		return float64(k)
	}
	a, b, c := math.Log(float64(mag[k-1])+1e-12), math.Log(float64(mag[k])+1e-12), math.Log(float64(mag[k+1])+1e-12)
	d := a - 2*b + c
	if d >= 0 {
		return float64(k)
	}
	return float64(k) + max(-0.5, min(0.5, (a-c)/(2*d)))
}
