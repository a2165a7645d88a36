package memory

import (
	"math"

	"antiphon/internal/plan/calendar"
)

// Try is one test of memory: so many days after the last playing of an item of this stability, was it
// still there?
type Try struct {
	Day           calendar.Day
	Days          float64
	StabilityDays float64
	Held          bool
}

// Pace is how fast one studio or one student forgets, against the published curve.
type Pace struct {
	Scale  float64 `json:"scale"`  // stretches stability: 2 forgets half as fast
	Growth float64 `json:"growth"` // how much of its growth over many playings is real: below 1, old things are less firm
	Slip   float64 `json:"slip"`   // share of tries that fail although nothing was forgotten
	Tries  int     `json:"tries"`  // that it rests on
}

// UsualPace is that of the published curve.
func UsualPace() Pace { return Pace{Scale: 1, Growth: 1, Slip: 0.05} }

// about which stability, in days, Growth turns.
const about = 7.0

// stability at this pace. Growth turns about a stability of a week, so that it changes neither young nor old things alone.
func (p Pace) stability(days float64) float64 {
	return p.Scale * about * math.Pow(max(days, leastStability)/about, p.Growth)
}

// Left is the chance that it is still there, forgetting alone.
func (p Pace) Left(days float64, t Trace) float64 {
	if t.Playings == 0 {
		return 0
	}
	return Retention(days, p.stability(t.StabilityDays))
}

// DueDays is after how many days an item falls below its target.
func (p Pace) DueDays(t Trace, target float64) float64 {
	return IntervalDays(p.stability(t.StabilityDays), target)
}

// EnoughTries is from how many tries on a pace is fitted; below, the wider one is used as it is.
const EnoughTries = 30

// How far paces lie apart between students: scales in natural logarithms, the rest as they are (our choice, no source).
const (
	scaleSpread  = 0.7
	growthSpread = 0.25
	slipSpread   = 0.15
)

// Fit finds the pace that makes the tries most likely, held towards the wider one (a studio's for a student, the
// published one for a studio). With fewer than EnoughTries that is returned unchanged.
func Fit(tries []Try, wider Pace) Pace {
	if len(tries) < EnoughTries {
		wider.Tries = len(tries)
		return wider
	}
	f := fitting{gather(tries), wider}
	best := wider
	for range 5 { // one number after the other, round and round
		best = f.along(best, 6, 25, func(p Pace, x float64) Pace { p.Scale = wider.Scale * math.Exp(-3+x); return p })
		best = f.along(best, 1.2, 13, func(p Pace, x float64) Pace { p.Growth = x; return p })
		best = f.along(best, 0.3, 7, func(p Pace, x float64) Pace { p.Slip = x; return p })
	}
	best.Tries = len(tries)
	return best
}

// fitting is a fit that is going on.
type fitting struct {
	cells []cell
	wider Pace
}

// along looks for the best of some evenly spread values from 0 to a length, the present one among them.
func (f *fitting) along(now Pace, length float64, steps int, set func(Pace, float64) Pace) Pace {
	best, bestAt := now, f.likely(now)
	for i := range steps {
		p := set(now, length*float64(i)/float64(steps-1))
		if at := f.likely(p); at > bestAt {
			best, bestAt = p, at
		}
	}
	return best
}

// likely is the logarithm of how likely the tries are, and how near the pace is to the wider one.
func (f *fitting) likely(p Pace) float64 {
	l := math.Log(p.Scale/f.wider.Scale) / scaleSpread
	g := (p.Growth - f.wider.Growth) / growthSpread
	s := (p.Slip - f.wider.Slip) / slipSpread
	at := -(l*l + g*g + s*s) / 2
	for _, c := range f.cells {
		stability := p.Scale * about * math.Exp(p.Growth*c.logAbout) // p.stability and Retention, without their powers
		x := clamp(math.Exp(decay*math.Log1p(factor*c.days/stability))*(1-p.Slip), 1e-4, 1-1e-4)
		at += c.held*math.Log(x) + c.lost*math.Log(1-x)
	}
	return at
}

// cell holds tries after about the same time of items about as stable.
type cell struct {
	days, stability, held, lost float64
	logAbout                    float64 // of the stability in weeks
}

// gather puts tries into cells about a third wide: how likely they are depends on little else, and a studio
// has tens of thousands.
func gather(tries []Try) []cell {
	const width, low, many = 0.35, -8, 32
	place := func(x float64) int {
		return min(max(int(math.Floor(math.Log(max(x, 1e-6))/width))-low, 0), many-1)
	}
	var all [many * many]cell
	for _, t := range tries {
		c := &all[place(t.Days)*many+place(t.StabilityDays)]
		c.days, c.stability = c.days+t.Days, c.stability+t.StabilityDays
		if t.Held {
			c.held++
		} else {
			c.lost++
		}
	}
	var out []cell
	for _, c := range all {
		if n := c.held + c.lost; n > 0 {
			c.days, c.stability = c.days/n, c.stability/n
			c.logAbout = math.Log(max(c.stability, leastStability) / about)
			out = append(out, c)
		}
	}
	return out
}
