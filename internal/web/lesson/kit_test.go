package lesson_test

import (
	"net/http"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/arrive"
	"antiphon/internal/web/lesson"
	"antiphon/internal/web/webtest"
)

// open serves the lessons of a studio with two families, and what is sent there.
func open(t testing.TB) *webtest.Site {
	t.Helper()
	s := webtest.Open(t)
	arrivals, err := arrive.New(s.Frame, arrive.Options{Dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	return s.Serve(t, arrivals.Routes, func(mux *http.ServeMux) {
		if err := lesson.Routes(mux, s.Frame, lesson.Options{}); err != nil {
			t.Fatal(err)
		}
	})
}

// busy is a studio in the middle of its term: a lesson that Ada had last week, what came since, and a draft.
func busy(t testing.TB, s *webtest.Site) (sent, draft studio.Lesson) {
	t.Helper()
	ctx, ada := t.Context(), s.Okafor.Students[0]
	var works []studio.Work
	for _, title := range []string{"Three Blind Mice", "Tallis’s Canon", "Ode to Joy", "Open strings, i and m in turn"} {
		works = append(works, s.Work(t, title))
	}
	if _, err := s.Desk.AddPassage(ctx, s.Teacher, studio.Passage{Work: works[1].ID, Name: "second line", FromBar: "5", ToBar: "8"}); err != nil {
		t.Fatal(err)
	}
	sent, err := s.Desk.SaveDraft(ctx, s.Teacher, studio.Lesson{Student: ada.ID, Date: s.Now().Format(time.DateOnly), Words: "A good week. The tone is rounder than in October.",
		Assignments: []studio.Assignment{{Work: works[1].ID, FromBar: "1", ToBar: "8", Do: "Three times a day, slowly.", Goals: studio.Goals{TempoBpm: 66, DoneWhen: "three times without a stop"}},
			{Work: works[0].ID, Do: "Once a day, for pleasure."}}})
	if err == nil {
		err = s.Desk.SendLesson(ctx, s.Teacher, sent.ID, sent.Version)
	}
	if err != nil {
		t.Fatal(err)
	}
	s.Wait(6 * 24 * time.Hour)
	for i, a := range sent.Assignments {
		one := s.Take(t, s.Okafor.Coach, studio.Announcement{Student: ada.ID, Assignment: a.ID, Work: a.Work})
		s.Hear(t, one.ID, studio.Summary{Bpm: 62, Notes: 32, Wrong: 1 - i, Restarts: 1, FromBar: "1", ToBar: "8", RightShare: .9})
		if i == 0 {
			s.Remark(t, one.ID, "5", "The fourth finger comes late: let it wait above the string.")
		}
	}
	draft, err = s.Desk.SaveDraft(ctx, s.Teacher, studio.Lesson{Student: ada.ID, Date: s.Now().Format(time.DateOnly), Words: "What a step forward.",
		Assignments: []studio.Assignment{{Work: works[1].ID, FromBar: "1", ToBar: "8", Do: "Bars 5 to 8 alone first.", Goals: studio.Goals{TempoBpm: 72, DoneWhen: "three times without a stop"}},
			{Work: works[2].ID, Do: "Read through it once a day.", Goals: studio.Goals{Tone: "warm, over the hole"}}}})
	if err != nil {
		t.Fatal(err)
	}
	return sent, draft
}
