package memory

import (
	"math"
	"math/rand/v2"
	"testing"

	"antiphon/internal/plan/calendar"
)

type check struct {
	name   string
	got    float64
	want   float64
	within float64
}

func compare(t *testing.T, source string, checks []check) {
	t.Helper()
	for _, c := range checks {
		if !(math.Abs(c.got-c.want) <= c.within) {
			t.Errorf("%s: %.7g, want %.7g within %g (%s)", c.name, c.got, c.want, c.within, source)
		}
	}
}

func chain(ratings []Rating, gaps []float64) Trace {
	var t Trace
	for i, r := range ratings {
		t = t.After(gaps[i], r)
	}
	return t
}

// TestPublishedCurve: values of the FSRS-6 formulas with the default parameters.
func TestPublishedCurve(t *testing.T) {
	compare(t, "FSRS-6 default parameters, worked independently from its formulas", []check{
		{"factor", factor, 0.9803465, 1e-7},
		{"left after 1", Retention(1, 10), .985682, 1e-6},
		{"left after 5", Retention(5, 10), .940344, 1e-6},
		{"left after 10", Retention(10, 10), .9, 1e-12},
		{"left after 20", Retention(20, 10), .845885, 1e-6},
		{"left after 30", Retention(30, 10), .809388, 1e-6},
		{"left after 100", Retention(100, 10), .692827, 1e-6},
		{"to .95", IntervalDays(10, .95), 4.0256, 1e-4},
		{"to .9", IntervalDays(10, .9), 10, 1e-9},
		{"to .85", IntervalDays(10, .85), 19.0643, 1e-4},
		{"to .8", IntervalDays(10, .8), 33.1596, 1e-4},
		{"to .7", IntervalDays(10, .7), 92.879, 1e-3},
		{"hard 1", Trace{}.After(0, BrokeDown).Hard, 6.4133, 1e-9},
		{"hard 2", Trace{}.After(0, Stopped).Hard, 5.112171, 1e-6},
		{"hard 3", Trace{}.After(0, Steady).Hard, 2.118104, 1e-6},
		{"hard 4", Trace{}.After(0, AtTempo).Hard, 1, 0},
		{"hard 4 before it is bounded", firstHard(AtTempo), -4.77, 5e-3},
	})
}

// TestOnePlaying: S = 10, D = 5, after 20 days.
func TestOnePlaying(t *testing.T) {
	at := Trace{StabilityDays: 10, Hard: 5, Playings: 1}
	for _, c := range []struct {
		r         Rating
		days, how float64
	}{{Stopped, 30.8675, 6.6660}, {Steady, 44.6982, 4.9902}, {AtTempo, 74.9863, 3.3145}, {BrokeDown, 1.5219, 8.3418}} {
		got := at.After(20, c.r)
		compare(t, "FSRS-6 formulas, worked independently", []check{
			{"stability, " + c.r.String(), got.StabilityDays, c.days, 5e-4},
			{"hard, " + c.r.String(), got.Hard, c.how, 1e-4},
		})
	}
}

// TestPublishedChains: what the tests of open-spaced-repetition/go-fsrs (snapshot 81c1d8c) expect.
func TestPublishedChains(t *testing.T) {
	gaps := []float64{0, 0, 1, 3, 8, 21}
	a := chain([]Rating{1, 3, 3, 3, 3, 3}, gaps)
	b := chain([]Rating{1, 2, 3, 4, 3, 3}, gaps)
	compare(t, "go-fsrs, its own test of the memory state", []check{
		{"a stability", a.StabilityDays, 53.6269, 5e-4}, {"a hard", a.Hard, 6.3575, 1e-4},
		{"b stability", b.StabilityDays, 51.0810, 5e-4}, {"b hard", b.Hard, 6.7493, 1e-4},
	})
	var tr Trace
	want := []float64{2.3065, 10.9643, 46.2802, 162.8622, 497.4472}
	days := []float64{0, 2, 11, 46, 163} // the library's own test expects these, and 498 next
	for i := range want {
		tr = tr.After(days[i], Steady)
		compare(t, "go-fsrs, its own test of scheduled days", []check{{"chain of steady playings", tr.StabilityDays, want[i], 1e-3}})
		if i < 4 && math.Round(IntervalDays(tr.StabilityDays, .9)) != days[i+1] {
			t.Errorf("after step %d it is due in %g days, want %g", i, tr.StabilityDays, days[i+1])
		}
	}
}

func TestOtherModels(t *testing.T) {
	compare(t, "Settles & Meeder 2016, p = 2^(-d/h), worked by hand", []check{
		{"one half-life", HalfLife(7, 7), .5, 1e-12},
		{"three days of seven", HalfLife(3, 7), .743, 5e-4},
		{"two half-lives", HalfLife(14, 7), .25, 1e-12},
		{"ten days of four", HalfLife(10, 4), .17678, 1e-5},
	})
	s, p := UsualSkill(), .3
	for _, c := range []struct {
		right       bool
		shown, next float64
	}{{true, .65854, .69268}, {true, .91026, .91923}, {false, .58722, .62850}, {true, .88390, .89551}, {true, .97473, .97725}} {
		shown, next := s.Hear(p, c.right)
		compare(t, "Corbett & Anderson 1995, worked independently", []check{{"shown", shown, c.shown, 1e-5}, {"next", next, c.next, 1e-5}})
		p = next
	}
	if got := s.Known([]bool{true, true, false, true, true}); math.Abs(got-p) > 1e-12 || got < Mastered {
		t.Errorf("the row gives %g", got)
	}
	win, _ := Met(1500, 1600, 32, true)
	loss, work := Met(1500, 1600, 32, false)
	compare(t, "Elo, worked by hand", []check{
		{"expected", Expected(1500, 1600), .359935, 1e-6}, {"managed", win, 1520.482, 1e-3},
		{"not managed", loss, 1488.482, 1e-3}, {"the work", work, 1611.518, 1e-3},
	})
}

