package plan

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
)

func exampleState(t testing.TB) *Studio {
	t.Helper()
	s, err := Read(bytes.NewReader(Example()))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func weekOf(t testing.TB, s *Studio, id string) *Weekly {
	t.Helper()
	if err := s.Check(); err != nil {
		t.Fatal(err)
	}
	p, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	w, err := p.Week(s.Student(id))
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func (w *Weekly) line(work string) *Line {
	i := slices.IndexFunc(w.Lines, func(l Line) bool { return l.Work == work })
	if i < 0 {
		return nil
	}
	return &w.Lines[i]
}

// said is the reason of a work in a plan, or why it is left out.
func (w *Weekly) said(work string) string {
	if l := w.line(work); l != nil {
		return l.Why
	}
	return w.out(work)
}

func (w *Weekly) out(work string) string {
	i := slices.IndexFunc(w.LeftOut, func(l LeftOut) bool { return l.Work == work })
	if i < 0 {
		return ""
	}
	return w.LeftOut[i].Why
}

// TestExample: the example that the program prints has one of each, and every line its reason.
func TestExample(t *testing.T) {
	w := weekOf(t, exampleState(t), "nora")
	for work, want := range map[string]struct {
		role Role
		why  string
	}{
		"canon":            {Advance, "fastest that was heard clean"},
		"three-blind-mice": {Keep, "Easy and liked"},
		"ode":              {Keep, "nothing that is kept is to wait longer than 28 days"},
		"scale-c":          {Keep, "Nothing in scales is to stay unseen for more than 14 days"},
		"barre-two":        {Introduce, "builds small barre, which still stands between Nora and Round in G (own)"},
	} {
		l := w.line(work)
		if l == nil || l.Role != want.role || !strings.Contains(l.Why, want.why) {
			t.Errorf("%s: %+v, want %s because %q", work, l, want.role, want.why)
		}
	}
	if !w.Best || w.out("evening-study") != "First comes thumb and finger together and Tallis's Canon." {
		t.Errorf("proved %v; the study is out because %q", w.Best, w.out("evening-study"))
	}
	if l := w.line("canon"); !strings.Contains(l.Next, "clean three times in a row at 66, then 69") {
		t.Errorf("after the canon: %s", l.Next)
	}
	ada := weekOf(t, exampleState(t), "ada")
	if ada.line("ode") == nil || !strings.Contains(ada.line("ode").Why, "in 10 students who stand here") || !strings.Contains(strings.Join(ada.Cautions, " "), "2 takes") {
		t.Errorf("a new student: %+v, %q", ada.Lines, ada.Cautions)
	}
}

// TestTheTeacherDecides: pins, forbids, days of pins, and what is chosen again and again.
func TestTheTeacherDecides(t *testing.T) {
	s := exampleState(t)
	st := s.Student("nora")
	st.Wishes = []Wish{{Work: "canon", Forbid: true}, {Work: "ode", On: []calendar.Day{s.Today + 1, s.Today + 3}}}
	w := weekOf(t, s, "nora")
	if w.line("canon") != nil || w.out("canon") != "You left it out." {
		t.Errorf("forbidden: %+v", w.line("canon"))
	}
	if l := w.line("ode"); l == nil || !reflect.DeepEqual(l.Days, []calendar.Day{s.Today + 1, s.Today + 3}) || !l.Pinned {
		t.Errorf("pinned to two days: %+v", l)
	}
	st.Wishes = []Wish{{Work: "evening-study"}}
	if w = weekOf(t, s, "nora"); w.line("evening-study") != nil || !strings.HasPrefix(w.out("evening-study"), "First comes") {
		t.Errorf("a wish does not jump over what must be known before: %+v", w.line("evening-study"))
	}
	st.Wishes = []Wish{{Work: "ode", On: []calendar.Day{s.Today + 2}}} // Wednesday is off
	if w = weekOf(t, s, "nora"); w.line("ode") != nil || !strings.Contains(w.out("ode"), "does not have them") {
		t.Errorf("pinned to a day off: %+v, %q", w.line("ode"), w.out("ode"))
	}
	st.Wishes = nil
	before := len(weekOf(t, s, "nora").line("listen-canon").Days)
	for range 6 {
		st.Choices = append(st.Choices, Choice{"listen-canon", false}, Choice{"ode", true})
	}
	w = weekOf(t, s, "nora")
	if l := w.line("listen-canon"); l != nil && len(l.Days) > before {
		t.Errorf("what was always taken out is asked more: %d days, before %d", len(l.Days), before)
	}
}

// TestHandsThatHurt: pain turns the plan to what needs no hands, a second time to a doctor; the teacher may lift it.
func TestHandsThatHurt(t *testing.T) {
	s := exampleState(t)
	st := s.Student("nora")
	st.Hurts = []Hurt{{Day: s.Today - 1, Where: "left wrist", Level: 1}}
	w := weekOf(t, s, "nora")
	for _, l := range w.Lines {
		if l.Work != "listen-canon" {
			t.Errorf("%s is asked while something hurts", l.Work)
		}
	}
	said := strings.Join(w.Cautions, " ")
	if w.line("listen-canon") == nil || !strings.Contains(said, "left wrist") || !strings.Contains(said, "no medical advice") || strings.Contains(said, "doctor") {
		t.Errorf("%q", said)
	}
	st.Hurts = append(st.Hurts, Hurt{Day: s.Today - 3, Level: 2})
	if said = strings.Join(weekOf(t, s, "nora").Cautions, " "); !strings.Contains(said, "see a doctor") {
		t.Errorf("%q", said)
	}
	st.FreeFrom = s.Today
	if w = weekOf(t, s, "nora"); w.line("canon") == nil {
		t.Error("the teacher said that hands may play again")
	}
	st.FreeFrom, st.Hurts = 0, []Hurt{{Day: s.Today - 9, Level: 3}}
	if w = weekOf(t, s, "nora"); w.line("canon") == nil {
		t.Error("after nine days hands still rest")
	}
}

// TestCalendar: holidays are empty, before a recital nothing is new, the load grows slowly.
func TestCalendar(t *testing.T) {
	s := exampleState(t)
	s.Today += 19 // two days, then holidays
	w := weekOf(t, s, "nora")
	for i, d := range w.Days {
		if (d.Free != "") != (i >= 2) || d.Free != "" && d.Planned != 0 {
			t.Errorf("day %d: %+v", i, d)
		}
	}
	s = exampleState(t)
	s.Student("tom").Recital.Day = s.Today + 15
	w = weekOf(t, s, "tom")
	if slices.ContainsFunc(w.Lines, func(l Line) bool { return l.New }) || !strings.Contains(strings.Join(w.Cautions, " "), "nothing new until then") {
		t.Errorf("two weeks before a recital: %+v", w.Lines)
	}
	s = exampleState(t)
	few := 40.0
	for i := range s.Student("nora").Weeks {
		s.Student("nora").Weeks[i].Minutes = &few
	}
	w = weekOf(t, s, "nora")
	sum := 0
	for _, d := range w.Days {
		sum += d.Planned
	}
	if sum > 50 || sum < 40 { // 1.25 times 40, half of the 100
		t.Errorf("after weeks of 40 minutes %d are planned", sum)
	}
	if says := strings.Join(w.Cautions, " "); !strings.Contains(says, "stays within 50 of the 100 that there are: load grows slowly") {
		t.Errorf("after weeks of 40 minutes: %s", says)
	}
	few = 4
	if says := strings.Join(weekOf(t, s, "nora").Cautions, " "); !strings.Contains(says, "The last 4 weeks had 4 minutes each, so this plan begins with half of the 100 that there are.") || strings.Contains(says, "grows slowly") {
		t.Errorf("after weeks of 4 minutes, of which 50 are more than a slow step: %s", says)
	}
}

// TestSlipping: what was unseen for long is named with its days, the limit of a group first.
func TestSlipping(t *testing.T) {
	s := exampleState(t)
	s.Today += 60
	p, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	got := p.Slipping(s.Student("nora"))
	if len(got) == 0 || got[0].Work != "scale-c" || !got[0].Over || !strings.Contains(got[0].Say, "last played 72 days ago") || !strings.Contains(got[0].Say, "14 days") {
		t.Errorf("%+v", got)
	}
	if all := p.AllSlipping(); len(all) < len(got) {
		t.Errorf("over the studio %d, of one student %d", len(all), len(got))
	}
}

// TestLimitOfOneStudent: a student's own limit goes before the studio's, a lifted one is none, and others keep theirs.
func TestLimitOfOneStudent(t *testing.T) {
	over := func(id string, own ...OwnLimit) (limit int, broken bool) {
		s := exampleState(t)
		for i := range s.Students { // all of them keep the scale, last played 20 days ago
			s.Students[i].Items = append(slices.DeleteFunc(s.Students[i].Items, func(it Item) bool { return it.Work == "scale-c" }),
				Item{Work: "scale-c", Stage: Kept, Target: 0.97, Played: []Played{{Day: s.Today - 20, Rating: 3}}})
		}
		s.Student("nora").Limits = own
		if err := s.Check(); err != nil {
			t.Fatal(err)
		}
		p, err := New(s)
		if err != nil {
			t.Fatal(err)
		}
		for _, slip := range p.Slipping(s.Student(id)) {
			if slip.Work == "scale-c" {
				limit, broken = slip.Limit, slip.Over
			}
		}
		says := strings.Contains(weekOf(t, s, id).said("scale-c"), "is to stay unseen")
		if says != (limit > 0) { // 20 days are near each of the limits here
			t.Errorf("%s with %+v: the plan tells of a limit: %t", id, own, says)
		}
		return limit, broken
	}
	for _, c := range []struct {
		id     string
		own    []OwnLimit
		limit  int
		broken bool
	}{
		{"nora", nil, 14, true},
		{"nora", []OwnLimit{{Group: "scales", LimitDays: 25}}, 25, false},
		{"nora", []OwnLimit{{Group: "scales", LimitDays: 5}}, 5, true},
		{"nora", []OwnLimit{{Group: "scales", Lifted: true}}, 0, false},
		{"tom", []OwnLimit{{Group: "scales", Lifted: true}}, 14, true}, // Nora's is not his
	} {
		if limit, broken := over(c.id, c.own...); limit != c.limit || broken != c.broken {
			t.Errorf("%s with %+v: limit %d, over it %t", c.id, c.own, limit, broken)
		}
	}
	for _, c := range []struct {
		own  []OwnLimit
		want string
	}{
		{[]OwnLimit{{Group: "scaels", LimitDays: 20}}, "scaels"},
		{[]OwnLimit{{Group: "scales", LimitDays: 20}, {Group: "scales", Lifted: true}}, "twice"},
		{[]OwnLimit{{Group: "scales"}}, "lifted"},
		{[]OwnLimit{{Group: "scales", LimitDays: 20, Lifted: true}}, "lifted"},
		{[]OwnLimit{{Group: "scales", LimitDays: 401}}, "2 to 400"},
	} {
		s := exampleState(t)
		s.Student("nora").Limits = c.own
		if err := s.Check(); !errors.Is(err, ErrState) || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "nora") {
			t.Errorf("%+v: %v", c.own, err)
		}
	}
}

// TestForecast of the example: ranges inside each other, reasons, and the way back from a recital.
func TestForecast(t *testing.T) {
	s := exampleState(t)
	p, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	o := p.Forecast()
	if len(o.Students) != 3 || !strings.Contains(o.Score, "One earlier forecast") {
		t.Fatalf("%+v", o)
	}
	for _, a := range o.Students {
		if a.Most.From > a.Half.From || a.Half.From > a.Half.To || a.Half.To > a.Most.To || a.Most.From < s.Today || len(a.Reasons) < 2 || !slices.IsSorted(a.Weeks[:]) {
			t.Errorf("%s: half %v, most %v, %q", a.Name, a.Half, a.Most, a.Reasons)
		}
	}
	if tom := o.Students[1]; len(tom.Stages) != 2 || tom.StageWords == "" {
		t.Errorf("Tom's recital: %+v", tom.Stages)
	}
	s2 := exampleState(t)
	tom := s2.Student("tom")
	for i := range tom.Items {
		if it := &tom.Items[i]; it.Work == "ode" { // clean at its goal, three days running
			for d := range calendar.Day(3) {
				it.Played = append(it.Played, Played{Day: s2.Today - 3 + d, Rating: 4, Bpm: it.GoalBpm})
			}
		}
	}
	tom.Recital.Works = []string{"ode"}
	p2, err := New(s2)
	if err != nil {
		t.Fatal(err)
	}
	if got := p2.Forecast().Students[1]; len(got.Stages) != 0 || !strings.Contains(got.StageWords, "at its goal") {
		t.Errorf("all of the recital is at its goal: %q, %+v", got.StageWords, got.Stages)
	}
	if again := p.Forecast(); !reflect.DeepEqual(o, again) {
		t.Error("the same state has two forecasts")
	}
	n := p.Notices()
	if len(n) != 2 || n[0].Student != "tom" || !strings.Contains(n[0].Say, "the Wrens for 4 teaching weeks") {
		t.Errorf("%+v", n)
	}
}

// TestBadStates: each is refused with what is wrong and where.
func TestBadStates(t *testing.T) {
	for _, c := range []struct{ old, new, want string }{
		{`"antiphon.state/1"`, `"antiphon.state/9"`, "antiphon.state/9"},
		{`"today": "2026-11-30"`, `"today": "2026-11-31"`, "2026-11-31"},
		{`"today": "2026-11-30"`, `"today": ""`, "today is missing"},
		{`"load": 0.6`, `"load": -1`, "three-blind-mice has load"},
		{`"load": 0.6`, `"lode": 0.6`, "lode"},
		{`"group": "scales"`, `"group": "scaels"`, "scaels"},
		{`"for": "canon"`, `"for": "cannon"`, "cannon"},
		{`"after": ["canon"]`, `"after": ["evening-study"]`, "circle"},
		{`"minutes": [15, 15`, `"minutes": [1500, 15`, "1500 minutes"},
		{`"stage": "kept"`, `"stage": "loved"`, "loved"},
		{`"rating": 3`, `"rating": 9`, "9"},
		{`"limit_days": 14`, `"limit_days": 0`, "limit of 0 days"},
		{`"weeks": [6, 8`, `"weeks": [9, 8`, "do not rise"},
		{`"day": "2026-11-08"`, `"day": "2027-11-08"`, "after today"},
		{`"id": "tom"`, `"id": "nora"`, "no id of its own"},
		{`"minutes": [15, 15`, `"minutes": ["x", 15`, "students.minutes: a string stands there"},
		{`"rating": 3`, `"rating": 3.5`, "students.items.played.rating: a number 3.5 stands there"},
		{`"minutes": [15, 15`, `"minutes": [15`, "student nora: minutes has 6 numbers: write seven"},
		{`"weeks": [6, 8`, `"weeks": [4, 6, 8`, "forecast 1: weeks"},
		{`"right_share": 0.75`, `"right_share": 75`, "right_share 75: write 0 to 1"},
		{`"stops": 1, "notes": 16`, `"stops": -1, "notes": 16`, "below 0"},
	} {
		bad := strings.Replace(string(Example()), c.old, c.new, 1)
		if bad == string(Example()) {
			t.Fatalf("%q is not in the example", c.old)
		}
		_, err := Read(strings.NewReader(bad))
		if err == nil || !errors.Is(err, ErrState) || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v", c.new, err)
		}
	}
	for _, cut := range []string{"", "{", "[]", "null", string(Example()[:900]), string(Example()) + "{}", "\x00"} {
		if _, err := Read(strings.NewReader(cut)); !errors.Is(err, ErrState) {
			t.Errorf("%.20q: %v", cut, err)
		}
	}
}

