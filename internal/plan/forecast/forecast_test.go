package forecast

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/plan/calendar"
	"gonum.org/v1/gonum/stat/distuv"
)

type check struct {
	name              string
	got, want, within float64
}

func compare(t *testing.T, source string, checks []check) {
	t.Helper()
	for _, c := range checks {
		if !(math.Abs(c.got-c.want) <= c.within) {
			t.Errorf("%s: %.7g, want %.7g within %g (%s)", c.name, c.got, c.want, c.within, source)
		}
	}
}

// TestWorked: five works in twelve weeks, before that the belief Gamma(3, 6); seven are left.
func TestWorked(t *testing.T) {
	g := Gamma{3, 6}.After(5, 12)
	compare(t, "Gamma–Poisson, worked independently (domain reference 3.5)", []check{
		{"mean", g.Mean(), .4444, 5e-5}, {"sd", g.SD(), .1571, 5e-5},
		{"seven by week 12", g.DoneBy(7, 12), .3075, 5e-5}, {"by week 16", g.DoneBy(7, 16), .5166, 5e-5},
		{"weeks for 10 %", float64(g.WeeksFor(7, .1)), 8, 0}, {"50 %", float64(g.WeeksFor(7, .5)), 16, 0},
		{"80 %", float64(g.WeeksFor(7, .8)), 25, 0}, {"90 %", float64(g.WeeksFor(7, .9)), 31, 0},
		{"mean wait", g.MeanWait(7), 18, 1e-9}, {"nothing left", float64(g.WeeksFor(0, .9)), 0, 0},
	})
}

func TestScores(t *testing.T) {
	normal := make([]float64, 4000)
	for i := range normal {
		normal[i] = distuv.UnitNormal.Quantile((float64(i) + .5) / 4000)
	}
	compare(t, "worked by hand; the normal one is Gneiting & Raftery 2007, (√2−1)/√π", []check{
		{"four values", CRPS([]float64{20, 10, 14, 12}, 13), 1, 1e-12}, {"one value", CRPS([]float64{13}, 13), 0, 0},
		{"three values", CRPS([]float64{1, 2, 3}, 2), .2222, 5e-5}, {"normal", CRPS(normal, 0), .233695, 2e-4},
		{"80 % range", IntervalScore(.2, 10, 20, 23), 40, 1e-12}, {"inside", IntervalScore(.2, 10, 20, 13), 10, 1e-12},
		{"place", Place([]float64{1, 2, 3, 4}, 2), .375, 1e-12},
	})
	even, bent := make([]float64, 200), make([]float64, 200)
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range even {
		even[i] = rng.Float64()
		bent[i] = even[i] * even[i]
	}
	if p := EvenSpread(even); p < .05 {
		t.Errorf("even values look uneven, p = %g", p)
	}
	if p := EvenSpread(bent); p > .001 {
		t.Errorf("uneven values look even, p = %g", p)
	}
}

// TestPriorIsFound: rates of 400 students drawn from a known belief give it back.
func TestPriorIsFound(t *testing.T) {
	src := rand.NewPCG(3, 3)
	var all []Tally
	for range 400 {
		r := distuv.Gamma{Alpha: 3, Beta: 6, Src: src}.Rand()
		all = append(all, Tally{distuv.Poisson{Lambda: 30 * r, Src: src}.Rand(), 30})
	}
	g := Prior(all, 1)
	if math.Abs(g.Mean()-.5) > .05 || math.Abs(g.Shape-3) > .9 {
		t.Errorf("Gamma(3, 6) is taken for %+v", g)
	}
	if g := Prior(all[:3], 1); g != UsualPace() {
		t.Errorf("of three students %+v is believed", g)
	}
}

// plain is a studio in which chance alone rules, as in the worked example.
func plain() Studio {
	return Studio{Pace: Gamma{3, 6}, Even: 1, Came: Beta{1e7, 1e-3}, Pause: 4, Drift: 0}
}

