package ear

import (
	"slices"

	"antiphon/internal/dsp"
)

// stroke is a moment at which something may have been played: a peak of attack and of rising
// pitches together.
type stroke struct {
	frame    int     // of activity
	s        float64 // seconds
	strength float64 // 0 to 1, how surely something began here
	attack   float64 // 0 to 1, flux alone
	clear    float64 // 0 to 1, how likely any pitch began here

	grown  []float32 // by pitch: how much more its partials grew than those of others, 0 to grownGain
	begun  []float32 // by pitch: how surely it began here, 0 to 1
	likely []float32 // by pitch: how likely it began here, all in all
}

const (
	riseFull    = 0.45 // a rise of activity by so much is a sure beginning
	riseNoise   = 0.05
	strokeFloor = 0.06
	strokeGapFr = 4
	strokeReach = 8 // frames after a stroke in which its pitches may still rise
)

// evidence is all that is measured before the score is looked at.
type evidence struct {
	x       []float32 // the take
	act     *activity
	flux    []float32
	cents   float64 // deviation of the take from 440 Hz within its semitone
	shift   int     // semitones by which the take lies above what the score says
	parts   *partials
	attacks *attacks
	booth   *booth
	steady  steady
	brief   *looks
	course  *looks
	surges  *surges

	sonogram *sonogram
	offsets  offsets
	models   *models
	scratch  scratch
	inputs   []float32

	maskOf []int // what mask was made for
	mask   []float32
}

// hearAt takes written pitches to sound so many semitones higher from now on.
func (e *evidence) hearAt(shift int) { e.shift, e.maskOf, e.mask = shift, nil, nil }

// at returns the index in activity rows of a written pitch, or -1 outside the range.
func (e *evidence) at(midi int) int {
	if p := midi + e.shift - lowestMidi; p >= 0 && p < pitchCount {
		return p
	}
	return -1
}

// hz is the frequency of a written pitch in this take.
func (e *evidence) hz(midi int) float64 { return hzAt(midi+e.shift, e.cents) }

// findStrokes lists the strokes of a take in order of time.
func findStrokes(e *evidence) []stroke {
	a := e.act
	total := make([]float32, a.frames)
	for t := range total {
		for p := range pitchCount {
			if r := a.rise(p, t); r > riseNoise {
				total[t] += float32(r)
			}
		}
	}
	attack := make([]float32, a.frames)
	for t := range attack {
		if 2*t+1 < len(e.flux) {
			attack[t] = max(e.flux[2*t], e.flux[2*t+1])
		}
	}
	attack = dsp.RunningMax(attack, 3)
	rises, attacks := unitPeaks(dsp.Smooth(total, 1.5)), unitPeaks(dsp.Smooth(attack, 1))
	both := make([]float32, a.frames)
	for t := range both {
		both[t] = rises[t] + 0.5*attacks[t]
	}
	top := dsp.RunningMax(both, 2*strokeGapFr+1)
	var found []stroke
	for t, v := range both {
		if v < top[t] || v <= strokeFloor {
			continue
		}
		k := stroke{frame: t, s: float64(t) / activityFps, strength: min(1, float64(v)) * min(1, float64(v))}
		for u := max(0, t-4); u < min(a.frames, t+5); u++ {
			k.attack = max(k.attack, min(1, float64(attacks[u])))
		}
		if n := len(found); n > 0 && t-found[n-1].frame < strokeGapFr {
			if v > both[found[n-1].frame] {
				found[n-1] = k
			}
			continue
		}
		found = append(found, k)
	}
	for i := range found {
		next := a.frames
		if i+1 < len(found) {
			next = found[i+1].frame
		}
		found[i].listen(e, next)
	}
	return found
}

// listen fills in which pitches began at a stroke.
func (k *stroke) listen(e *evidence, next int) {
	a := e.act
	k.begun, k.likely = make([]float32, pitchCount), make([]float32, pitchCount)
	end := k.frame + 1 + min(strokeReach, max(4, next-k.frame-3))
	k.grown = e.growth(k.frame)
	for p := range pitchCount {
		var rise float64
		for t := max(0, k.frame-4); t < min(end, a.frames); t++ {
			rise = max(rise, a.rise(p, t))
		}
		k.begun[p] = float32(min(1, rise/riseFull))
	}
	for p := range k.likely {
		if k.begun[p] > begunHint || k.grown[p] > grownHint {
			e.inputs = e.look(e.inputs[:0], k, p)
			k.likely[p] = float32(sure(float64(e.models.begins.run(e.inputs, &e.scratch)[0])))
		}
	}
	k.clear = float64(slices.Max(k.likely))
}

// A pitch that shows less than both of these is not asked for.
const begunHint, grownHint = 0.05, 0.1

const (
	grownFullDb = 7.0 // partials that grow so much more than those of other pitches …
	grownGain   = 0.6 // … make a beginning as likely as this
)

// growth is, by pitch, how much more its partials grow at a frame than those of the median pitch. It
// sees notes of a dense chord that the decomposition gives to their neighbours.
func (e *evidence) growth(frame int) []float32 {
	b := e.booth.open(frame)
	db := make([]float64, pitchCount)
	for p := range db {
		db[p] = b.count(hzAt(p+lowestMidi, e.cents), nil).allDb
	}
	mid := dsp.Percentile(db, 0.5)
	grown := make([]float32, pitchCount)
	for p, v := range db {
		grown[p] = float32(grownGain * min(max((v-mid)/grownFullDb, 0), 1))
	}
	return grown
}

// unitPeaks scales x so that an ordinary peak is 1; the many tiny ones do not set the scale.
func unitPeaks(x []float32) []float32 {
	top := dsp.RunningMax(x, 15)
	var peaks []float32
	for t, v := range x {
		if v > 0 && v == top[t] {
			peaks = append(peaks, v)
		}
	}
	if len(peaks) == 0 {
		return x
	}
	floor := 0.2 * dsp.Percentile(peaks, 0.97)
	clear := peaks[:0]
	for _, v := range peaks {
		if v > floor {
			clear = append(clear, v)
		}
	}
	unit := dsp.Percentile(clear, 0.6) + 1e-9
	y := make([]float32, len(x))
	for t, v := range x {
		y[t] = v / unit
	}
	return y
}
