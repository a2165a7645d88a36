package forecast

import (
	"math"
	"math/rand/v2"
	"slices"

	"antiphon/internal/plan/calendar"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Question asks when what is left will be finished.
type Question struct {
	Student Past
	Studio  Studio
	Left    []float64 // load of each work that is left in their order, the one being learnt first; 0 counts as 1
	From    calendar.Day
	Free    calendar.Free
	Width   Width  // learnt from earlier forecasts; the zero Width changes nothing
	Draws   int    // 0: 5000
	Seed    uint64 // of chance; the same question with the same seed has the same answer
}

// Range of days, or of weeks.
type Range struct {
	From calendar.Day `json:"from"`
	To   calendar.Day `json:"to"`
}

// Answer is a forecast. There is a date in the middle, but it is never to be shown alone.
type Answer struct {
	Half    Range // with a chance of one half
	Most    Range // with a chance of four in five
	Middle  calendar.Day
	Weeks   []float64 // teaching weeks until it is finished, sorted: equally likely
	Reasons []string  // whole sentences
	Open    bool      // the end of Most lies further away than dates can be trusted; ten years

	Raw    *[5]float64 // weeks at 10, 25, 50, 75 and 90 % before the Width, for a Record
	Missed float64     // share of teaching weeks without a recording so far
}

const (
	usualDraws = 5000
	mostWeeks  = 520 // ten years: what takes longer is not forecast
)

// Finish answers a question. With nothing left it is finished today.
func Finish(q Question) Answer {
	q.Studio = q.Studio.of(q.Student)
	raw := q.draws()
	a := Answer{Weeks: slices.Clone(raw), Missed: q.Student.Missed()}
	a.Raw = &[5]float64{quantile(raw, 0.1), quantile(raw, 0.25), quantile(raw, 0.5), quantile(raw, 0.75), quantile(raw, 0.9)}
	q.Width.apply(a.Weeks)
	slices.Sort(a.Weeks)
	at := func(p float64) calendar.Day {
		d, ok := q.Free.After(q.From, int(math.Ceil(quantile(a.Weeks, p))))
		a.Open = a.Open || !ok
		return d
	}
	a.Half = Range{at(0.25), at(0.75)}
	a.Most = Range{at(0.10), at(0.90)}
	a.Middle = at(0.5)
	a.Open = a.Open || quantile(a.Weeks, 0.9) >= mostWeeks
	a.Reasons = q.reasons(a)
	return a
}

// weeks draws how many teaching weeks it may take, sorted.
func (q Question) weeks() []float64 {
	out := q.draws()
	q.Width.apply(out)
	slices.Sort(out)
	return out
}

// draws are the same before the Width.
func (q Question) draws() []float64 {
	n := q.Draws
	if n <= 0 {
		n = usualDraws
	}
	out := make([]float64, n)
	if len(q.Left) == 0 {
		return out
	}
	rng := rand.New(rand.NewPCG(q.Seed, uint64(len(q.Left))))
	pace, came := q.pace(), q.attends()
	for i := range out {
		out[i] = q.draw(rng, pace, came)
	}
	slices.Sort(out)
	return out
}

// fade is the weight that a week keeps for each week that has passed since, where pace drifts: the steady gain of
// a filter that follows it.
func (q Question) fade() float64 {
	return 1 - min(q.Studio.Drift*math.Sqrt(q.Studio.Pace.Mean()*q.Studio.Even), 0.2)
}

// pace is the belief about the student's pace: the studio's, and what the student's own works tell.
func (q Question) pace() Gamma {
	g, fade := q.Studio.Pace, q.fade()
	for _, d := range q.Student.Done {
		w := math.Pow(fade, d.Ago)
		g = g.After(w*q.Studio.Even, w*q.Studio.Even*d.Weeks/d.load())
	}
	if now := q.Student.Now; now.Weeks > 0 {
		g.Rate += q.Studio.Even * now.Weeks / now.load()
	}
	return g
}

func (q Question) attends() Beta {
	b, fade, w := q.Studio.Came, q.fade(), 1.0
	came := q.Student.Came
	// weeks that stick together tell less than as many apart
	tells := (1 - q.Studio.Stick) / (1 + q.Studio.Stick)
	for i := len(came) - 1; i >= 0; {
		j := i
		for j >= 0 && !came[j] {
			j--
		}
		switch {
		case j == i:
			b.Yes += w * tells
			j--
		case i-j < pauseFrom:
			b.No += w * tells * float64(i-j)
		}
		for ; i > j; i-- {
			w *= fade
		}
	}
	return b
}

// changing is the share of students whose pace moves at all (our choice, no source).
const changing = 0.5

// driftEvery is after how many weeks the pace of a draw moves.
const driftEvery = 4

func (q Question) draw(rng *rand.Rand, pace Gamma, came Beta) float64 {
	s := q.Studio
	speed := distuv.Gamma{Alpha: pace.Shape, Beta: pace.Rate, Src: rng}.Rand()
	share := distuv.Beta{Alpha: came.Yes, Beta: came.No, Src: rng}.Rand()
	need := q.need(rng, speed)
	again, first := s.Stick+(1-s.Stick)*share, (1-s.Stick)*share
	there, step := rng.Float64() < share, 1.0
	if k := len(q.Student.Came); k > 0 {
		there = q.Student.Came[k-1]
	}
	pause := q.inPause(rng)
	drift := 0.0
	if rng.Float64() < changing { // some families change their ways and some do not; on average it is Drift
		drift = s.Drift / math.Sqrt(changing)
	}
	for week := 1; ; week++ {
		if week >= mostWeeks {
			return mostWeeks
		}
		if week%driftEvery == 0 {
			step *= math.Exp(rng.NormFloat64() * drift * math.Sqrt(driftEvery))
		}
		if pause > 0 {
			pause--
			continue
		}
		if rng.Float64() < s.Pauses {
			pause = q.pauseWeeks(rng) - 1
			there = true
			continue
		}
		p := first
		if there {
			p = again
		}
		if there = rng.Float64() < p; !there {
			continue
		}
		if need -= step; need <= 0 {
			return float64(week) + need/step
		}
	}
}

// need is how many weeks with a recording the works that are left take at the pace of today.
func (q Question) need(rng *rand.Rand, speed float64) float64 {
	even := q.Studio.Even
	sum := 0.0
	for i, load := range q.Left {
		if load <= 0 {
			load = 1
		}
		rate := even * speed / load
		if had := q.Student.Now.Weeks; i == 0 && had > 0 { // it has taken so long and is not finished
			gone := mathext.GammaIncReg(even, rate*had)
			if u := gone + rng.Float64()*(1-gone); u < 1-1e-9 {
				sum += max(mathext.GammaIncRegInv(even, u)/rate-had, 0)
				continue
			}
			sum += rng.ExpFloat64() / rate
			continue
		}
		sum += distuv.Gamma{Alpha: even, Beta: rate, Src: rng}.Rand()
	}
	return sum
}

func (q Question) pauseWeeks(rng *rand.Rand) int {
	more := max(q.Studio.Pause-pauseFrom, 0.01)
	return pauseFrom + int(rng.ExpFloat64()*more)
}

// inPause is how many weeks of a pause that is going on are left.
func (q Question) inPause(rng *rand.Rand) int {
	n := len(q.Student.Came)
	run := 0
	for run < n && !q.Student.Came[n-1-run] {
		run++
	}
	if run < pauseFrom || run == n {
		return 0
	}
	return int(rng.ExpFloat64() * max(q.Studio.Pause-pauseFrom, 0.01))
}
