// Package ladder makes tempo ladders that fit what was heard: where to begin, how far apart the rungs
// are, how many days it will likely take, and when to stop.
//
// There is little research on small steps of tempo; the size of a rung is the teacher's choice, and
// bent only by the student's own record. It says nothing about music that should not be fast.
package ladder

import (
	"fmt"
	"math"
	"slices"

	"antiphon/internal/plan/calendar"
)

// Rules of a ladder. The zero value is the usual one.
type Rules struct {
	Step     float64 // of one rung to the next, 0.05 is five in a hundred; 0: from the student's record, else UsualStep
	UpAfter  int     // clean in a row before the next rung; 0: 3
	DownTwo  int     // failures at which two rungs are gone back; 0: 2
	MostADay float64 // growth from one day to the next at most; 0: 0.10
}

// UsualStep and its bounds. Teacher's preference, common practice, no source.
const (
	UsualStep = 0.05
	LeastStep = 0.02
	MostStep  = 0.08
)

func (r Rules) or() Rules {
	if r.UpAfter <= 0 {
		r.UpAfter = 3
	}
	if r.DownTwo <= 0 {
		r.DownTwo = 2
	}
	if r.MostADay <= 0 {
		r.MostADay = 0.10
	}
	return r
}

// Try is the passage once, at a tempo: from a take, or counted at home.
type Try struct {
	Day   calendar.Day
	Bpm   float64
	Clean bool
}

// Rungs from one tempo to another, each larger than the one before by a share; the last is the goal itself. With no
// way to go it is the goal alone.
func Rungs(from, goal, step float64) []float64 {
	if !(from > 0) || !(step > 0) || goal <= from {
		return []float64{goal}
	}
	n := int(math.Ceil(math.Log(goal/from)/math.Log(1+step) - 1e-9))
	r := make([]float64, n+1)
	for k := range r {
		r[k] = min(from*math.Pow(1+step, float64(k)), goal)
	}
	r[n] = goal
	return r
}

// Ladder is one way to a tempo.
type Ladder struct {
	Rungs  []float64 // the first is where to begin
	Step   float64
	Days   int      // of practice until the goal, as this student goes; 0 unknown
	DaysTo [2]int   // from and to, in four of five cases
	Why    []string // whole sentences
	Split  bool     // two failures at one rung on two days: take less music
	Rules  Rules
}

// Fit makes the ladder to a goal from what was tried. Nothing clean: it begins well below the slowest failure, or at half of the goal.
func Fit(tries []Try, goalBpm float64, rules Rules) Ladder {
	l := Ladder{Rules: rules.or()}
	tries = slices.Clone(tries)
	slices.SortStableFunc(tries, func(a, b Try) int { return int(a.Day - b.Day) })
	begin, words := begin(tries, goalBpm)
	l.Why = append(l.Why, words)
	if begin >= goalBpm {
		l.Rungs, l.Step = []float64{goalBpm}, UsualStep
		l.Why = []string{fmt.Sprintf("It has been heard clean at %s: the goal is reached.", bpm(goalBpm))}
		return l
	}
	l.Step, words = step(tries, rules)
	l.Why = append(l.Why, words)
	l.Rungs = Rungs(begin, goalBpm, l.Step)
	l.days(tries, begin, goalBpm)
	if l.Split = stuck(tries); l.Split {
		l.Why = append(l.Why, "Two failures at the same rung on two days: take half the bars, or the two hands apart, before going on.")
	}
	return l
}

func begin(tries []Try, goal float64) (float64, string) {
	clean, slowest := 0.0, math.Inf(1)
	for _, t := range tries {
		if t.Clean {
			clean = max(clean, t.Bpm)
		} else {
			slowest = min(slowest, t.Bpm)
		}
	}
	switch {
	case clean > 0:
		return clean, fmt.Sprintf("Begins at %s, the fastest that was heard clean.", bpm(clean))
	case !math.IsInf(slowest, 1):
		from := math.Round(min(slowest*0.8, goal*0.8))
		return from, fmt.Sprintf("Begins at %s: it was not clean yet at %s.", bpm(from), bpm(slowest))
	}
	from := math.Round(goal / 2)
	return from, fmt.Sprintf("Begins at %s, half of the goal, as nothing was heard yet.", bpm(from))
}

