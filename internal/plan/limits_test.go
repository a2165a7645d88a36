package plan

import (
	"fmt"
	"strings"
	"testing"

	"antiphon/internal/plan/calendar"
)

// TestGoRound: worked by hand. On four days of 3 minutes eight things of 3 take two weeks, on every second of these days four; of
// four things of 2 minutes each day holds one, and of three of 1 minute all.
func TestGoRound(t *testing.T) {
	four := [7]int{3, 0, 3, 0, 3, 3, 0}
	things := func(n, minutes int) (out []turn) {
		for range n {
			out = append(out, turn{minutes: minutes})
		}
		return out
	}
	strain := things(2, 3)
	strain[0].strain, strain[1].strain = true, true
	for _, c := range []struct {
		what    string
		all     []turn
		minutes [7]int
		share   float64
		want    int
	}{
		{"eight of 3", things(8, 3), four, 1, 14},
		{"eight of 3, every second day", things(8, 3), four, .5, 28},
		{"four of 2", things(4, 2), four, 1, 7},
		{"three of 1", things(3, 1), four, 1, 2},
		{"two that strain, of which a day holds one", strain, [7]int{9, 0, 0, 0, 9, 0, 0}, 1, 7},
	} {
		if got := goRound(c.all, c.minutes, []int{21}, c.share); got[0] != c.want {
			t.Errorf("%s: round in %d days, by hand %d", c.what, got[0], c.want)
		}
	}
	two := append(things(2, 3), turn{group: 1, minutes: 3}, turn{group: 1, minutes: 3}) // of the week's four days each gets one
	if got := goRound(two, four, []int{14, 28}, 1); got[0] > 14 || got[1] > 28 {
		t.Errorf("two groups: %v", got)
	}
}

// limited is a student with so many things of 3 minutes under a limit of 21 days, who played on days of the last eight weeks.
func limited(things, minutes int, played func(day int) bool) *Studio {
	s := &Studio{Schema: Schema, Today: 20600, Groups: []Group{{"scales", 21}}} // a Friday
	st := Student{ID: "nora", Name: "Nora"}
	for d := range 7 {
		if d != 1 && d != 3 && d != 6 {
			st.Minutes[d] = minutes
		}
	}
	for i := range things {
		w := Work{ID: fmt.Sprint("scale ", i), Kind: Technique, Minutes: 3, Group: "scales"}
		s.Works = append(s.Works, w)
		st.Items = append(st.Items, Item{Work: w.ID, Stage: Kept, Finished: s.Today - 100})
	}
	n := 0
	for back := 56; back > 0; back-- {
		if day := s.Today - calendar.Day(back); st.Minutes[monday(day)] > 0 && played(back) {
			it := &st.Items[n%things]
			it.Played = append(it.Played, Played{Day: day, Rating: 3})
			n++
		}
	}
	s.Students = []Student{st}
	return s
}

// TestLimitsThatDoNotReach: a plan says beforehand where the minutes cannot hold a limit, and what it proposes holds it.
func TestLimitsThatDoNotReach(t *testing.T) {
	always := func(int) bool { return true }
	limitOf := func(s *Studio) Limit {
		t.Helper()
		if err := s.Check(); err != nil {
			t.Fatal(err)
		}
		w := weekOf(t, s, "nora")
		if len(w.Limits) != 1 {
			t.Fatalf("limits: %+v", w.Limits)
		}
		return w.Limits[0]
	}
	if l := limitOf(limited(6, 3, always)); !l.Reaches() || l.Say != "" || l.Things != 6 {
		t.Errorf("six things in 12 minutes a week: %+v", l)
	}
	seldom := func(back int) bool { return back%3 > 0 }
	for _, c := range []struct {
		s    *Studio
		want []string
	}{
		{limited(14, 3, always), []string{"In scales 14 things are under a limit of 21 days", "do not reach: as often as Nora plays", "on each day it would hold", "a limit of"}},
		{limited(8, 3, seldom), []string{"8 things", "less is played for a while"}},
	} {
		l := limitOf(c.s)
		if l.Reaches() {
			t.Fatalf("%+v", l)
		}
		for _, want := range c.want {
			if !strings.Contains(l.Say, want) {
				t.Errorf("%q is not in %q", want, l.Say)
			}
		}
		var more, longer int
		if _, err := fmt.Sscanf(l.Say[strings.Index(l.Say, "With "):], "With %d more minutes on each day it would hold, or with a limit of %d days", &more, &longer); err != nil {
			t.Fatalf("%v: %q", err, l.Say)
		}
		st := &c.s.Students[0]
		st.Limits = []OwnLimit{{Group: "scales", LimitDays: longer}}
		if l := limitOf(c.s); !l.Reaches() || !l.Own || l.Days != longer {
			t.Errorf("with a limit of %d days: %+v", longer, l)
		}
		st.Limits = nil
		for d := range st.Minutes {
			if st.Minutes[d] > 0 {
				st.Minutes[d] += more
			}
		}
		if l := limitOf(c.s); !l.Reaches() {
			t.Errorf("with %d more minutes: %+v", more, l)
		}
	}
	s := limited(14, 3, always)
	s.Students[0].Limits = []OwnLimit{{Group: "scales", Lifted: true}}
	if l := limitOf(s); l.Days != 0 || !l.Own || l.Say != "" {
		t.Errorf("a limit that was lifted: %+v", l)
	}
	if l := limitOf(limited(6, 3, seldom)); l.Round <= limitOf(limited(6, 3, always)).Round {
		t.Errorf("who plays less comes round as fast: %+v", l)
	}
}

// TestFewDaysLeft: what may break its limit by one missed day says so beforehand, in its line, by the days that are left.
func TestFewDaysLeft(t *testing.T) {
	today, err := calendar.Read("2026-11-30") // a Monday
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		ago     int
		minutes [7]int
		few     int
		says    string
	}{
		{20, [7]int{5, 5, 5, 5, 5, 5, 5}, 2, "Until then only Monday and Tuesday are left for it."},
		{19, [7]int{5, 2, 5, 5, 5, 5, 5}, 2, "Until then only Monday and Wednesday are left for it."}, // Tuesday has no room for it
		{19, [7]int{5, 5, 5, 5, 5, 5, 5}, 0, ""},
		{17, [7]int{0, 0, 0, 5, 0, 0, 5}, 1, "Until then only Thursday is left for it."},
		{14, [7]int{0, 0, 0, 5, 0, 0, 5}, 0, ""}, // it lies beyond this week
		{30, [7]int{5, 5, 5, 5, 5, 5, 5}, 0, ""}, // it is over it already
	} {
		s := &Studio{Schema: Schema, Today: today, Groups: []Group{{"scales", 21}}, Works: []Work{{ID: "c", Kind: Technique, Group: "scales"}},
			Students: []Student{{ID: "s", Minutes: c.minutes, Items: []Item{{Work: "c", Stage: Kept, Played: []Played{{Day: today - calendar.Day(c.ago), Rating: 3}}}}}}}
		if err := s.Check(); err != nil {
			t.Fatal(err)
		}
		w := weekOf(t, s, "s")
		if l := w.line("c"); l == nil || l.Few != c.few || !strings.HasSuffix(l.Why, c.says) || strings.Contains(l.Why, "Until then") != (c.says != "") {
			t.Errorf("played %d days ago, %v: %+v", c.ago, c.minutes, l)
		}
	}
}
