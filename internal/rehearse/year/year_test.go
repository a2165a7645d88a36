package year

import (
	"bytes"
	"encoding/xml"
	"errors"
	"math"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"antiphon/internal/plan/warn"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %g, want %g within %g", what, got, want, within)
	}
}

// TestLaws: each law by hand.
func TestLaws(t *testing.T) {
	near(t, "exponential, Settles & Meeder 2016", (&Law{Kind: "exponential"}).left(10, 4), .17678, 1e-5)
	near(t, "power, (1+15/5)^(-1/2)", (&Law{Kind: "power", Exponent: .5}).left(15, 5), .5, 1e-12)
	near(t, "plateau, .5+.5/4", (&Law{Kind: "plateau", Floor: .5}).left(6, 3), .625, 1e-12)
	table := Law{Kind: "table", Left: [][2]float64{{0, 1}, {1, .6}, {4, .3}}}
	near(t, "table between points", table.left(5, 2), .45, 1e-12)
	near(t, "table beyond its end", table.left(500, 2), .3, 1e-12)
	for _, l := range Usual().Laws {
		if l.left(0, 3) != 1 || l.left(1, 3) <= l.left(2, 3) {
			t.Errorf("%s does not begin with all and fall", l.Name)
		}
	}
}

// TestLivesAreTrue: over many students what the settings ask comes out, and holidays are empty.
func TestLivesAreTrue(t *testing.T) {
	s := Usual()
	var came, teaching, works [3]float64
	for i := range uint64(300) {
		st := s.Draw(9, i)
		st.live(&s, s.Weeks)
		k := 0
		for ; st.Habit.Name != s.Habits[k].Name; k++ {
		}
		for w, x := range st.weeks {
			if s.holiday(w) == x.teaching || x.came && !x.teaching {
				t.Fatalf("student %d, week %d: %+v", i, w, x)
			}
			if x.teaching {
				teaching[k]++
			}
			if x.came {
				came[k]++
			}
		}
		works[k] += float64(len(st.works) - 1)
		for j, w := range st.works[:len(st.works)-1] {
			if w.done <= 0 || j > 0 && w.done < st.works[j-1].done {
				t.Fatalf("student %d: work %d is done in week %g", i, j, w.done)
			}
		}
	}
	// steady: 0.8 to 0.98 outside pauses; 0.2 pauses a year of 4.5 weeks in 45
	near(t, "steady families came", came[0]/teaching[0], .89*(1-.2*4.5/45), .03)
	if came[1]/teaching[1] >= came[0]/teaching[0] {
		t.Error("uneven families come more than steady ones")
	}
	near(t, "works of steady families in a week that came", works[0]/came[0], .45*math.Exp(.45*.45/2)/math.Exp(.4*.4/2), .09)
	a, b := s.Draw(4, 2), s.Draw(4, 2)
	a.live(&s, 60)
	b.live(&s, 30)
	b.live(&s, 60)
	if !reflect.DeepEqual(a.weeks, b.weeks) {
		t.Error("the same student lives two lives")
	}
}

// TestTheFutureIsHidden: what a teacher is told of the first weeks does not depend on how many more were lived.
func TestTheFutureIsHidden(t *testing.T) {
	s := Usual()
	for i := range uint64(20) {
		a, b := s.Draw(8, i), s.Draw(8, i)
		a.live(&s, 40)
		b.live(&s, 104)
		if !reflect.DeepEqual(a.past(40), b.past(40)) {
			t.Fatalf("student %d: the past of 40 weeks knows of later ones", i)
		}
	}
}

// TestSmallStudio runs everything once, on a few students: the same minutes for all policies, the same report twice, and every
// name that is promised.
func TestSmallStudio(t *testing.T) {
	s := Usual()
	s.Weeks, s.ForecastAt, s.JudgedFrom = 40, []int{16, 30}, 16
	size := Size{Students: 24, Keepers: 3, Draws: 200}
	var out [2]bytes.Buffer
	for i := range out {
		r, err := Run(s, 77, size)
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Print(&out[i]); err != nil {
			t.Fatal(err)
		}
		var plot bytes.Buffer
		if err := r.Warned.Plot(&plot); err != nil || strings.Count(plot.String(), "<circle") != len(warn.Reliability(r.Warned.Said, r.Warned.Came)) {
			t.Errorf("the plot: %v\n%s", err, plot.String())
		}
		if err := xml.Unmarshal(plot.Bytes(), new(struct{})); err != nil {
			t.Errorf("the plot is no XML: %v", err)
		}
		if len(r.Said) != 48 {
			t.Errorf("%d forecasts", len(r.Said))
		}
		for _, e := range r.Said {
			if e.Came < 0 || e.Plain <= 0 || len(e.Weeks) != 200 {
				t.Fatalf("student %d: came %g, plain %g", e.Student, e.Came, e.Plain)
			}
		}
	}
	if out[0].String() != out[1].String() {
		t.Error("one seed has two reports")
	}
	for _, name := range []string{"coverage50", "coverage80", "crps_gain", "kept_gain", "kept_gain_low", "longest_silence_days", "brier_skill"} {
		if !regexp.MustCompile(`(?m)^` + name + ` -?[0-9.]+$`).MatchString(out[0].String()) {
			t.Errorf("%s is not in\n%s", name, out[0].String())
		}
	}
}

