package plan

import (
	"fmt"
	"strings"
	"testing"
	"time"

	plans "antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
	"antiphon/internal/studio"
)

// TestManyYears: of two thousand recordings of one passage, and of one skill, the newest are shown, and the rest is counted.
func TestManyYears(t *testing.T) {
	const takes = 2000
	start := time.Date(2023, 1, 2, 18, 0, 0, 0, time.UTC)
	today := calendar.Of(start) + takes
	it := studio.Remembered{Work: studio.Work{ID: "w", Title: "Ode to Joy"}, Stage: plans.Kept, Passages: []studio.RememberedPassage{{Passage: plans.Passage{From: "5", To: "8"}}}}
	skill := studio.RememberedSkill{Name: "small barre", Why: studio.SkillHeard, Through: []studio.SkillIn{{Work: it.Work}}}
	for i := range takes {
		one := studio.HeardThere{Take: studio.TakeID(fmt.Sprint("t", i)), At: start.AddDate(0, 0, i), There: studio.There{Notes: 8, Right: 8, Bpm: 60}}
		it.Passages[0].Heard = append(it.Passages[0].Heard, studio.WentThere{HeardThere: one, Rating: memory.Steady})
		it.Heard = append(it.Heard, studio.HeardOnce{Take: one.Take, At: one.At, Summary: &studio.Summary{Bpm: 60, Notes: 8, RightShare: 1}})
		skill.Times = append(skill.Times, studio.SkillTime{Day: calendar.Of(one.At), Work: "w", Take: one.Take, Right: true, Chance: .9})
	}
	x, sk := remembered(it, false, today), skillOf(skill, nil, today)
	ps := append(x.Passages, x.Well...)[0]
	if n := len(x.Rows); n != rowsShown || x.Older != takes-n || x.Recordings != "2000 recordings in numbers" || x.Rows[n-1].Take != "t1999" {
		t.Errorf("%d rows under “%s”, %d older", n, x.Recordings, x.Older)
	}
	if n := len(ps.Rows); n != rowsShown || ps.Older != takes-n || ps.Rows[n-1].Take != "t1999" {
		t.Errorf("%d rows of a passage, %d older", n, ps.Older)
	}
	if n := strings.Count(string(ps.Curves[0].SVG), "<circle"); n != marksDrawn {
		t.Errorf("the tempo of a passage has %d dots", n)
	}
	for name, svg := range map[string]string{"passage": string(ps.Strip), "skill": string(sk.Strip), "what is believed": string(sk.Curve)} {
		if n := strings.Count(svg, "<circle"); n != marksDrawn || !strings.Contains(svg, "2000") {
			t.Errorf("%s: %d dots: %.200s", name, n, svg)
		}
	}
}

// TestASkillIsCountedByDays: two recordings of one evening are one evening, and who has it right once on a day has it.
func TestASkillIsCountedByDays(t *testing.T) {
	at := func(day calendar.Day, right bool) studio.SkillTime { return studio.SkillTime{Day: day, Right: right} }
	for _, c := range []struct {
		name  string
		times []studio.SkillTime
		want  bool
	}{
		{"nothing", nil, false},
		{"one evening", []studio.SkillTime{at(5, true), at(9, false), at(9, false)}, false},
		{"one evening, and nothing else", []studio.SkillTime{at(9, false), at(9, false)}, false},
		{"two evenings", []studio.SkillTime{at(5, true), at(7, false), at(9, false), at(9, false)}, true},
		{"right once on the last", []studio.SkillTime{at(5, false), at(7, false), at(9, true), at(9, false)}, false},
	} {
		if got := wrongOn(c.times, 2); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