// TestDrawsAgreeWithTheFormula: with no missed weeks, pauses or drift the draws are the worked example again.
func TestDrawsAgreeWithTheFormula(t *testing.T) {
	from, _ := calendar.Read("2026-01-05")
	q := Question{Studio: plain(), Left: make([]float64, 7), From: from, Draws: 20000}
	for range 5 {
		q.Student.Done = append(q.Student.Done, Step{Weeks: 12. / 5})
	}
	q.Student.Came = []bool{true, true, true, true, true, true, true, true}
	a := Finish(q)
	for _, c := range []struct{ weeks, p float64 }{{12, .3075}, {16, .5166}, {31, .9}} {
		if got := Place(a.Weeks, c.weeks); math.Abs(got-c.p) > .02 {
			t.Errorf("by week %g: %.3f, want %.3f", c.weeks, got, c.p)
		}
	}
	if a.Middle != from+16*7 || a.Most.From != from+8*7 || a.Most.To < from+30*7 || a.Most.To > from+32*7 {
		t.Errorf("half %v, most %v, middle %s", a.Half, a.Most, a.Middle)
	}
	q.Free = calendar.Free{{From: from + 14, To: from + 14 + 34}}
	if b := Finish(q); b.Middle != from+21*7 {
		t.Errorf("past five weeks of holidays the middle is %d weeks away, want 21", (b.Middle-from)/7)
	}
}

// TestRangesHoldWhatComes: in a studio of its own making the ranges hold as often as they say.
func TestRangesHoldWhatComes(t *testing.T) {
	src := rand.NewPCG(11, 5)
	rng := rand.New(src)
	var in50, in80 int
	var places []float64
	const n = 600
	for i := range n {
		rate := distuv.Gamma{Alpha: 3, Beta: 6, Src: src}.Rand()
		q := Question{Studio: plain(), Left: []float64{1, 1, 1, 1, 1, 1}, Draws: 1000, Seed: uint64(i)}
		for had := 0.0; ; {
			took := rng.ExpFloat64() / rate
			if had+took > 20 {
				q.Student.Now = Step{Weeks: 20 - had}
				break
			}
			had += took
			q.Student.Done = append(q.Student.Done, Step{Weeks: took})
		}
		came := 0.0
		for range 6 {
			came += rng.ExpFloat64() / rate
		}
		if came >= mostWeeks {
			came = mostWeeks
		}
		w := q.weeks()
		if quantile(w, .25) <= came && came <= quantile(w, .75) {
			in50++
		}
		if quantile(w, .1) <= came && came <= quantile(w, .9) {
			in80++
		}
		places = append(places, Place(w, came))
	}
	if in50 < n*43/100 || in50 > n*57/100 || in80 < n*75/100 || in80 > n*85/100 {
		t.Errorf("50 %% ranges hold %d, 80 %% ranges %d of %d", in50, in80, n)
	}
	if p := EvenSpread(places); p < .01 {
		t.Errorf("what came is spread unevenly over the forecasts, p = %g", p)
	}
}

func TestReasons(t *testing.T) {
	from, _ := calendar.Read("2026-01-05")
	q := Question{Studio: plain(), Left: []float64{1.5, 1.5}, From: from, Draws: 300,
		Free: calendar.Free{{From: from, To: from + 13, Name: "winter"}}}
	q.Student.Came = []bool{true, false, true, true, false, true}
	got := strings.Join(Finish(q).Reasons, " ")
	for _, want := range []string{"2 works are left", "No work has been finished yet", "2 of the last 6 teaching weeks had no recording", "2 weeks of holidays"} {
		if !strings.Contains(strings.ToLower(got), strings.ToLower(want)) {
			t.Errorf("%q is not said in: %s", want, got)
		}
	}
	for range 5 {
		q.Student.Done = append(q.Student.Done, Step{Load: 1, Weeks: 3})
	}
	if got := strings.Join(Finish(q).Reasons, " "); !strings.Contains(got, "5 works have been finished") || !strings.Contains(got, "asks about 50 % more") {
		t.Error(got)
	}
	q.Left = nil
	if a := Finish(q); a.Most.To != from || a.Half.From != from || len(a.Reasons) != 1 {
		t.Errorf("with nothing left: %v, %v", a.Most, a.Reasons)
	}
}

