// Package memory says how likely it is that a student can still play what was once learnt, and when to
// ask for it again.
//
// It counts days and knows no clock, and it judges nobody: a rating describes one take, not a child. The
// curve's shape comes from the published FSRS-6 model, which was fitted to facts on cards, not to hands;
// so its pace is scaled to the studio and the student as soon as there is evidence.
package memory

import "math"

// Rating of one playing of an item, from a hearing, a log or the teacher.
type Rating int

const (
	Unrated   Rating = 0
	BrokeDown Rating = 1 // it did not get through
	Stopped   Rating = 2 // to the end, with more than two stops
	Steady    Rating = 3
	AtTempo   Rating = 4 // steady, at the tempo asked, with what else was asked
)

// String says it as it is shown.
func (r Rating) String() string {
	switch r {
	case BrokeDown:
		return "did not get through yet"
	case Stopped:
		return "to the end, with stops"
	case Steady:
		return "steady"
	case AtTempo:
		return "steady at tempo"
	}
	return "not rated"
}

// w are the published default parameters of FSRS-6 (open-spaced-repetition/go-fsrs, MIT).
var w = [21]float64{0.212, 1.2931, 2.3065, 8.2956, 6.4133, 0.8334, 3.0194, 0.001, 1.8722, 0.1666, 0.796,
	1.4835, 0.0614, 0.2629, 1.6483, 0.6014, 1.8729, 0.5425, 0.0912, 0.0658, 0.1542}

// decay and factor make the retention after S days 0.9.
var (
	decay  = -w[20]
	factor = math.Pow(0.9, 1/decay) - 1
)

const (
	leastStability, mostStability = 0.001, 36500
	leastHard, mostHard           = 1, 10
)

// Retention is the chance, 0 to 1, that an item of this stability (days until it has fallen to 0.9) is
// still there after so many days. Days below 0 count as 0.
func Retention(days, stabilityDays float64) float64 {
	// math.Pow would say the same and take longer, and a studio asks for it hundreds of thousands of times.
	return math.Exp(decay * math.Log(1+factor*max(days, 0)/max(stabilityDays, leastStability)))
}

// IntervalDays is after how many days retention has fallen to a target between 0 and 1.
func IntervalDays(stabilityDays, target float64) float64 {
	return stabilityDays / factor * (math.Pow(target, 1/decay) - 1)
}

// Trace is what is left of all playings of one item. The zero Trace was never played.
type Trace struct {
	StabilityDays float64
	Hard          float64 // how hard it is for this student, 1 to 10
	Playings      int
}

func firstHard(r Rating) float64 { return w[4] - math.Exp(w[5]*float64(r-1)) + 1 }

// After is the trace after another playing, so many whole days after the last one (0: the same day).
func (t Trace) After(days float64, r Rating) Trace {
	if r < BrokeDown || r > AtTempo {
		return t
	}
	if t.Playings == 0 {
		return Trace{w[r-1], clamp(firstHard(r), leastHard, mostHard), 1}
	}
	left := Retention(days, t.StabilityDays)
	next := Trace{t.StabilityDays, t.harder(r), t.Playings + 1}
	switch {
	case days < 1:
		next.StabilityDays = t.sameDay(r)
	case r == BrokeDown:
		next.StabilityDays = t.lapse(left)
	default:
		next.StabilityDays = t.held(left, r)
	}
	next.StabilityDays = clamp(next.StabilityDays, leastStability, mostStability)
	return next
}

func (t Trace) held(left float64, r Rating) float64 {
	gain := math.Exp(w[8]) * (11 - t.Hard) * math.Pow(t.StabilityDays, -w[9]) * (math.Exp((1-left)*w[10]) - 1)
	switch r {
	case Stopped:
		gain *= w[15]
	case AtTempo:
		gain *= w[16]
	}
	return t.StabilityDays * (1 + gain)
}

func (t Trace) lapse(left float64) float64 {
	s := w[11] * math.Pow(t.Hard, -w[12]) * (math.Pow(t.StabilityDays+1, w[13]) - 1) * math.Exp((1-left)*w[14])
	return min(s, t.StabilityDays/math.Exp(w[17]*w[18]))
}

func (t Trace) sameDay(r Rating) float64 {
	k := math.Exp(w[17]*(float64(r-3)+w[18])) * math.Pow(t.StabilityDays, -w[19])
	if r >= Stopped {
		k = max(k, 1)
	}
	return t.StabilityDays * k
}

func (t Trace) harder(r Rating) float64 {
	d := -w[6] * float64(r-3)
	x := t.Hard + (10-t.Hard)*d/9
	return clamp(w[7]*firstHard(AtTempo)+(1-w[7])*x, leastHard, mostHard)
}

// HalfLife is the other published shape of forgetting: half is left after each half-life (Settles &
// Meeder 2016). It is for comparison; the plan uses Retention.
func HalfLife(days, halfLifeDays float64) float64 { return math.Pow(2, -days/halfLifeDays) }

func clamp(x, low, high float64) float64 { return min(max(x, low), high) }
