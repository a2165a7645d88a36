package sound

import (
	"context"
	"math"

	"antiphon/internal/dsp"
)

// The level of all that is made here: soft enough for children at any usual setting, and no peak that
// a coder could make clip. EBU R 128 uses the same two measures; the figures are this house's.
const (
	TargetLufs   = -20.0
	mostUnderLu  = 1.5  // the whole may be this much softer rather than be limited
	highestPeak  = -1.4 // dBTP; 0.4 dB below what is promised, for rounding and coding
	PromisedPeak = -1.0
	lookS        = 0.004 // the limiter begins to turn down so long before a peak
)

// level adds the clicks and brings everything to the house's loudness.
func (a *Audio) level(ctx context.Context, p *performance) error {
	both := [][]float32{a.Left, a.Right}
	music, err := dsp.MeasureLoudness(both, RateHz)
	if err != nil {
		return problem(Internal, err, "the loudness cannot be measured (%v): report it", err)
	}
	a.opt.progress(0.9)
	if err := a.addClicks(music); err != nil {
		return problem(Internal, err, "the loudness cannot be measured (%v): report it", err)
	}
	if err := ctx.Err(); err != nil { // a long sound takes seconds in each step
		return problem(Internal, err, "stopped before the sound was made")
	}
	l := music
	if len(a.Clicks) > 0 {
		if l, err = dsp.MeasureLoudness(both, RateHz); err != nil {
			return problem(Internal, err, "the loudness cannot be measured (%v): report it", err)
		}
	}
	lufs := l.IntegratedLufs
	if math.IsInf(lufs, -1) {
		lufs = l.MomentaryLufs // shorter than the meter's block
	}
	if math.IsInf(lufs, -1) {
		return problem(NoNotes, nil, "nothing is heard: mute less or choose other bars")
	}
	up := TargetLufs - lufs
	if over := l.TruePeakDb + up - highestPeak; over > 0 {
		up -= min(over, mostUnderLu)
	}
	a.gain(gain(up))
	limited := false
	if l.TruePeakDb+up > highestPeak {
		limit(both, gain(highestPeak), a.Looped)
		limited = true
	}
	a.MusicDb, a.ClickDb = music.MomentaryLufs+up, a.ClickDb+up
	if a.Loudness, err = dsp.MeasureLoudness(both, RateHz); err != nil {
		return problem(Internal, err, "the loudness cannot be measured (%v): report it", err)
	}
	if missing := TargetLufs - mostUnderLu - a.Loudness.IntegratedLufs; limited && missing > 0 && !math.IsInf(missing, 1) {
		// Limiting took something away; the peaks that this brings up are limited in turn.
		a.gain(gain(missing))
		limit(both, gain(highestPeak), a.Looped)
		if a.Loudness, err = dsp.MeasureLoudness(both, RateHz); err != nil {
			return problem(Internal, err, "the loudness cannot be measured (%v): report it", err)
		}
	}
	if a.opt.Mark {
		a.mark()
	}
	return nil
}

func (a *Audio) gain(by float64) {
	for _, c := range [][]float32{a.Left, a.Right} {
		for i := range c {
			c[i] *= float32(by)
		}
	}
}

// limit turns the sound down around each true peak above the ceiling, in both channels alike, with a
// smooth bend before and after. In a loop the bend goes over the join.
func limit(channels [][]float32, ceiling float64, looped bool) {
	n := len(channels[0])
	need := make([]float32, n) // gain that the sample may have at most
	for i := range need {
		need[i] = 1
	}
	touched := false
	for _, c := range channels {
		dsp.TruePeaks(c, ceiling, func(i int, peak float64) {
			g := float32(ceiling / peak)
			need[i] = min(need[i], g)
			if i+1 < n {
				need[i+1] = min(need[i+1], g)
			}
			touched = true
		})
	}
	if !touched {
		return
	}
	look := samples(lookS)
	at := func(i int) int { // clamped, or round the loop
		if looped {
			return ((i % n) + n) % n
		}
		return min(max(i, 0), n-1)
	}
	// The lowest need within reach, then an average over the same reach: where the need was, all that
	// is averaged is at most as high as it.
	low := make([]float32, n)
	for i := range low {
		low[i] = 1
	}
	for i, g := range need {
		if g < 1 {
			for j := i - look; j <= i+look; j++ {
				k := at(j)
				low[k] = min(low[k], g)
			}
		}
	}
	sum := 0.0
	for j := -look; j <= look; j++ {
		sum += float64(low[at(j)])
	}
	width := float64(2*look + 1)
	for i := range n {
		if g := float32(sum / width); g < 0.999999 {
			for _, c := range channels {
				c[i] *= g
			}
		}
		sum += float64(low[at(i+look+1)]) - float64(low[at(i-look)])
	}
}
