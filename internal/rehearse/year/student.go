package year

import (
	"math"
	"math/rand/v2"
)

// Student with what nobody sees.
type Student struct {
	Law   *Law
	Habit *Habit
	seed  uint64
	n     uint64

	came   float64 // share of weeks
	pace   float64 // works in a week with a recording
	growth float64
	weeks  []week // lived so far
	works  []work
	level  float64 // of pace, now, as a logarithm
	shift  float64 // of coming, now, as a logit
	fade   int     // weeks of fading left
	pause  int
	rng    *rand.Rand
	owed   float64 // of the work being learnt
}

// week as it went.
type week struct {
	teaching bool
	came     bool
	minutes  float64
}

// work that was learnt, or is being learnt.
type work struct {
	load float64 // as it is known
	done float64 // week in which it was finished, with its part; 0 not yet
}

// pick draws one of several by share.
func pick(rng *rand.Rand, shares []float64) int {
	sum := 0.0
	for _, s := range shares {
		sum += s
	}
	x := rng.Float64() * sum
	for i, s := range shares {
		if x -= s; x < 0 {
			return i
		}
	}
	return len(shares) - 1
}

func between(rng *rand.Rand, p [2]float64) float64 { return p[0] + rng.Float64()*(p[1]-p[0]) }
func whole(rng *rand.Rand, p [2]int) int           { return p[0] + rng.IntN(p[1]-p[0]+1) }

// Draw makes a student; the same seed and number make the same one.
func (s *Settings) Draw(seed, n uint64) *Student {
	rng := rand.New(rand.NewPCG(seed, n))
	var laws, habits []float64
	for _, l := range s.Laws {
		laws = append(laws, l.Share)
	}
	for _, h := range s.Habits {
		habits = append(habits, h.Share)
	}
	st := &Student{Law: &s.Laws[pick(rng, laws)], Habit: &s.Habits[pick(rng, habits)], seed: seed, n: n, rng: rng}
	st.came = between(rng, st.Habit.Came)
	st.pace = s.Pace.WorksAWeek * math.Exp(s.Pace.Spread*rng.NormFloat64())
	st.growth = between(rng, s.Review.Growth)
	st.begin(s)
	return st
}

// begin takes up the next work.
func (st *Student) begin(s *Settings) {
	load := math.Exp(s.Load.Spread * st.rng.NormFloat64())
	st.works = append(st.works, work{load: load})
	st.owed = load * math.Exp(s.Load.Unseen*st.rng.NormFloat64()-s.Load.Unseen*s.Load.Unseen/2)
}

// holiday says whether a week of the simulation is one.
func (s *Settings) holiday(week int) bool {
	for _, h := range s.Holidays {
		if w := week % 52; h[0] <= w && w < h[0]+h[1] {
			return true
		}
	}
	return false
}

// live goes on to the end of a week.
func (st *Student) live(s *Settings, until int) {
	for len(st.weeks) < until {
		st.weeks = append(st.weeks, st.next(s))
	}
}

func (st *Student) next(s *Settings) week {
	h, rng, n := st.Habit, st.rng, len(st.weeks)
	if s.holiday(n) {
		return week{}
	}
	if rng.Float64() < h.ChangesAYear/52 {
		st.level = 0.6*st.level + h.ChangeSpread*rng.NormFloat64()
		st.shift = 0.6*st.shift + 1.5*h.ChangeSpread*rng.NormFloat64()
		if rng.Float64() < h.Fading {
			st.fade = 8 + rng.IntN(12)
		}
	}
	if st.pause == 0 && rng.Float64() < h.PausesAYear/52 {
		st.pause = whole(rng, h.PauseWeeks)
	}
	if st.pause > 0 {
		st.pause--
		return week{teaching: true}
	}
	minutes := math.Exp(h.MinutesSpread*rng.NormFloat64() - h.MinutesSpread*h.MinutesSpread/2)
	logit := math.Log(st.came/(1-st.came)) + st.shift
	if st.fade > 0 {
		st.fade--
		logit -= 1.5
		minutes *= 0.6
	}
	p := 1 / (1 + math.Exp(-logit))
	if k := len(st.weeks); k > 0 && st.weeks[k-1].teaching { // weeks stick together
		last := 0.0
		if st.weeks[k-1].came {
			last = 1
		}
		p = h.Stick*last + (1-h.Stick)*p
	}
	w := week{teaching: true, came: rng.Float64() < p}
	if !w.came {
		w.minutes = 15 * minutes * rng.Float64()
		return w
	}
	w.minutes = 80 * minutes
	work := st.pace * math.Exp(st.level) * minutes
	for left := work; left > 0; {
		if st.owed > left {
			st.owed -= left
			break
		}
		left -= st.owed
		st.works[len(st.works)-1].done = float64(n) + 1 - left/work
		st.begin(s)
	}
	return w
}

// teaching counts the teaching weeks from one week to before another.
func (s *Settings) teaching(from, to int) int {
	n := 0
	for w := from; w < to; w++ {
		if !s.holiday(w) {
			n++
		}
	}
	return n
}
