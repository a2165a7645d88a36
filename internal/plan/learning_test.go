package plan

import (
	"slices"
	"testing"

	"antiphon/internal/plan/calendar"
)

// TestLearningIsNotForgetting: forty days on which something new does not go yet say nothing about how fast the
// student forgets; forty on which something kept does not go any more do.
func TestLearningIsNotForgetting(t *testing.T) {
	today, err := calendar.Read("2026-11-30")
	if err != nil {
		t.Fatal(err)
	}
	pace := func(stage Stage) float64 {
		var played []Played
		for i := range 40 {
			played = append(played, Played{Day: today - 80 + calendar.Day(2*i), Right: 1 + i%2, Tries: 3})
		}
		s := Studio{Schema: Schema, Today: today, Works: []Work{{ID: "canon", Title: "Canon"}}, Students: []Student{{ID: "ada", Name: "Ada",
			Minutes: [7]int{15, 15, 15, 15, 15, 15, 15}, Items: []Item{{Work: "canon", Stage: stage, Begun: today - 90, Finished: today - 85, Played: played}}}}}
		if stage == Learning {
			s.Students[0].Items[0].Finished = 0
		}
		p, err := New(&s)
		if err != nil {
			t.Fatal(err)
		}
		return p.Pace(&s.Students[0]).Scale
	}
	learning, kept := pace(Learning), pace(Kept)
	if learning != 1 {
		t.Errorf("what is being learnt sets the pace to %v of the published one", learning)
	}
	if kept >= learning {
		t.Errorf("what is kept and does not go: %v", kept)
	}
}

// TestAWeekIsCountedOnce: works that are learnt side by side share their weeks, so that all of them together took as long as it
// was, by hand: of six weeks with a recording three for the first, none for what was learnt within these, three for the last.
func TestAWeekIsCountedOnce(t *testing.T) {
	const today = 1000
	st := Student{ID: "s", Items: []Item{
		{Work: "a", Stage: Kept, Begun: today - 42, Finished: today - 24},
		{Work: "b", Stage: Kept, Begun: today - 38, Finished: today - 22},
		{Work: "c", Stage: Kept, Begun: today - 24, Finished: today - 2},
		{Work: "d", Stage: Kept, Begun: today - 2, Finished: today - 2}, // asked once beside others
		{Work: "old", Stage: Kept, Begun: today - 70, Finished: today - 56},
	}}
	for range 6 {
		st.Weeks = append(st.Weeks, Week{Came: true})
	}
	s := &Studio{Schema: Schema, Today: today, Works: []Work{{ID: "a"}, {ID: "b"}, {ID: "c"}, {ID: "d"}, {ID: "old"}}, Students: []Student{st}}
	if err := s.Check(); err != nil {
		t.Fatal(err)
	}
	p, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	var got []float64
	for _, d := range p.past(&s.Students[0]).Done {
		got = append(got, d.Weeks)
	}
	if want := []float64{2, 3, 0, 3}; !slices.Equal(got, want) {
		t.Errorf("weeks of each work: %v, want %v", got, want)
	}
	for i := range s.Students[0].Weeks {
		s.Students[0].Weeks[i].Came = false
	}
	for _, d := range p.past(&s.Students[0]).Done[1:] {
		if d.Weeks != 0.5 {
			t.Errorf("learnt without a recording, in %g weeks", d.Weeks)
		}
	}
}
