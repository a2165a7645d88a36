package webtest

import (
	"bytes"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"antiphon/internal/studio"
)

// Ear is the program itself.
func (s *Studio) Ear() studio.Viewer {
	return studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
}

// Work is one without a score.
func (s *Studio) Work(t testing.TB, title string) studio.Work {
	t.Helper()
	w, err := s.Desk.AddWork(t.Context(), s.Teacher, studio.Work{Title: title, Rights: "traditional"})
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// Take is one that arrived; its bytes are its id, so that no two are the same.
func (s *Studio) Take(t testing.TB, by studio.Viewer, a studio.Announcement) studio.Take {
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

// Hear keeps what the ear would have found.
func (s *Studio) Hear(t testing.TB, id studio.TakeID, sum studio.Summary, concerns ...studio.Concern) {
	t.Helper()
	ctx := t.Context()
	if _, err := s.Desk.BeginHearing(ctx, s.Ear(), id); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Desk.ReplaceOriginal(ctx, s.Ear(), id, "audio/mp4", bytes.NewReader([]byte("clean "+id))); err != nil {
		t.Fatal(err)
	}
	_, err := s.Desk.KeepHearing(ctx, s.Ear(), id, studio.Heard{Doc: []byte(`{"schema":"antiphon.hearing/1"}`), Summary: sum, Concerns: concerns, DurationS: 90})
	if err != nil {
		t.Fatal(err)
	}
}

// Remark is the teacher's, at a bar.
func (s *Studio) Remark(t testing.TB, id studio.TakeID, bar, text string) studio.Remark {
	t.Helper()
	m, err := s.Desk.Remark(t.Context(), s.Teacher, id, studio.Anchor{AtS: 12, Bar: bar}, text, "")
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Page gets one as the teacher, which must be there.
func (s *Site) Page(t testing.TB, path string) string {
	t.Helper()
	status, text := s.Get(t, s.TeacherDevice, path)
	if status != http.StatusOK {
		t.Fatalf("%s: %d %s", path, status, Seen(text))
	}
	return text
}

// Sends a form as the teacher, which must lead on.
func (s *Site) Sends(t testing.TB, path string, form url.Values) (to string) {
	t.Helper()
	status, text, to := s.Post(t, s.TeacherDevice, path, form)
	if status != http.StatusSeeOther || to == "" {
		t.Fatalf("%s: %d %s", path, status, Seen(text))
	}
	return to
}

// Has fails where the page lacks one of the words.
func Has(t testing.TB, text string, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(text, w) {
			t.Errorf("the page does not say %q:\n%s", w, Seen(text))
		}
	}
}

// HasNot fails where the page has one of the words.
func HasNot(t testing.TB, text string, words ...string) {
	t.Helper()
	for _, w := range words {
		if strings.Contains(text, w) {
			t.Errorf("the page says %q:\n%s", w, Seen(text))
		}
	}
}

// Seen is the page without its head and its tags, for a failure that can be read.
func Seen(text string) string {
	if _, main, ok := strings.Cut(text, "<main"); ok {
		text = main
	}
	text = strings.Join(strings.Fields(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(text, " ")), " ")
	return text[:min(len(text), 1500)]
}