// randomStudio draws a studio with one student and many works.
func randomStudio(rng *rand.Rand) *Studio {
	today := calendar.Day(20500 + rng.IntN(400))
	s := &Studio{Schema: Schema, Today: today, Groups: []Group{{"scales", 5 + rng.IntN(30)}}}
	for range rng.IntN(3) {
		from := today + calendar.Day(rng.IntN(20)-8)
		s.Holidays = append(s.Holidays, calendar.Span{From: from, To: from + calendar.Day(rng.IntN(12))})
	}
	skills := []string{"fourth finger", "small barre", "rest stroke", "chords"}
	st := Student{ID: "s", Name: "S", Collection: "c"}
	col := Collection{ID: "c"}
	for d := range st.Minutes {
		if rng.IntN(4) > 0 {
			st.Minutes[d] = rng.IntN(31)
		}
	}
	most := rng.IntN(3)
	st.MostNew = &most
	for i := range 4 + rng.IntN(14) {
		w := Work{ID: fmt.Sprint("w", i), Load: 0.5 + 2*rng.Float64(), Minutes: 1 + rng.IntN(8), Joy: rng.IntN(5) == 0, Strain: rng.IntN(7) == 0,
			Kind: []Kind{Piece, Piece, Exercise, Technique, Listening}[rng.IntN(5)]}
		if rng.IntN(3) == 0 {
			w.Needs = append(w.Needs, skills[rng.IntN(4)])
		}
		if rng.IntN(4) == 0 {
			w.Builds = append(w.Builds, skills[rng.IntN(4)])
		}
		if i > 0 && rng.IntN(4) == 0 {
			w.After = append(w.After, fmt.Sprint("w", rng.IntN(i)))
		}
		if w.Kind == Technique {
			w.Group = "scales"
		}
		if w.Kind == Exercise && i > 0 {
			if of := &s.Works[rng.IntN(i)]; of.For == "" && of.Kind == Piece {
				w.For = of.ID
			}
		}
		s.Works, col.Works = append(s.Works, w), append(col.Works, w.ID)
		if rng.IntN(5) < 3 {
			it := Item{Work: w.ID, Stage: []Stage{Learning, Kept, Kept, Rested}[rng.IntN(4)], GoalBpm: float64(rng.IntN(2) * 80)}
			for range rng.IntN(8) {
				it.Played = append(it.Played, Played{Day: today - calendar.Day(rng.IntN(120)), Rating: 1 + rng.IntN(4), Bpm: 40 + 50*rng.Float64()})
			}
			for from := range rng.IntN(3) { // bars that overlap
				ps := Passage{From: fmt.Sprint(1 + 2*from), To: fmt.Sprint(4 + 2*from)}
				for range rng.IntN(5) {
					ps.Played = append(ps.Played, heardOn(today-calendar.Day(rng.IntN(120)), rng.IntN(9), rng.IntN(2)))
				}
				it.Passages = append(it.Passages, ps)
			}
			st.Items = append(st.Items, it)
		}
		if rng.IntN(12) == 0 {
			st.Wishes = append(st.Wishes, Wish{Work: w.ID, Forbid: rng.IntN(2) == 0})
		}
	}
	for _, k := range skills {
		if rng.IntN(2) == 0 {
			st.Skills = append(st.Skills, Skill{Name: k, Known: rng.IntN(2) == 0, Heard: []bool{true, rng.IntN(2) == 0}})
		}
	}
	if rng.IntN(6) == 0 {
		st.Hurts = []Hurt{{Day: today - calendar.Day(rng.IntN(12)), Level: 1 + rng.IntN(3)}}
	}
	for range rng.IntN(8) {
		m := float64(rng.IntN(120))
		st.Weeks = append(st.Weeks, Week{Came: rng.IntN(3) > 0, Minutes: &m})
	}
	s.Collections, s.Students = []Collection{col}, []Student{st}
	return s
}

