package lesson_test

import (
	"bytes"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/lesson"
	"antiphon/internal/web/webtest"
)

// open serves the lessons of a studio with two families.
func open(t testing.TB) *webtest.Site {
	t.Helper()
	s := webtest.Open(t)
	return s.Serve(t, func(mux *http.ServeMux) {
		if err := lesson.Routes(mux, s.Frame, lesson.Options{}); err != nil {
			t.Fatal(err)
		}
	})
}

func work(t testing.TB, s *webtest.Site, title string) studio.Work {
	t.Helper()
	w, err := s.Desk.AddWork(t.Context(), s.Teacher, studio.Work{Title: title, Rights: "traditional"})
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// take is one that arrived; its bytes are its note, so that no two are the same.
func take(t testing.TB, s *webtest.Site, by studio.Viewer, a studio.Announcement) studio.Take {
	t.Helper()
	ctx := t.Context()
	one, err := s.Desk.Announce(ctx, by, a)
	if err != nil {
		t.Fatal(err)
	}
	r, err := s.Desk.Receive(ctx, by, one.ID, "audio/mp4", strings.NewReader("sound of "+string(one.ID)))
	if err != nil {
		t.Fatal(err)
	}
	return r.Take
}

// hear keeps what the ear would have found.
func hear(t testing.TB, s *webtest.Site, id studio.TakeID, sum studio.Summary) {
	t.Helper()
	ctx, ear := t.Context(), studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
	if _, err := s.Desk.BeginHearing(ctx, ear, id); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Desk.ReplaceOriginal(ctx, ear, id, "audio/mp4", bytes.NewReader([]byte("clean "+id))); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Desk.KeepHearing(ctx, ear, id, studio.Heard{Doc: []byte(`{"schema":"antiphon.hearing/1"}`), Summary: sum, DurationS: 90}); err != nil {
		t.Fatal(err)
	}
}

func remark(t testing.TB, s *webtest.Site, id studio.TakeID, bar, text string) studio.Remark {
	t.Helper()
	m, err := s.Desk.Remark(t.Context(), s.Teacher, id, studio.Anchor{AtS: 12, Bar: bar}, text, "")
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// busy is a studio in the middle of its term: a lesson that Ada had last week, what came since, and a draft.
func busy(t testing.TB, s *webtest.Site) (sent, draft studio.Lesson) {
	t.Helper()
	ctx, ada := t.Context(), s.Okafor.Students[0]
	var works []studio.Work
	for _, title := range []string{"Three Blind Mice", "Tallis’s Canon", "Ode to Joy", "Open strings, i and m in turn"} {
		works = append(works, work(t, s, title))
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
		one := take(t, s, s.Okafor.Coach, studio.Announcement{Student: ada.ID, Assignment: a.ID, Work: a.Work})
		hear(t, s, one.ID, studio.Summary{Bpm: 62, Notes: 32, Wrong: 1 - i, Restarts: 1, FromBar: "1", ToBar: "8", RightShare: .9})
		if i == 0 {
			remark(t, s, one.ID, "5", "The fourth finger comes late: let it wait above the string.")
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

// has fails where the page lacks one of the words.
func has(t testing.TB, text string, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(text, w) {
			t.Errorf("the page does not say %q:\n%s", w, seen(text))
		}
	}
}

func hasNot(t testing.TB, text string, words ...string) {
	t.Helper()
	for _, w := range words {
		if strings.Contains(text, w) {
			t.Errorf("the page says %q:\n%s", w, seen(text))
		}
	}
}

// seen is the page without its head and its tags, for a failure that can be read.
func seen(text string) string {
	if _, main, ok := strings.Cut(text, "<main"); ok {
		text = main
	}
	text = strings.Join(strings.Fields(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(text, " ")), " ")
	return text[:min(len(text), 1500)]
}

// teacher gets a page, which must be there.
func teacher(t testing.TB, s *webtest.Site, path string) string {
	t.Helper()
	status, text := s.Get(t, s.TeacherDevice, path)
	if status != http.StatusOK {
		t.Fatalf("%s: %d %s", path, status, seen(text))
	}
	return text
}

// sends a form as the teacher, which must lead on.
func sends(t testing.TB, s *webtest.Site, path string, form url.Values) (to string) {
	t.Helper()
	status, text, to := s.Post(t, s.TeacherDevice, path, form)
	if status != http.StatusSeeOther || to == "" {
		t.Fatalf("%s: %d %s", path, status, seen(text))
	}
	return to
}