// step is the size of a rung: the median of the clean growth from day to day, where there are five such days.
func step(tries []Try, rules Rules) (float64, string) {
	if rules.Step > 0 {
		return min(rules.Step, 0.25), fmt.Sprintf("Each rung is %.0f %% above the last, as the teacher set.", 100*min(rules.Step, 0.25))
	}
	var grown []float64
	best, failed, tried := 0.0, 0, 0
	for _, t := range tries {
		tried++
		if !t.Clean {
			failed++
			continue
		}
		if best > 0 && t.Bpm > best {
			grown = append(grown, t.Bpm/best-1)
		}
		best = max(best, t.Bpm)
	}
	if len(grown) < 5 {
		return UsualStep, fmt.Sprintf("Each rung is %.0f %% above the last, as is usual; there is little record yet.", 100*UsualStep)
	}
	slices.Sort(grown)
	s := grown[len(grown)/2]
	if 3*failed > tried { // one in three failed: the rungs were too far apart
		s *= 0.7
	}
	s = min(max(s, LeastStep), MostStep)
	return s, fmt.Sprintf("Each rung is %.0f %% above the last, as this student has gone up so far.", 100*s)
}

// days is how long the rest will take: at the growth per day that was heard, with its spread.
func (l *Ladder) days(tries []Try, begin, goal float64) {
	perDay, spread := 0.02, 0.7 // a rung in two or three days where nothing is known (our choice, no source)
	if first, last, days := firstLast(tries); days >= 4 && last > first {
		perDay, spread = math.Log(last/first)/float64(days), 0.5
	}
	perDay = min(max(perDay, 0.002), math.Log1p(l.Rules.MostADay))
	n := math.Log(goal/begin) / perDay
	l.Days = max(int(math.Ceil(n)), 1)
	l.DaysTo = [2]int{max(int(n*math.Exp(-1.28*spread)), 1), max(int(math.Ceil(n*math.Exp(1.28*spread))), 1)}
	l.Why = append(l.Why, fmt.Sprintf("The goal of %s is likely %d to %d days of practice away.", bpm(goal), l.DaysTo[0], l.DaysTo[1]))
}

// firstLast are the fastest clean tempos of the first day and of all, and the days on which it was tried between them.
func firstLast(tries []Try) (first, best float64, days int) {
	var from, last calendar.Day
	for _, t := range tries {
		if from != 0 && t.Day != last {
			days++
		}
		if t.Clean {
			if from == 0 {
				from, days = t.Day, 0
			}
			if t.Day == from {
				first = max(first, t.Bpm)
			}
			best = max(best, t.Bpm)
		}
		last = t.Day
	}
	return first, best, days
}

// stuck says that one rung failed twice on each of the last two days on which it was tried.
func stuck(tries []Try) bool {
	type at struct {
		day calendar.Day
		bpm float64
	}
	fails := map[at]int{}
	var days []calendar.Day
	for _, t := range tries {
		if !t.Clean {
			fails[at{t.Day, math.Round(t.Bpm)}]++
		}
		if len(days) == 0 || days[len(days)-1] != t.Day {
			days = append(days, t.Day)
		}
	}
	if len(days) < 2 {
		return false
	}
	a, b := days[len(days)-2], days[len(days)-1]
	for f, n := range fails {
		if f.day == a && n >= 2 && fails[at{b, f.bpm}] >= 2 {
			return true
		}
	}
	return false
}

// Next says what comes after the first rung, under which condition, in words for the home.
func (l Ladder) Next() string {
	r := l.Rules.or()
	if len(l.Rungs) < 2 {
		return fmt.Sprintf("If it is clean at %s once more, it is learnt: then it is kept, and something new has room.", bpm(l.Rungs[0]))
	}
	return fmt.Sprintf("If it is clean %s in a row at %s, then %s. If it goes wrong %s, go back and stay slow.", times(r.UpAfter), bpm(l.Rungs[0]), bpm(l.Rungs[1]), times(r.DownTwo))
}

func times(n int) string {
	words := [...]string{"", "once", "twice", "three times", "four times", "five times"}
	if n > 0 && n < len(words) {
		return words[n]
	}
	return fmt.Sprintf("%d times", n)
}

func bpm(x float64) string { return fmt.Sprintf("%.0f", x) }