// TestTenThousandStudios: no plan breaks the minutes, the prerequisites or the pain rules, whatever the studio; the
// same studio has the same plan; fewer minutes bring nothing new.
func TestTenThousandStudios(t *testing.T) {
	lines, rested, passages := 0, 0, 0
	for seed := range uint64(10_000) {
		rng := rand.New(rand.NewPCG(seed, 9))
		s := randomStudio(rng)
		if err := s.Check(); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		p, err := New(s)
		if err != nil {
			t.Fatal(err)
		}
		st := &s.Students[0]
		w, err := p.Week(st)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if why := brokenRule(p, st, w); why != "" {
			t.Fatalf("seed %d: %s", seed, why)
		}
		lines += len(w.Lines)
		for _, l := range w.Lines {
			if l.From != "" {
				passages++
			}
		}
		if len(st.Hurts) > 0 && st.Hurts[0].Day > s.Today-7 {
			rested++
		}
		if seed%20 == 0 {
			again, err := p.Week(st)
			a, _ := json.Marshal(w)
			b, _ := json.Marshal(again)
			if err != nil || !bytes.Equal(a, b) {
				t.Fatalf("seed %d: two plans", seed)
			}
		}
		less := st.Minutes
		for d := range less {
			less[d] -= rng.IntN(less[d] + 1)
		}
		short, err := w.Shorten(less)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range short.Lines {
			if b := w.line(l.Work); b == nil || len(b.Days) < len(l.Days) {
				t.Fatalf("seed %d: with fewer minutes %s comes in, or more often", seed, l.Work)
			}
		}
	}
	if lines < 20_000 || rested < 500 || passages < 500 {
		t.Errorf("only %d lines, %d of them passages, and %d plans with hands at rest: the studios are too poor", lines, passages, rested)
	}
}