// TestPoliciesHaveTheSameDays: days and minutes of a family do not depend on what is played, and no day is overfilled.
func TestPoliciesHaveTheSameDays(t *testing.T) {
	s := Usual()
	a, b := keep(&s, 3, 1, Newest), keep(&s, 3, 1, Planned)
	if !reflect.DeepEqual(a.days, b.days) || len(a.items) != len(b.items) {
		t.Fatal("two policies have two families")
	}
	for _, p := range []Policy{Newest, Rotation} {
		k := keep(&s, 3, 1, p)
		for d := range k.days {
			sum := 0
			for _, it := range k.today(d, nil) {
				sum += it.work.Minutes
			}
			if sum > k.days[d].minutes {
				t.Fatalf("%s plays %d of %d minutes", p, sum, k.days[d].minutes)
			}
		}
	}
}

// TestLimitsHold: two students who were unseen for 26 and 24 days while promises were one search with the rest, and days were
// packed: played as well as can be, the longest unseen first and nothing else, these take 19 and 17.
func TestLimitsHold(t *testing.T) {
	s := Usual()
	for _, c := range []struct{ seed, student uint64 }{{1002, 21}, {1008, 235}} {
		studio, err := running(&s, c.seed)
		if err != nil {
			t.Fatal(err)
		}
		k := keep(&s, c.seed, c.student, Planned)
		k.studio = studio
		if err := k.run(); err != nil {
			t.Fatal(err)
		}
		if k.out.LongestDays > s.Review.LimitDays || k.out.OverLimit > 0 || k.out.LongestDays < 7 {
			t.Errorf("seed %d, student %d: %+v", c.seed, c.student, k.out)
		}
	}
}

// TestSilence: of one item by hand: learnt on day 10 of 30 on which the family was there, and never played.
func TestSilence(t *testing.T) {
	s := Usual()
	for _, c := range []struct {
		said                      []int
		over, unsaid, longestLeft int
	}{{nil, 1, 1, 26}, {[]int{9, 32}, 1, 1, 26}, {[]int{12}, 1, 0, 0}} {
		k := &keeping{s: &s, there: 36, said: c.said}
		k.silence(&item{there: 10}, 40)
		if k.out.LongestDays != 26 || k.out.OverLimit != c.over || k.out.Unsaid != c.unsaid || k.out.UnsaidDays != c.longestLeft {
			t.Errorf("said on %v: %+v", c.said, k.out)
		}
	}
}

func TestSettings(t *testing.T) {
	for _, c := range []struct{ old, new, want string }{
		{"weeks: 104", "weeks: 3", "20 to 520"},
		{"kind: power, exponent: 0.5", "kind: power", "power"},
		{"share: 1, came: [0.8, 0.98]", "share: 1, came: [0.98, 0.8]", "steady"},
		{"weeks: 104", "weaks: 104", "weaks"},
		{"schema: antiphon.simulation/1", "schema: other", "schema"},
	} {
		bad := strings.Replace(string(usual), c.old, c.new, 1)
		if bad == string(usual) {
			t.Fatalf("%q is not in the settings", c.old)
		}
		if _, err := ReadSettings([]byte(bad)); !errors.Is(err, ErrSettings) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.new, err)
		}
	}
	own := strings.Replace(string(usual), "laws:\n", "laws:\n  - {name: own, kind: table, share: 2, strength_days: 5, left: [[0, 1], [2, 0.5], [9, 0.4]]}\n", 1)
	if s, err := ReadSettings([]byte(own)); err != nil || s.Laws[0].Name != "own" || len(s.Laws) != 4 {
		t.Errorf("a law of one's own: %v", err)
	}
}
