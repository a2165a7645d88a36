// Package forecast says when a student will have finished what is left, as ranges with their reasons, and
// how good such ranges were before.
//
// It gives no single date and no opinion of the student: pace is a matter of the works, the weeks and the
// family's calendar. It knows no clock; the same question gets the same answer.
package forecast

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Gamma is what is believed of a pace: works, or units of load, per week.
type Gamma struct {
	Shape float64 // like works that were seen
	Rate  float64 // like weeks in which they were seen
}

func (g Gamma) Mean() float64 { return g.Shape / g.Rate }
func (g Gamma) SD() float64   { return math.Sqrt(g.Shape) / g.Rate }

// After is the belief after so many more finished in so many weeks.
func (g Gamma) After(finished, weeks float64) Gamma { return Gamma{g.Shape + finished, g.Rate + weeks} }

// DoneBy is the chance that n or more are finished in so many weeks, where works finish like a Poisson process
// (the number finished is negative binomial).
func (g Gamma) DoneBy(n int, weeks float64) float64 {
	switch {
	case n <= 0:
		return 1
	case weeks <= 0:
		return 0
	}
	return mathext.RegIncBeta(float64(n), g.Shape, weeks/(g.Rate+weeks))
}

// WeeksFor is the first whole week by which n are finished with a chance of p or more.
func (g Gamma) WeeksFor(n int, p float64) int {
	const most = 1 << 20
	low, high := 0, 1
	for g.DoneBy(n, float64(high)) < p {
		if low, high = high, 2*high; high > most {
			return most
		}
	}
	if n <= 0 {
		return 0
	}
	for high-low > 1 {
		if mid := (low + high) / 2; g.DoneBy(n, float64(mid)) >= p {
			high = mid
		} else {
			low = mid
		}
	}
	return high
}

// MeanWait is how many weeks n take on average; without end where the belief is too thin for a mean.
func (g Gamma) MeanWait(n int) float64 {
	if g.Shape <= 1 {
		return math.Inf(1)
	}
	return float64(n) * g.Rate / (g.Shape - 1)
}

// Tally is what one student finished in how many weeks.
type Tally struct{ Finished, Weeks float64 }

// UsualPace is believed of a studio of which nothing is known: a work in two weeks, give or take much (our
// choice, no source).
func UsualPace() Gamma { return Gamma{3, 6} }

// Prior finds the belief about a new student from those of the studio by the method of moments: the
// mean of their rates, and what their spread has beyond that of a Poisson count (over: that many times
// as much chance as in one, 1 usual). With fewer than four students it is UsualPace.
func Prior(studio []Tally, over float64) Gamma {
	var n, sum, sumSq, each float64
	for _, t := range studio {
		if t.Weeks <= 0 {
			continue
		}
		r := t.Finished / t.Weeks
		n, sum, sumSq, each = n+1, sum+r, sumSq+r*r, each+1/t.Weeks
	}
	if n < 4 || sum == 0 {
		return UsualPace()
	}
	m := sum / n
	v := (sumSq-n*m*m)/(n-1) - over*m*each/n
	v = max(v, m*m/50) // students are never all alike
	return Gamma{m * m / v, m / v}
}