// brokenRule reads the plan with the rules of the trade, not with the planner's tables.
func brokenRule(p *Planner, st *Student, w *Weekly) string {
	s := p.studio
	spent := map[calendar.Day]int{}
	fresh, asked := 0, map[string]bool{}
	have, mastered := map[string]bool{}, map[string]bool{}
	for _, it := range st.Items {
		have[it.Work] = true
		if it.Stage != Learning {
			mastered[it.Work] = true
		}
	}
	hurts := slices.ContainsFunc(st.Hurts, func(h Hurt) bool { return h.Day > s.Today-7 && h.Level > 0 && st.FreeFrom < h.Day })
	for _, l := range w.Lines {
		work := p.works[l.Work]
		if l.Why == "" || len(l.Days) == 0 {
			return l.Work + " has no reason or no day"
		}
		if asked[l.Work] {
			return l.Work + " is asked in two lines"
		}
		asked[l.Work] = true
		if it := itemOf(st, l.Work); l.From != "" && (it.Stage != Kept || l.Minutes > work.minutes() || !slices.ContainsFunc(it.Passages, func(ps Passage) bool { return ps.From == l.From && ps.To == l.To })) {
			return fmt.Sprintf("%s: bars %s to %s are no passage of something kept, or take longer than all of it", l.Work, l.From, l.To)
		}
		if hurts && work.Kind != Listening {
			return l.Work + " loads hands that hurt"
		}
		if !have[l.Work] && work.Kind != Listening {
			fresh++
			for _, a := range work.After {
				if !mastered[a] {
					return l.Work + " comes before " + a
				}
			}
			for _, n := range work.Needs {
				if p.Skills(st).Chance[n] < memory.Mastered {
					return l.Work + " needs " + n
				}
			}
		}
		for _, d := range l.Days {
			spent[d] += l.Minutes
		}
		if wish := slices.IndexFunc(st.Wishes, func(x Wish) bool { return x.Work == l.Work }); wish >= 0 && st.Wishes[wish].Forbid {
			return l.Work + " is forbidden"
		}
	}
	for d, m := range spent {
		if _, free := s.Holidays.On(d); free || m > st.Minutes[(int(d.Weekday())+6)%7] || d < s.Today || d >= s.Today+7 {
			return fmt.Sprintf("%s has %d minutes", d, m)
		}
	}
	week, has, mean := 0, 0, 0.0
	for d := range calendar.Day(7) {
		week += spent[s.Today+d]
		if _, free := s.Holidays.On(s.Today + d); !free {
			has += st.Minutes[(int((s.Today+d).Weekday())+6)%7]
		}
	}
	if n := len(st.Weeks); n >= 4 {
		for _, x := range st.Weeks[n-4:] {
			mean += *x.Minutes / 4
		}
		if float64(week) > max(1.25*mean, float64(has)/2) {
			return fmt.Sprintf("%d minutes after weeks of %.0f, of %d that there are", week, mean, has)
		}
	}
	if fresh > *st.MostNew {
		return fmt.Sprintf("%d things are new", fresh)
	}
	return ""
}

