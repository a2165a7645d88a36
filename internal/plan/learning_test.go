package plan

import (
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
