package lesson_test

import (
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/plan"
	"antiphon/internal/studio"
	"antiphon/internal/web/webtest"
)

// TestThePlanStandsBesideTheProposal: what the week's plan has and the proposal has not is offered with its reason, asked
// for once, and remembered as a choice.
func TestThePlanStandsBesideTheProposal(t *testing.T) {
	s := open(t)
	ctx, ada := t.Context(), s.Okafor.Students[0]
	mice, canon := s.Work(t, "Three Blind Mice"), s.Work(t, "Tallis’s Canon")
	if _, err := s.Desk.Shelve(ctx, s.Teacher, studio.Collection{Name: "First tunes", Items: []studio.CollectionItem{{Work: mice.ID}, {Work: canon.ID}}}); err != nil {
		t.Fatal(err)
	}
	for range 3 {
		l, err := s.Desk.SaveDraft(ctx, s.Teacher, studio.Lesson{Student: ada.ID, Date: s.Now().Format(time.DateOnly), Assignments: []studio.Assignment{{Work: mice.ID, Do: "Slowly.", Goals: studio.Goals{TempoBpm: 60}}}})
		if err == nil {
			err = s.Desk.SendLesson(ctx, s.Teacher, l.ID, l.Version)
		}
		if err != nil {
			t.Fatal(err)
		}
		s.Wait(7 * 24 * time.Hour)
	}
	if _, err := s.Desk.Pin(ctx, s.Teacher, ada.ID, canon.ID); err != nil {
		t.Fatal(err)
	}
	v, err := s.Desk.PlanOf(ctx, s.Teacher, ada.ID)
	if err != nil {
		t.Fatal(err)
	}
	at := slices.IndexFunc(v.Week.Lines, func(l plan.Line) bool { return l.Work == string(canon.ID) })
	both := slices.ContainsFunc(v.Week.Lines, func(l plan.Line) bool { return l.Work == string(mice.ID) })
	if at < 0 || !both {
		t.Fatalf("the plan is %+v", v.Week.Lines)
	}
	address := "/students/" + string(ada.ID) + "/lesson"
	text := s.Page(t, address)
	webtest.Has(t, text, "What the plan of the week has besides", v.Week.Lines[at].Title)
	if n := strings.Count(text, `name="plan"`); n != 1 {
		t.Errorf("%d lines of the plan are offered, want the one that the proposal has not: %s", n, webtest.Seen(text))
	}
	_, key, _ := strings.Cut(text, `name="line" value="`)
	key, _, _ = strings.Cut(key, `"`)
	to := s.Sends(t, address, url.Values{"begin": {"proposed"}, "line": {key}, "plan": {string(canon.ID), "nothing that is there"}})
	l, err := s.Desk.Lesson(ctx, s.Teacher, studio.LessonID(strings.TrimPrefix(to, "/lessons/")))
	if err != nil || len(l.Assignments) != 2 || l.Assignments[0].Work != mice.ID || l.Assignments[1].Work != canon.ID {
		t.Fatalf("%s holds %+v, %v", to, l, err)
	}
	if v, err = s.Desk.PlanOf(ctx, s.Teacher, ada.ID); err != nil {
		t.Fatal(err)
	}
	for _, c := range v.Says.Choices {
		if !c.Stayed {
			t.Errorf("what stands in the lesson is remembered as left out: %+v", v.Says.Choices)
		}
	}
	if len(v.Says.Choices) < 3 { // the pin, and both lines
		t.Errorf("what was chosen is not remembered: %+v", v.Says.Choices)
	}
}