// TestSlowerWhenLess: more works, harder works and missed weeks never bring the end nearer.
func TestSlowerWhenLess(t *testing.T) {
	base := Question{Studio: Learn(nil), Left: []float64{1, 1, 1}, Draws: 3000}
	for range 8 {
		base.Student.Done = append(base.Student.Done, Step{Load: 1, Weeks: 2})
		base.Student.Came = append(base.Student.Came, true)
	}
	middle := func(q Question) float64 { return quantile(q.weeks(), .5) }
	m := middle(base)
	more, harder, missed := base, base, base
	more.Left = []float64{1, 1, 1, 1}
	harder.Left = []float64{2, 2, 2}
	missed.Student.Came = []bool{true, false, true, false, true, false, false, true}
	for name, q := range map[string]Question{"more works": more, "harder works": harder, "missed weeks": missed} {
		if got := middle(q); got <= m {
			t.Errorf("%s: %g weeks, before %g", name, got, m)
		}
	}
	if a, b := base.weeks(), base.weeks(); !slices.Equal(a, b) {
		t.Error("the same question gets two answers")
	}
}

// TestWidthIsLearnt: where ranges were too narrow by half, they become wider; good ones stay.
func TestWidthIsLearnt(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	records := func(spread float64) (all []Record) {
		for range 400 {
			z := 1.2816
			all = append(all, Record{20 * math.Exp(-.3*z), 20 * math.Exp(-.3*.6745), 20, 20 * math.Exp(.3*.6745), 20 * math.Exp(.3*z), 100, 20 * math.Exp(spread*rng.NormFloat64()), nil, .1})
		}
		return all
	}
	if w := LearnWidth(records(.6), .1); w.Wider < 1.45 || w.Wider > 2.2 || w.Inner < 1.45 || w.Inner > 2.3 || math.Abs(w.Later-1) > .1 {
		t.Errorf("too narrow by half: %+v", w)
	}
	if w := LearnWidth(records(.3), .1); math.Abs(w.Wider-1) > .12 || math.Abs(w.Inner-1) > .15 {
		t.Errorf("right as they were: %+v", w)
	}
	if w := LearnWidth(records(.6)[:5], .1); w != (Width{}) {
		t.Errorf("five forecasts change the width: %+v", w)
	}
	both := records(.3) // of students who missed little these hold; of those who missed much they were too narrow by half
	for i, r := range records(.6) {
		r.Missed = .6
		if i%2 == 0 {
			both[i] = r
		}
	}
	if a, b := LearnWidth(both, .1), LearnWidth(both, .6); b.Wider < a.Wider*1.2 {
		t.Errorf("students who missed little %+v, much %+v", a, b)
	}
	raw := records(.6) // made wider since: what was learnt of the model does not undo itself
	for i, r := range raw {
		r.Raw = &[5]float64{r.Low80, r.Low50, r.Middle, r.High50, r.High80}
		r.Low80, r.High80 = r.Low80/1.5, r.High80*1.5
		raw[i] = r
	}
	if a, b := LearnWidth(records(.6), .1), LearnWidth(raw, .1); math.Abs(a.Wider-b.Wider) > .25 {
		t.Errorf("as said %+v, before a width %+v", a, b)
	}
	s := Judge(records(.3))
	if s.Judged != 400 || math.Abs(s.In80-.8) > .06 || !strings.Contains(s.Words, "Of 400") {
		t.Errorf("%+v", s)
	}
}

// TestPausesAreNoSpells: weeks that come by chance, with pauses between them, do not stick together; weeks that do, do.
func TestPausesAreNoSpells(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 1))
	for _, c := range []struct{ stick, low, high float64 }{{0, 0, 0.06}, {0.4, 0.12, 0.45}} { // what looks like a pause is taken for one, so not all of it is seen
		var all []Past
		for range 60 {
			var p Past
			came := true
			for len(p.Came) < 80 {
				if rng.IntN(30) == 0 {
					p.Came = append(p.Came, make([]bool, 5)...)
				}
				chance := 0.8 * (1 - c.stick)
				if came {
					chance += c.stick
				}
				came = rng.Float64() < chance
				p.Came = append(p.Came, came)
			}
			all = append(all, p)
		}
		if got := Learn(all).Stick; got < c.low || got > c.high {
			t.Errorf("weeks that stick by %g seem to stick by %.3f", c.stick, got)
		}
	}
	if got, want := pauses([]bool{false, false, false, true, false, true, false, false, false, false}), []bool{true, true, true, false, false, false, true, true, true, true}; !slices.Equal(got, want) {
		t.Errorf("pauses: %v", got)
	}
}
