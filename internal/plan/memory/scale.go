package memory

import "math"

// Try is one test of memory: so many days after the last playing of an item of this stability, was it
// still there?
type Try struct {
	Days          float64
	StabilityDays float64
	Held          bool
}

// Pace is how fast one studio or one student forgets.
type Pace struct {
	Scale float64 // stretches stability: 2 forgets half as fast as the published curve
	Slip  float64 // share of tries that fail although nothing was forgotten
	Tries int     // that it rests on
}

// UsualPace is that of the published curve.
func UsualPace() Pace { return Pace{Scale: 1} }

// Left is the chance that it is still there, forgetting alone.
func (p Pace) Left(days float64, t Trace) float64 {
	if t.Playings == 0 {
		return 0
	}
	return Retention(days, t.StabilityDays*p.Scale)
}

// DueDays is after how many days an item falls below its target.
func (p Pace) DueDays(t Trace, target float64) float64 {
	return IntervalDays(t.StabilityDays*p.Scale, target)
}

// EnoughTries is from how many tries on a pace is fitted; below, the wider one is used as it is.
const EnoughTries = 30

// paceSpread is how far paces lie apart, in natural logarithms: one in three is more than twice or less than half
// as slow (our choice, no source).
const paceSpread = 0.7

// Fit finds the pace that makes the tries most likely, held towards the wider one (a studio's for a student, the
// published one for a studio). With fewer than EnoughTries that is returned unchanged.
func Fit(tries []Try, wider Pace) Pace {
	if len(tries) < EnoughTries {
		return Pace{wider.Scale, wider.Slip, len(tries)}
	}
	best, bestAt := wider, math.Inf(-1)
	for l := -3.0; l <= 3.0001; l += 0.1 {
		scale := wider.Scale * math.Exp(l)
		left := make([]float64, len(tries))
		for i, t := range tries {
			left[i] = Retention(t.Days, t.StabilityDays*scale)
		}
		for slip := 0.0; slip <= 0.301; slip += 0.03 {
			off := (slip - wider.Slip) / 0.15
			at := -l*l/(2*paceSpread*paceSpread) - off*off/2
			for i, t := range tries {
				p := clamp(left[i]*(1-slip), 1e-4, 1-1e-4)
				if !t.Held {
					p = 1 - p
				}
				at += math.Log(p)
			}
			if at > bestAt {
				best, bestAt = Pace{scale, slip, len(tries)}, at
			}
		}
	}
	return best
}
