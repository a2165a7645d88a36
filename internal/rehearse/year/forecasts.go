package year

import (
	"math"
	"math/rand/v2"
	"runtime"

	"antiphon/internal/plan/forecast"
	"golang.org/x/sync/errgroup"
)

// Said is one forecast and what came, in teaching weeks.
type Said struct {
	Student  int
	Week     int // of the simulation
	Law      string
	Habit    string
	Weeks    []float64 // equally likely
	Came     float64
	Plain    float64   // what a constant mean rate says, as one number
	PlainAll []float64 // and as the spread of a Poisson process at that rate
	answer   forecast.Answer
}

// latest is how far the truth is followed: who has not finished by then is counted as then.
const latest = 900

// past is what a teacher knows of a student after so many weeks.
func (st *Student) past(weeks int) forecast.Past {
	var p forecast.Past
	came := 0.0
	var at []float64 // for each teaching week with a recording, its number
	for w := range weeks {
		if !st.weeks[w].teaching {
			continue
		}
		p.Came = append(p.Came, st.weeks[w].came)
		if st.weeks[w].came {
			came++
			at = append(at, float64(w))
		}
	}
	with := func(from, to float64) float64 { // weeks with a recording between two moments, finished ones by their week
		n := 0.0
		for _, w := range at {
			if from <= w && w < to {
				n++
			}
		}
		return n
	}
	from := 0.0
	for _, w := range st.works {
		if w.done == 0 || w.done > float64(weeks) {
			p.Now = forecast.Step{Load: w.load, Weeks: with(from, float64(weeks))}
			break
		}
		to := math.Ceil(w.done)
		ago := 0.0
		for i := int(to); i < weeks; i++ {
			if st.weeks[i].teaching {
				ago++
			}
		}
		p.Done = append(p.Done, forecast.Step{Load: w.load, Weeks: with(from, to), Ago: ago})
		from = to
	}
	return p
}

// Forecasts asks for every student at the weeks of the settings, as a studio would: with what is known then, of this
// student and of all, and with how earlier forecasts turned out.
func Forecasts(s *Settings, seed uint64, students, draws int) []Said {
	all := make([]*Student, students)
	for i := range all {
		all[i] = s.Draw(seed, uint64(i))
		all[i].live(s, s.Weeks)
	}
	var said []Said
	var made [][]Said
	for _, at := range s.ForecastAt {
		pasts := make([]forecast.Past, students)
		for i, st := range all {
			pasts[i] = st.past(at)
		}
		studio := forecast.Learn(pasts)
		var records []forecast.Record
		for _, earlier := range made {
			for _, e := range earlier {
				since := float64(s.teaching(e.Week, at))
				came := 0.0
				if e.Came <= since {
					came = e.Came
				}
				records = append(records, forecast.RecordOf(e.answer, since, came))
			}
		}
		now := make([]Said, students)
		var g errgroup.Group
		g.SetLimit(runtime.GOMAXPROCS(0))
		for i, st := range all {
			g.Go(func() error {
				rng := rand.New(rand.NewPCG(seed^0x9e3779b97f4a7c15, uint64(i*1000+at)))
				left := whole(rng, s.WorksLeft)
				q := forecast.Question{Student: pasts[i], Studio: studio, Width: forecast.LearnWidth(records, pasts[i].Missed()), Draws: draws, Seed: uint64(i*1000 + at)}
				now[i] = st.ask(s, q, at, left)
				now[i].Student = i
				return nil
			})
		}
		_ = g.Wait() // the functions have no error
		made = append(made, now)
		if at >= s.JudgedFrom {
			said = append(said, now...)
		}
	}
	return said
}

// ask makes one forecast and looks what came.
func (st *Student) ask(s *Settings, q forecast.Question, at, left int) Said {
	first := len(q.Student.Done) // the one being learnt
	until := at
	for len(st.works) <= first+left && until < latest {
		until++
		st.live(s, until)
	}
	for k := range left {
		load := 1.0
		if first+k < len(st.works) {
			load = st.works[first+k].load
		}
		q.Left = append(q.Left, load)
	}
	e := Said{Week: at, Law: st.Law.Name, Habit: st.Habit.Name, answer: forecast.Finish(q)}
	e.Weeks = e.answer.Weeks
	end := float64(latest)
	if last := first + left - 1; last < len(st.works) && st.works[last].done > 0 {
		end = st.works[last].done
	}
	e.Came = float64(s.teaching(at, int(end)))
	if !s.holiday(int(end)) {
		e.Came += end - math.Floor(end)
	}
	e.Came = min(e.Came, 520)
	rate := (float64(first) + 0.5) / (float64(len(q.Student.Came)) + 0.5)
	e.Plain = float64(left) / rate
	rng := rand.New(rand.NewPCG(q.Seed, 77))
	for range len(e.Weeks) {
		sum := 0.0
		for range left {
			sum += rng.ExpFloat64() / rate
		}
		e.PlainAll = append(e.PlainAll, min(sum, 520))
	}
	return e
}

// Scores of forecasts.
type Scores struct {
	Count                int
	In50, In80           float64 // share
	CRPS, Point, Poisson float64 // mean: ours, of the mean rate as one number, and as a Poisson process
	Even                 float64 // chance that places which are spread evenly look as uneven
}

// Gain is by how much ours is better than another, as a share.
func Gain(ours, other float64) float64 { return 1 - ours/other }

// Score them. Places are taken of one forecast for each student, since those of one student hang together.
func Score(all []Said) Scores {
	s := Scores{Count: len(all)}
	last := map[int]Said{}
	for _, e := range all {
		in := func(a, b float64) float64 {
			if p := forecast.Place(e.Weeks, e.Came); a <= p && p <= b {
				return 1
			}
			return 0
		}
		n := float64(len(all))
		s.In50 += in(0.25, 0.75) / n
		s.In80 += in(0.1, 0.9) / n
		s.CRPS += forecast.CRPS(e.Weeks, e.Came) / n
		s.Point += math.Abs(e.Plain-e.Came) / n
		s.Poisson += forecast.CRPS(e.PlainAll, e.Came) / n
		last[e.Student] = e
	}
	var places []float64
	for _, e := range last {
		places = append(places, forecast.Place(e.Weeks, e.Came))
	}
	s.Even = forecast.EvenSpread(places)
	return s
}
