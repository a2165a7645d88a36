package ear

import (
	"math"
	"slices"

	"antiphon/internal/dsp"
)

// sonogram keeps the spectra of a take in thirds of a semitone, 20 ms apart, as half decibels in a
// byte each: 14 MB for 20 minutes.
type sonogram struct {
	bands, frames int
	halfDb        []uint8
	liftDb        float32 // added to a quiet take, so that its soft partials do not fall below the bytes
	lowest        int     // band of the lowest pitch; may be negative
	loudDb        float32 // of a loud partial of this take
}

const (
	sonogramEvery = 2   // frames of activity to a column
	sonogramZero  = -60 // dB that a byte of 0 stands for; a full-scale sine is at 60
)

func newSonogram(b *bank, activityFrames int, liftDb float32) *sonogram {
	bands, frames := len(b.centreHz), activityFrames/sonogramEvery+1
	return &sonogram{bands: bands, frames: frames, halfDb: make([]uint8, bands*frames), liftDb: liftDb,
		lowest: int(math.Round((lowestMidi - b.baseMidi) * bandsPerSemitone))}
}

func (g *sonogram) bandOf(pitch int) int { return g.lowest + pitch*bandsPerSemitone }

// level is how loud half decibels are in this take: 0 is a loud partial, and a unit takeRange.
func (g *sonogram) level(halfDb float32) float32 {
	return min(max((halfDb/2-g.loudDb)/takeRange, -3), 1)
}

// measureLoud sets loudDb: the loudest band of a column, exceeded in one column of ten.
func (g *sonogram) measureLoud() {
	tops := make([]float32, g.frames)
	for t := range tops {
		tops[t] = float32(slices.Max(g.halfDb[t*g.bands : (t+1)*g.bands]))
	}
	g.loudDb = float32(dsp.Percentile(tops, 0.9))/2 + sonogramZero
}

// set writes the spectrum around an activity frame.
func (g *sonogram) set(frame int, band []float32) {
	col := frame / sonogramEvery
	if col >= g.frames {
		return
	}
	row := g.halfDb[col*g.bands : (col+1)*g.bands]
	for i, v := range band {
		const dbOfLog = 8.685889638 // 20 / ln 10
		db := dbOfLog*dsp.Log(v+1e-6) + g.liftDb
		row[i] = uint8(min(max(2*(db-sonogramZero), 0), 255))
	}
}

// column is the spectrum nearest to an activity frame, in half decibels above sonogramZero.
func (g *sonogram) column(frame int) []uint8 {
	col := min(max(frame/sonogramEvery, 0), g.frames-1)
	return g.halfDb[col*g.bands : (col+1)*g.bands]
}

// A take whose loud moments peak lower than this is lifted to it.
const quietPeak = 0.15

// lift is how many dB a take has to be lifted, going by the peak that one moment of 20 ms in twenty exceeds.
func lift(x []float32) float32 {
	const moment = sonogramEvery * activityHop
	var peaks []float32
	for from := 0; from < len(x); from += moment {
		var top float32
		for _, v := range x[from:min(from+moment, len(x))] {
			top = max(top, v, -v)
		}
		peaks = append(peaks, top)
	}
	if p := dsp.Percentile(peaks, 0.95); p > 1e-5 && p < quietPeak {
		return float32(20 * math.Log10(float64(quietPeak/p)))
	}
	return 0
}