// school is a studio of many students with sixty things each, in the middle of a term: things came round every week or two, those
// under a limit within it, and every third has bars that were asked by themselves.
func school(students int) *Studio {
	rng := rand.New(rand.NewPCG(3, 3))
	s := &Studio{Schema: Schema, Today: 20600, Groups: []Group{{"scales", 21}}}
	for i := range 90 {
		w := Work{ID: fmt.Sprint("w", i), Load: 0.5 + rng.Float64(), Minutes: 2 + rng.IntN(6), Joy: i%9 == 0}
		if i%7 == 0 {
			w.Kind, w.Group = Technique, "scales"
		}
		s.Works = append(s.Works, w)
	}
	for k := range students {
		st := Student{ID: fmt.Sprint("s", k), Name: "S", Minutes: [7]int{20, 25, 20, 0, 30, 35, 30}}
		for _, i := range rng.Perm(len(s.Works))[:60] {
			it := Item{Work: s.Works[i].ID, Stage: Kept, GoalBpm: 80}
			if i%12 == 0 {
				it.Stage = Learning
			}
			last := 1 + rng.IntN(34)
			if s.Works[i].Group != "" {
				last = 1 + rng.IntN(20)
			}
			day := s.Today - calendar.Day(last)
			for range 8 {
				it.Played = append(it.Played, Played{Day: day, Rating: 2 + rng.IntN(3), Bpm: 50 + 40*rng.Float64()})
				day -= calendar.Day(4 + rng.IntN(14))
			}
			slices.Reverse(it.Played)
			it.Begun, it.Finished = day, it.Played[0].Day
			if i%3 == 0 {
				ps := Passage{From: "5", To: "8"}
				for _, x := range it.Played[4:] {
					ps.Played = append(ps.Played, heardOn(x.Day, 4+rng.IntN(5), rng.IntN(4)/3))
				}
				it.Passages = append(it.Passages, ps)
			}
			st.Items = append(st.Items, it)
		}
		for range 40 {
			st.Weeks = append(st.Weeks, Week{Came: rng.IntN(5) > 0})
		}
		s.Students = append(s.Students, st)
	}
	return s
}

// BenchmarkStudent plans the week of one student with sixty things: the goal is 50 ms.
func BenchmarkStudent(b *testing.B) {
	s := school(1)
	p, err := New(s)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := p.Week(&s.Students[0]); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/week")
}

// BenchmarkStudio plans the weeks of 300 students with sixty things each: the goal is 5 s.
func BenchmarkStudio(b *testing.B) {
	s := school(300)
	proved, all := 0, 0
	for b.Loop() {
		p, err := New(s)
		if err != nil {
			b.Fatal(err)
		}
		weeks, err := p.All()
		if err != nil {
			b.Fatal(err)
		}
		for _, w := range weeks {
			if all++; w.Best {
				proved++
			}
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/studio")
	b.ReportMetric(float64(proved)/float64(all), "proved")
}
