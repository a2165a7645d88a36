package desk_test

import (
	"errors"
	"net/http"
	"net/url"
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
	w := s.Work(t, "Tallis’s Canon")
	ada := s.Okafor.Students[0]
	one := s.Take(t, s.Okafor.Coach, studio.Announcement{Student: ada.ID, Work: w.ID})
	draft, err := s.Desk.SaveDraft(t.Context(), s.Teacher, studio.Lesson{Student: ada.ID, Date: "2026-11-04", Words: "A draft is nobody else’s"})
	if err != nil {
		t.Fatal(err)
	}
	student, family, lesson := "/students/"+string(ada.ID), "/studio/families/"+string(s.Okafor.Family.ID), "/lessons/"+string(draft.ID)
	for _, path := range []string{"/desk", "/desk/standing", "/desk/next", "/students", student, student + "/looked", student + "/lesson",
		student + "/takes/" + string(one.ID) + "/delete", "/studio", "/studio/receipts", "/studio/families", "/studio/families/new", family, family + "/link", lesson} {
		if status, text := s.Get(t, s.Okafor.Device, path); status != http.StatusForbidden && !(path == lesson && status == http.StatusNotFound) {
			t.Errorf("a family gets %s: %d %s", path, status, webtest.Seen(text))
		}
		if status, text := s.Get(t, "", path); status != http.StatusSeeOther || strings.Contains(text, "Ada") {
			t.Errorf("a stranger gets %s: %d %s", path, status, webtest.Seen(text))
		}
	}
	for _, path := range []string{student, student + "/assign", student + "/lesson", student + "/takes/" + string(one.ID) + "/delete", lesson, "/studio", "/studio/corrections",
		"/studio/families", family + "/link", family + "/students", family + "/devices/x/revoke", family + "/export", family + "/erase"} {
		for _, device := range []string{s.Okafor.Device, s.Lindqvist.Device, ""} {
			form := url.Values{"name": {"Changed"}, "media": {"video"}, "typed": {"Okafor"}, "version": {"1"}, "date": {"2026-11-04"}, "act": {"send"}}
			if status, text, _ := s.Post(t, device, path, form); status != http.StatusForbidden {
				t.Errorf("POST %s: %d %s", path, status, webtest.Seen(text))
			}
		}
	}
	webtest.Has(t, s.Page(t, student), "Ada")
	webtest.Has(t, s.Page(t, lesson), "A draft is nobody else’s")
}

// TestOrderOfTheDesk: what hurts stands first, then what was promised; each line says what came and what
// the ear heard, and the next is the first.
func TestOrderOfTheDesk(t *testing.T) {
	s := open(t)
	canon, blind := s.Work(t, "Tallis’s Canon"), s.Work(t, "Three Blind Mice")
	ada, nils, runa := s.Okafor.Students[0], s.Lindqvist.Students[0], s.Lindqvist.Students[1]
	first := s.Take(t, s.Okafor.Coach, studio.Announcement{Student: ada.ID, Work: canon.ID})
	s.Hear(t, first.ID, studio.Summary{Bpm: 66.4, Notes: 32, Wrong: 2, Missed: 1, Restarts: 2, FromBar: "1", ToBar: "8"})
	s.Wait(30 * time.Hour)
	second := s.Take(t, s.Lindqvist.Coach, studio.Announcement{Student: nils.ID, Work: blind.ID, Note: "The end still stumbles"})
	s.Hear(t, second.ID, studio.Summary{Bpm: 80, Notes: 20, FromBar: "1", ToBar: "4"}, studio.Concern{Kind: "too-quiet", Say: "Very quiet: the phone was far away."})
	s.Wait(time.Hour)
	calm := s.Take(t, s.Lindqvist.Coach, studio.Announcement{Student: runa.ID, Work: canon.ID})
	s.Wait(time.Minute)
	hurt := s.Take(t, s.Lindqvist.Coach, studio.Announcement{Student: runa.ID, Work: blind.ID, Hurt: true})
	s.Wait(42 * time.Hour) // Saturday 7 November, 10:00

	text := s.Page(t, "/desk")
	webtest.Has(t, text, "Three students wait", "bars 1 to 8 at 66", "began again twice", "2 notes not as written, 1 note not heard", "Very quiet: the phone was far away · ",
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
	part := s.Page(t, "/desk/standing")
	webtest.Has(t, part, "Three students wait")
	webtest.HasNot(t, part, "<html", "<nav")
}

// TestEmptyDesk says what to do first, and what is done of it.
func TestEmptyDesk(t *testing.T) {
	s := open(t)
	webtest.Has(t, s.Page(t, "/desk"), "Import a score", "/library", "Done: ")
	s.Work(t, "Ode to Joy")
	text := s.Page(t, "/desk")
	webtest.Has(t, text, "Nobody waits")
	webtest.HasNot(t, text, "Import a score")
	s.Wait(20 * 24 * time.Hour)
	text = s.Page(t, "/desk")
	webtest.Has(t, text, "A word might be welcome", "Ada", "No recording has come yet")
	webtest.HasNot(t, strings.ToLower(webtest.Seen(text)), "failed", "missed", "late", "inactive", "overdue")
}

// TestWhatPeopleWroteIsText: names, notes and remarks are shown as they were written and do nothing.
func TestWhatPeopleWroteIsText(t *testing.T) {
	const nasty = `<script>alert(1)</script><img src=x onerror=alert(2)>"'{{.}}`
	s := open(t)
	w := s.Work(t, nasty)
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
	one := s.Take(t, coach, studio.Announcement{Student: id, Work: w.ID, Note: nasty, FileName: nasty})
	s.Remark(t, one.ID, nasty, nasty)
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
			webtest.HasNot(t, text, "<script>alert", "<img", "ZgotmplZ")
		}
		if err := s.Desk.SendLesson(t.Context(), s.Teacher, l.ID, l.Version); err != nil && l.Sent.IsZero() {
			t.Fatal(err)
		}
		l.Sent = s.Now()
	}
	webtest.Has(t, s.Page(t, "/lessons/"+string(l.ID)), "&lt;script&gt;alert(1)")
}

// TestATaskWithoutAWork is told by what is to be done, on the student's page too: no work of it was taken away.
func TestATaskWithoutAWork(t *testing.T) {
	s := open(t)
	ada := s.Okafor.Students[0].ID
	l, err := s.Desk.SaveDraft(t.Context(), s.Teacher, studio.Lesson{Student: ada, Date: "2026-11-04", Assignments: []studio.Assignment{
		{Ask: studio.AskRest}, {Ask: studio.AskListen, Do: "Listen to the canon."}}})
	if err == nil {
		err = s.Desk.SendLesson(t.Context(), s.Teacher, l.ID, l.Version)
	}
	if err != nil {
		t.Fatal(err)
	}
	text := s.Page(t, "/students/"+string(ada))
	webtest.Has(t, text, "A rest", "Listen to the canon.")
	webtest.HasNot(t, text, "not in the library any more")
}