// TestGaps: Cepeda et al. 2008, best gaps (from memory in the reference), and two that lie between.
func TestGaps(t *testing.T) {
	compare(t, "Cepeda et al. 2008, fitted optima", []check{
		{"7 d", GapDays(7), 3, 1e-9}, {"35 d", GapDays(35), 8, 1e-9}, {"70 d", GapDays(70), 12, 1e-9}, {"350 d", GapDays(350), 27, 1e-9},
		{"a day", GapDays(1), 3, 1e-9}, {"years", GapDays(900), 27, 1e-9}, {"50 d", GapDays(50), 9.8, .1},
	})
}

// TestPaceIsFound: where students forget by a known pace, what is expected after fitting is near what is true.
// Pace and slips can stand in for each other within the weeks that were seen, so their product is compared.
func TestPaceIsFound(t *testing.T) {
	for _, truth := range []float64{0.3, 1, 3} {
		rng := rand.New(rand.NewPCG(7, uint64(truth*10)))
		var tries []Try
		for range 2000 {
			s, d := 2+20*rng.Float64(), 1+30*rng.Float64()
			tries = append(tries, Try{Days: d, StabilityDays: s, Held: rng.Float64() < .94*Retention(d, s*truth)})
		}
		got := Fit(tries, UsualPace())
		for _, d := range []float64{2, 7, 14, 28} {
			is, want := (1-got.Slip)*got.Left(d, Trace{StabilityDays: 8, Playings: 1}), .94*Retention(d, 8*truth)
			if math.Abs(is-want) > .04 {
				t.Errorf("pace %g: after %g days %.3f is expected, true is %.3f (%+v)", truth, d, is, want, got)
			}
		}
		if few := Fit(tries[:EnoughTries-1], Pace{Scale: 2, Growth: 1, Slip: .05}); few.Scale != 2 {
			t.Errorf("%d tries change the pace to %v", EnoughTries-1, few)
		}
	}
}

func TestRatings(t *testing.T) {
	for _, c := range []struct {
		h    Heard
		want Rating
	}{
		{Heard{RightShare: .5, Complete: true}, BrokeDown},
		{Heard{RightShare: .9, Stops: 4}, BrokeDown},
		{Heard{RightShare: .96, Complete: true, Stops: 3}, Stopped},
		{Heard{RightShare: .96, Complete: true, Stops: 1, Bpm: 60, GoalBpm: 80}, Steady},
		{Heard{RightShare: .98, Complete: true, Bpm: 79, GoalBpm: 80, SpreadPct: 5}, AtTempo},
	} {
		if got := Rate(c.h); got != c.want {
			t.Errorf("%+v is %q, want %q", c.h, got, c.want)
		}
	}
	if RateLog(0, 0) != Steady || RateLog(1, 2) != Stopped || RateLog(0, 4) != BrokeDown || RateLog(3, 4) != Steady {
		t.Error("a log is rated otherwise")
	}
}

// TestLongerUnseenNeedsMore: what was unseen for longer is less there and needs no fewer days.
func TestLongerUnseenNeedsMore(t *testing.T) {
	from, _ := calendar.Read("2026-01-05")
	tr, last, tries := Follow([]Playing{{from + 9, Steady}, {from, Stopped}, {from + 2, Steady}, {from + 2, BrokeDown}, {from + 4, Unrated}})
	if last != from+9 || tr.Playings != 4 || len(tries) != 2 {
		t.Fatalf("%+v, last %s, tries %v", tr, last, tries)
	}
	p, before, left := UsualPace(), 0, 1.0
	for d := 1.0; d < 200; d += 7 {
		n, l := p.DaysToBringBack(d, tr, UsualTarget), p.Left(d, tr)
		if n < before || l > left {
			t.Errorf("after %g days: %d days, before %d; left %g, before %g", d, n, before, l, left)
		}
		before, left = n, l
	}
	if d := p.DueIn(Trace{500, 3, 9}, .85); d != LatestDays {
		t.Errorf("something firm is due in %d days", d)
	}
	if d := p.DueIn(Trace{.2, 9, 2}, .85); d != SoonestDays {
		t.Errorf("something loose is due in %d days", d)
	}
}

// TestLongestUnseenGainsMost: of two items that hold equally well, the one unseen for longer gains more from one
// playing, until it is long gone; and no playing is worth less than none.
func TestLongestUnseenGainsMost(t *testing.T) {
	p, tr := UsualPace(), Trace{8, 4, 5}
	before := 0.0
	for _, since := range []float64{1, 4, 8, 14, 21} {
		g := p.Gains(tr, since, UsualTarget)
		if g[0] != 0 || g[1] <= before {
			t.Errorf("unseen for %g days one playing is worth %.3f, for fewer %.3f", since, g[1], before)
		}
		for n := 1; n < len(g); n++ {
			if g[n] < g[n-1] {
				t.Errorf("%d playings are worth less than %d", n, n-1)
			}
		}
		before = g[1]
	}
}
