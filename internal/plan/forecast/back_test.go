package forecast

import (
	"strings"
	"testing"

	"antiphon/internal/plan/calendar"
)

func TestBackwards(t *testing.T) {
	from, _ := calendar.Read("2026-01-05")
	s := Stage{Question: Question{Studio: plain(), Left: []float64{1, 1, 1}, From: from}, Titles: []string{"Canon", "Study", "Dance"}, On: from + 40*7}
	s.Student.Came = []bool{true, true, true}
	for range 20 {
		s.Student.Done = append(s.Student.Done, Step{Weeks: 2})
	}
	far := Back(s)
	if far.Polish != from+37*7 || far.Chance < .95 || far.Fit != 3 || !strings.Contains(far.Words, "likely learnt") {
		t.Errorf("40 weeks before: %+v", far)
	}
	for i, m := range far.Milestones {
		if m.Late || m.By <= from || i > 0 && m.By <= far.Milestones[i-1].By || !strings.Contains(m.Say, s.Titles[i]) {
			t.Errorf("milestone %d: %+v", i, m)
		}
	}
	s.On = from + 8*7
	if near := Back(s); near.Chance > .6 || near.Fit == 3 || near.Fit == 0 || !near.Milestones[0].Late {
		t.Errorf("8 weeks before: %+v", near)
	}
	s.On = from + 14
	if now := Back(s); now.Polish != from || now.Chance != 0 || !strings.Contains(now.Words, "none to learn") {
		t.Errorf("two weeks before: %+v", now)
	}
	s.On = from + 26 // polishing begins in five days, before another lesson
	if soon := Back(s); soon.Polish != from+5 || !strings.Contains(soon.Words, "none to learn") {
		t.Errorf("less than a lesson before polishing: %+v", soon)
	}
	s.Begun = 1
	for weeks, want := range map[calendar.Day]string{40: "Canon is being learnt, and likely ready in time.", 5: "Canon is being learnt; whether it is ready in time is not sure."} {
		s.On = from + weeks*7
		if got := Back(s).Milestones; got[0].Say != want || strings.Contains(got[1].Say, "is being learnt") {
			t.Errorf("%d weeks before, with one begun: %+v", weeks, got)
		}
	}
	s.Left, s.Titles, s.Begun = nil, nil, 0
	if done := Back(s); done.Chance != 1 || !strings.Contains(done.Words, "already") {
		t.Errorf("nothing left: %+v", done)
	}
}
