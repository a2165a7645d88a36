package desk_test

import (
	"bytes"
	"errors"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/desk"
	"antiphon/internal/web/lesson"
	"antiphon/internal/web/webtest"
)

// open serves the desk of a studio with two families, and the lessons that it leads to.
func open(t testing.TB, more ...func(*http.ServeMux)) *webtest.Site {
	t.Helper()
	s := webtest.Open(t)
	return s.Serve(t, append(more, func(mux *http.ServeMux) {
		if err := errors.Join(desk.Routes(mux, s.Frame, desk.Options{Address: "https://studio.example"}), lesson.Routes(mux, s.Frame, lesson.Options{})); err != nil {
			t.Fatal(err)
		}
	})...)
}

func work(t testing.TB, s *webtest.Site, title string) studio.Work {
	t.Helper()
	w, err := s.Desk.AddWork(t.Context(), s.Teacher, studio.Work{Title: title, Rights: "traditional"})
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// ear is the program itself.
func ear(s *webtest.Site) studio.Viewer {
	return studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
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
func hear(t testing.TB, s *webtest.Site, id studio.TakeID, sum studio.Summary, concerns ...studio.Concern) {
	t.Helper()
	ctx := t.Context()
	if _, err := s.Desk.BeginHearing(ctx, ear(s), id); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Desk.ReplaceOriginal(ctx, ear(s), id, "audio/mp4", bytes.NewReader([]byte("clean "+id))); err != nil {
		t.Fatal(err)
	}
	_, err := s.Desk.KeepHearing(ctx, ear(s), id, studio.Heard{Doc: []byte(`{"schema":"antiphon.hearing/1"}`), Summary: sum, Concerns: concerns, DurationS: 90})
	if err != nil {
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

func TestStart(t *testing.T) {
	s := open(t)
	for _, c := range []struct{ device, to string }{{s.TeacherDevice, "/desk"}, {s.Okafor.Device, "/week"}, {"", "/sign-in"}} {
		a, err := s.Client(t, c.device).Get(s.URL + "/")
		if err != nil {
			t.Fatal(err)
		}
		a.Body.Close()
		if a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != c.to {
			t.Errorf("to %s with %d, want %s", a.Header.Get("Location"), a.StatusCode, c.to)
		}
	}
}

// TestNobodyElse: every page of the teacher is closed to a family and to a stranger, for reading and for
// changing, and what is asked for does not exist for them either way.
func TestNobodyElse(t *testing.T) {
	s := open(t)
	w := work(t, s, "Tallis’s Canon")
	ada := s.Okafor.Students[0]
	one := take(t, s, s.Okafor.Coach, studio.Announcement{Student: ada.ID, Work: w.ID})
	draft, err := s.Desk.SaveDraft(t.Context(), s.Teacher, studio.Lesson{Student: ada.ID, Date: "2026-11-04", Words: "A draft is nobody else’s"})
	if err != nil {
		t.Fatal(err)
	}
	student, family, lesson := "/students/"+string(ada.ID), "/studio/families/"+string(s.Okafor.Family.ID), "/lessons/"+string(draft.ID)
	for _, path := range []string{"/desk", "/desk/standing", "/desk/next", "/students", student, student + "/looked", student + "/lesson",
		student + "/takes/" + string(one.ID) + "/delete", "/studio", "/studio/receipts", "/studio/families", "/studio/families/new", family, family + "/link", lesson} {
		if status, text := s.Get(t, s.Okafor.Device, path); status != http.StatusForbidden && !(path == lesson && status == http.StatusNotFound) {
			t.Errorf("a family gets %s: %d %s", path, status, seen(text))
		}
		if status, text := s.Get(t, "", path); status != http.StatusSeeOther || strings.Contains(text, "Ada") {
			t.Errorf("a stranger gets %s: %d %s", path, status, seen(text))
		}
	}
	for _, path := range []string{student, student + "/assign", student + "/lesson", student + "/takes/" + string(one.ID) + "/delete", lesson, "/studio", "/studio/corrections",
		"/studio/families", family + "/link", family + "/students", family + "/devices/x/revoke", family + "/export", family + "/erase"} {
		for _, device := range []string{s.Okafor.Device, s.Lindqvist.Device, ""} {
			form := url.Values{"name": {"Changed"}, "media": {"video"}, "typed": {"Okafor"}, "version": {"1"}, "date": {"2026-11-04"}, "act": {"send"}}
			if status, text, _ := s.Post(t, device, path, form); status != http.StatusForbidden {
				t.Errorf("POST %s: %d %s", path, status, seen(text))
			}
		}
	}
	has(t, teacher(t, s, student), "Ada")
	has(t, teacher(t, s, lesson), "A draft is nobody else’s")
}

// TestOrderOfTheDesk: what hurts stands first, then what was promised; each line says what came and what
// the ear heard, and the next is the first.
func TestOrderOfTheDesk(t *testing.T) {
	s := open(t)
	canon, blind := work(t, s, "Tallis’s Canon"), work(t, s, "Three Blind Mice")
	ada, nils, runa := s.Okafor.Students[0], s.Lindqvist.Students[0], s.Lindqvist.Students[1]
	first := take(t, s, s.Okafor.Coach, studio.Announcement{Student: ada.ID, Work: canon.ID})
	hear(t, s, first.ID, studio.Summary{Bpm: 66.4, Notes: 32, Wrong: 2, Missed: 1, Restarts: 2, FromBar: "1", ToBar: "8"})
	s.Wait(30 * time.Hour)
	second := take(t, s, s.Lindqvist.Coach, studio.Announcement{Student: nils.ID, Work: blind.ID, Note: "The end still stumbles"})
	hear(t, s, second.ID, studio.Summary{Bpm: 80, Notes: 20, FromBar: "1", ToBar: "4"}, studio.Concern{Kind: "too-quiet", Say: "Very quiet: the phone was far away."})
	s.Wait(time.Hour)
	calm := take(t, s, s.Lindqvist.Coach, studio.Announcement{Student: runa.ID, Work: canon.ID})
	s.Wait(time.Minute)
	hurt := take(t, s, s.Lindqvist.Coach, studio.Announcement{Student: runa.ID, Work: blind.ID, Hurt: true})
	s.Wait(42 * time.Hour) // Saturday 7 November, 10:00

	text := teacher(t, s, "/desk")
	has(t, text, "Three students wait", "bars 1 to 8 at 66", "began again twice", "2 notes not as written, 1 note not heard", "Very quiet: the phone was far away · ",
		"every note as written", "“The end still stumbles”", "Said that it hurt", "no medical advice", "safe here, not heard yet", "Promised for today: Ada.", "Open the next: Runa")
	at := func(what string) int { return strings.Index(text, `id="w-`+what) }
	if r, a, n := at(string(runa.ID)), at(string(ada.ID)), at(string(nils.ID)); !(0 < r && r < a && a < n) {
		t.Errorf("Runa stands at %d, Ada at %d, Nils at %d", r, a, n)
	}
	for after, want := range map[studio.TakeID]string{"": string(hurt.ID), hurt.ID: string(calm.ID), calm.ID: string(first.ID), first.ID: string(second.ID), "nonsense": string(hurt.ID)} {
		a, err := s.Client(t, s.TeacherDevice).Get(s.URL + "/desk/next?after=" + string(after))
		if err != nil {
			t.Fatal(err)
		}
		a.Body.Close()
		if got := a.Header.Get("Location"); got != "/takes/"+want {
			t.Errorf("after %q comes %s, want %s", after, got, want)
		}
	}
	a, err := s.Client(t, s.TeacherDevice).Get(s.URL + "/desk/next?after=" + string(second.ID))
	if err != nil {
		t.Fatal(err)
	}
	a.Body.Close()
	if got := a.Header.Get("Location"); got != "/desk" {
		t.Errorf("after the last comes %s", got)
	}
	part := teacher(t, s, "/desk/standing")
	has(t, part, "Three students wait")
	hasNot(t, part, "<html", "<nav")
}

// TestEmptyDesk says what to do first, and what is done of it.
func TestEmptyDesk(t *testing.T) {
	s := open(t)
	has(t, teacher(t, s, "/desk"), "Import a score", "/library", "Done: ")
	work(t, s, "Ode to Joy")
	text := teacher(t, s, "/desk")
	has(t, text, "Nobody waits")
	hasNot(t, text, "Import a score")
	s.Wait(20 * 24 * time.Hour)
	text = teacher(t, s, "/desk")
	has(t, text, "A word might be welcome", "Ada", "No recording has come yet")
	hasNot(t, strings.ToLower(seen(text)), "failed", "missed", "late", "inactive", "overdue")
}

// TestWhatPeopleWroteIsText: names, notes and remarks are shown as they were written and do nothing.
func TestWhatPeopleWroteIsText(t *testing.T) {
	const nasty = `<script>alert(1)</script><img src=x onerror=alert(2)>"'{{.}}`
	s := open(t)
	w := work(t, s, nasty)
	f, token, err := s.Desk.InviteFamily(t.Context(), s.Teacher, studio.NewFamily{Name: nasty, Students: []studio.NewStudent{{Name: nasty, Media: studio.FullVideo}}}, studio.Asked{})
	if err != nil {
		t.Fatal(err)
	}
	coach, _, err := s.Desk.Redeem(t.Context(), token, studio.Redemption{Name: nasty, Device: nasty, Agrees: true})
	if err != nil {
		t.Fatal(err)
	}
	var id studio.StudentID
	students, err := s.Desk.Students(t.Context(), s.Teacher)
	if err != nil {
		t.Fatal(err)
	}
	for _, one := range students {
		if one.Family == f.ID {
			id = one.ID
		}
	}
	one := take(t, s, coach, studio.Announcement{Student: id, Work: w.ID, Note: nasty, FileName: nasty})
	remark(t, s, one.ID, nasty, nasty)
	l, err := s.Desk.SaveDraft(t.Context(), s.Teacher, studio.Lesson{Student: id, Date: "2026-11-04", Words: nasty,
		Assignments: []studio.Assignment{{Work: w.ID, FromBar: `<b>"'{{.}}`, Do: nasty, Goals: studio.Goals{DoneWhen: nasty, Tone: nasty}}}})
	if err != nil {
		t.Fatal(err)
	}
	student := "/students/" + string(id)
	pages := []string{"/desk", "/desk/standing", "/students", "/students?q=" + url.QueryEscape(nasty), student, student + "?words=" + url.QueryEscape(nasty), student + "/looked", student + "/lesson",
		student + "/takes/" + string(one.ID) + "/delete", "/studio/families", "/studio/families/" + string(f.ID), "/lessons/" + string(l.ID)}
	for range 2 {
		for _, path := range pages {
			_, text := s.Get(t, s.TeacherDevice, path)
			hasNot(t, text, "<script>alert", "<img", "ZgotmplZ")
		}
		if err := s.Desk.SendLesson(t.Context(), s.Teacher, l.ID, l.Version); err != nil && l.Sent.IsZero() {
			t.Fatal(err)
		}
		l.Sent = s.Now()
	}
	has(t, teacher(t, s, "/lessons/"+string(l.ID)), "&lt;script&gt;alert(1)")
}
