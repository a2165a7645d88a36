package lesson_test

import (
	"bytes"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"antiphon/internal/captions"
	"antiphon/internal/studio"
	"antiphon/internal/web/lesson"
	"antiphon/internal/web/webtest"
)

// upload sends a file as a browser without scripts does.
func upload(t testing.TB, s *webtest.Site, path, mediaType, content string) (status int, to string) {
	t.Helper()
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	w, err := form.CreatePart(map[string][]string{"Content-Disposition": {`form-data; name="file"; filename="answer"`}, "Content-Type": {mediaType}})
	if err == nil {
		_, err = io.WriteString(w, content)
	}
	if err == nil {
		err = form.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return raw(t, s, s.TeacherDevice, path, form.FormDataContentType(), &b)
}

// raw sends a body as it is.
func raw(t testing.TB, s *webtest.Site, device, path, mediaType string, body io.Reader) (status int, to string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.URL+path, body)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", mediaType)
	a, err := s.Client(t, device).Do(r)
	if err != nil {
		t.Fatal(err)
	}
	a.Body.Close()
	return a.StatusCode, a.Header.Get("Location")
}

func answersOf(t testing.TB, s *webtest.Site, id studio.LessonID) []studio.Answer {
	t.Helper()
	as, err := s.Desk.Answers(t.Context(), s.Teacher, id)
	if err != nil {
		t.Fatal(err)
	}
	return as
}

// TestSayingItAloud: one item is recorded, taken again and removed without the others; its words are kept; and a
// family hears nothing of a draft.
func TestSayingItAloud(t *testing.T) {
	s := open(t)
	_, draft := busy(t, s)
	at := "/lessons/" + string(draft.ID)
	first, second := at+"/answers/"+string(draft.Assignments[0].ID), at+"/answers/"+string(draft.Assignments[1].ID)
	if status, to := upload(t, s, first, "video/mp4", "a film of one"); status != http.StatusSeeOther || to != at+"?open=1#say1" {
		t.Fatalf("%d, leads to %s", status, to)
	}
	if status, to := upload(t, s, at+"/answers/opening", "application/octet-stream", "RIFF\x24\x00\x00\x00WAVEfmt "); status != http.StatusSeeOther || to != at+"#say0" {
		t.Fatalf("%d, leads to %s", status, to)
	}
	if status, _ := upload(t, s, second, "audio/webm; codecs=opus", "a voice of two"); status != http.StatusSeeOther {
		t.Fatal(status)
	}
	as := answersOf(t, s, draft.ID)
	if len(as) != 3 || as[0].Assignment != "" || as[0].Type != "audio/wave" || as[1].Type != "video/mp4" || as[2].Type != "audio/webm" {
		t.Fatalf("%+v", as)
	}
	was := as[2].Media
	if status, _ := upload(t, s, first, "video/mp4", "the film again"); status != http.StatusSeeOther {
		t.Fatal(status)
	}
	again := answersOf(t, s, draft.ID)
	if len(again) != 3 || again[1].Media == as[1].Media || again[2].Media != was {
		t.Errorf("after retaking the first: %+v", again)
	}
	s.Sends(t, first+"/captions", url.Values{"text": {"Let the arm hang.\r\nNow play."}})
	if got := answersOf(t, s, draft.ID)[1].Captions; got != "Let the arm hang.\nNow play." {
		t.Errorf("the words are %q", got)
	}
	for name, c := range map[string]struct {
		path, text string
		status     int
	}{
		"times that are none":  {first + "/captions", "WEBVTT\n\nsoon --> later\nHello", http.StatusUnprocessableEntity},
		"words of nothing":     {at + "/answers/" + strings.Repeat("0", 26) + "/captions", "Hello", http.StatusNotFound},
		"far more than a film": {first + "/captions", strings.Repeat("la la la\n", 30_000), http.StatusUnprocessableEntity},
	} {
		if status, text, _ := s.Post(t, s.TeacherDevice, c.path, url.Values{"text": {c.text}}); status != c.status {
			t.Errorf("%s: %d %s", name, status, webtest.Seen(text))
		}
	}
	for name, status := range map[string]int{
		"a text as a recording":  firstOf(upload(t, s, first, "text/plain", "hello")),
		"nothing":                firstOf(upload(t, s, first, "audio/mp4", "")),
		"to no task":             firstOf(upload(t, s, at+"/answers/"+strings.Repeat("0", 26), "audio/mp4", "x")),
		"no file":                firstOf(raw(t, s, s.TeacherDevice, first, "multipart/form-data; boundary=x", strings.NewReader("--x--\r\n"))),
		"no form":                firstOf(raw(t, s, s.TeacherDevice, first, "audio/mp4", strings.NewReader("x"))),
		"of a family":            firstOf(raw(t, s, s.Okafor.Device, first, "audio/mp4", strings.NewReader("x"))),
		"of somebody else":       firstOf(raw(t, s, "", first, "audio/mp4", strings.NewReader("x"))),
		"a form that is cut off": firstOf(raw(t, s, s.TeacherDevice, first, "multipart/form-data; boundary=x", strings.NewReader("--x\r\nContent-Disp"))),
	} {
		if status < 400 || status >= 500 {
			t.Errorf("%s: %d", name, status)
		}
	}
	webtest.Has(t, s.Page(t, at), "film, with its words", "Let the arm hang.", "what you recorded becomes one film")
	for _, path := range []string{first + "/captions.vtt", at + "/film/captions.vtt", at + "/film/chapters.vtt", first} {
		if status, _ := s.Get(t, s.Okafor.Device, path); status != http.StatusNotFound && status != http.StatusForbidden {
			t.Errorf("a family gets %s of a draft: %d", path, status)
		}
	}
	s.Sends(t, second+"/remove", nil)
	s.Sends(t, second+"/remove", nil) // pressed twice
	if as := answersOf(t, s, draft.ID); len(as) != 2 {
		t.Errorf("after removing one: %+v", as)
	}
}

// TestSomethingToHear: a recording to listen to belongs to one task, is replaced and taken out again.
func TestSomethingToHear(t *testing.T) {
	s := open(t)
	_, draft := busy(t, s)
	at, one := "/lessons/"+string(draft.ID), string(draft.Assignments[1].ID)
	heard := func() studio.MediaID {
		t.Helper()
		l, err := s.Desk.Lesson(t.Context(), s.Teacher, draft.ID)
		if err != nil {
			t.Fatal(err)
		}
		return l.Assignments[1].Recording
	}
	if status, to := upload(t, s, at+"/recordings/"+one, "audio/mpeg", "the next piece"); status != http.StatusSeeOther || to != at+"?open=2#hear2" {
		t.Fatalf("%d, leads to %s", status, to)
	}
	first := heard()
	webtest.Has(t, s.Page(t, at), "/media/"+string(first), "Another recording instead")
	v := form(t, s.Page(t, at))
	v.Set("ask.2", string(studio.AskListen))
	v.Set("act", "save")
	s.Sends(t, at, v)
	if heard() != first {
		t.Error("saving the form loses the recording")
	}
	upload(t, s, at+"/recordings/"+one, "audio/mpeg", "another one")
	if second := heard(); second == "" || second == first {
		t.Errorf("after another: %q", second)
	}
	s.Sends(t, at+"/recordings/"+one+"/remove", nil)
	if heard() != "" {
		t.Error("it is still there")
	}
	if status, _ := upload(t, s, at+"/recordings/opening", "audio/mpeg", "of nothing"); status != http.StatusUnprocessableEntity {
		t.Errorf("to no task: %d", status)
	}
}

func firstOf(status int, _ string) int { return status }

// TestTheFilm: its chapters are the items, its words stand where the chapters are, and the family gets both.
func TestTheFilm(t *testing.T) {
	s := open(t)
	_, draft := busy(t, s)
	at, one := "/lessons/"+string(draft.ID), draft.Assignments[1].ID
	upload(t, s, at+"/answers/opening", "video/mp4", "hello")
	upload(t, s, at+"/answers/"+string(one), "video/mp4", "now this")
	s.Sends(t, at+"/answers/opening/captions", url.Values{"text": {"Hello Ada"}})
	s.Sends(t, at+"/answers/"+string(one)+"/captions", url.Values{"text": {"WEBVTT\n\n00:01.000 --> 00:02.000\nPlay & listen"}})
	s.Sends(t, at+"/film", nil)
	webtest.Has(t, s.Page(t, at), "The film is being made")
	ear := studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
	if _, err := s.Desk.KeepFilm(t.Context(), ear, draft.ID, studio.Film{State: studio.FilmFailed, Why: "One recording holds no picture."}, "", nil); err != nil {
		t.Fatal(err)
	}
	webtest.Has(t, s.Page(t, at+"/film"), "could not be made. One recording holds no picture.", "Try again")
	made := studio.Film{DurationS: 16, Chapters: []studio.Chapter{{FromS: 0, ToS: 4}, {Assignment: one, FromS: 4, ToS: 16}}}
	if _, err := s.Desk.KeepFilm(t.Context(), ear, draft.ID, made, "video/mp4", strings.NewReader("the film")); err != nil {
		t.Fatal(err)
	}
	webtest.Has(t, s.Page(t, at+"/film"), "0:04 2. Ode to Joy", "0:00 Beginning", "captions.vtt", "0:16 long")
	v := form(t, s.Page(t, at))
	v.Set("act", "send")
	s.Sends(t, at, v)
	for device, status := range map[string]int{s.TeacherDevice: http.StatusOK, s.Okafor.Device: http.StatusOK, s.Lindqvist.Device: http.StatusNotFound} {
		got, text := s.Get(t, device, at+"/film/captions.vtt")
		if got != status {
			t.Errorf("%d, want %d", got, status)
		}
		if status != http.StatusOK {
			continue
		}
		cues, err := captions.Read(text, 0)
		if err != nil || len(cues) != 2 || cues[0].FromS != 0 || cues[0].ToS != 4 || cues[1].FromS != 5 || cues[1].Text != "Play & listen" {
			t.Errorf("%v, %v", cues, err)
		}
	}
	_, text := s.Get(t, s.Okafor.Device, at+"/film/chapters.vtt")
	webtest.Has(t, text, "00:00:04.000 --> 00:00:16.000\n2. Ode to Joy")
	if cues, err := lesson.Captions(made, []studio.Answer{{Assignment: one, Captions: "soon --> later"}}); err != nil || cues != nil {
		t.Errorf("a film is not seen for captions that cannot be read: %v, %v", cues, err)
	}
}

// TestGoingOut: at a set hour, not at all, at once, and taken back within ten minutes.
func TestGoingOut(t *testing.T) {
	s := open(t)
	_, draft := busy(t, s) // it is Tuesday 10 November, 09:00
	at := "/lessons/" + string(draft.ID)
	v := form(t, s.Page(t, at))
	v.Set("act", "later")
	v.Set("words", "Written just before")
	for _, hour := range []string{"", "tomorrow", "2026-11-10T08:59", "2027-11-10T09:00"} {
		v.Set("sendat", hour)
		v.Set("version", form(t, s.Page(t, at)).Get("version"))
		status, text, _ := s.Post(t, s.TeacherDevice, at, v)
		if status != http.StatusUnprocessableEntity {
			t.Errorf("at %q: %d %s", hour, status, webtest.Seen(text))
		}
		if got := form(t, text).Get("version"); got != form(t, s.Page(t, at)).Get("version") {
			t.Errorf("at %q the page is at version %s", hour, got)
		}
	}
	webtest.Has(t, s.Page(t, at), "Written just before")
	v = form(t, s.Page(t, at))
	v.Set("act", "later")
	v.Set("sendat", "2026-11-10T18:00")
	if to := s.Sends(t, at, v); to != at+"#sending" {
		t.Errorf("leads to %s", to)
	}
	webtest.Has(t, s.Page(t, at), "It goes out by itself today at 18:00")
	v = form(t, s.Page(t, at)) // what is saved until then goes with it
	v.Set("words", "One thing more")
	v.Set("act", "save")
	s.Sends(t, at, v)
	webtest.Has(t, s.Page(t, at), "It goes out by itself today at 18:00", "One thing more")
	s.Sends(t, at+"/cancel", nil)
	webtest.HasNot(t, s.Page(t, at), "It goes out by itself")

	v = form(t, s.Page(t, at))
	v.Set("act", "send")
	s.Sends(t, at, v)
	webtest.Has(t, s.Page(t, at), "taken back until 09:10", "ten minutes are left", "Family Okafor has not opened it yet.")
	s.Wait(8*time.Minute + 30*time.Second)
	webtest.Has(t, s.Page(t, at), "one minute is left")
	if err := s.Desk.SeeLesson(t.Context(), s.Okafor.Coach, draft.ID); err != nil {
		t.Fatal(err)
	}
	webtest.Has(t, s.Page(t, at), "Family Okafor opened it today at 09:08.")
	if status, _, _ := s.Post(t, s.Okafor.Device, at+"/back", nil); status != http.StatusForbidden {
		t.Errorf("a family takes it back: %d", status)
	}
	if to := s.Sends(t, at+"/back", nil); to != at+"?done=back" {
		t.Errorf("leads to %s", to)
	}
	webtest.Has(t, s.Page(t, at+"?done=back"), "It is a draft again", "One thing more", `form id="lesson"`)
	v = form(t, s.Page(t, at))
	v.Set("act", "send")
	s.Sends(t, at, v)
	s.Wait(10*time.Minute + time.Second)
	webtest.HasNot(t, s.Page(t, at), "taken back until")
	if status, text, _ := s.Post(t, s.TeacherDevice, at+"/back", nil); status != http.StatusConflict {
		t.Errorf("after ten minutes: %d %s", status, webtest.Seen(text))
	}
}

// TestTorn: a recording that nobody can play is told to the teacher where it was made and on the lesson that went out; the
// family meets nothing of it, and a new one puts it right.
func TestTorn(t *testing.T) {
	s := open(t)
	ctx := t.Context()
	_, draft := busy(t, s)
	at := "/lessons/" + string(draft.ID)
	tear := func() {
		t.Helper()
		if _, err := s.Desk.KeepAnswer(ctx, s.Teacher, draft.ID, draft.Assignments[0].ID, "audio/webm", strings.NewReader("torn")); err != nil {
			t.Fatal(err)
		}
		unclean, err := s.Desk.Unclean(ctx, s.Ear())
		if err != nil || len(unclean) != 1 {
			t.Fatal(len(unclean), err)
		}
		if err := s.Desk.LoseSpoken(ctx, s.Ear(), unclean[0]); err != nil {
			t.Fatal(err)
		}
	}
	tear()
	webtest.Has(t, s.Page(t, at), "came damaged: nobody can play it", "Record it again.")
	if _, err := s.Desk.KeepAnswer(ctx, s.Teacher, draft.ID, draft.Assignments[0].ID, "audio/webm", strings.NewReader("whole")); err != nil {
		t.Fatal(err)
	}
	webtest.HasNot(t, s.Page(t, at), "came damaged")
	if err := s.Desk.RemoveAnswer(ctx, s.Teacher, draft.ID, draft.Assignments[0].ID); err != nil {
		t.Fatal(err)
	}
	tear()
	now, err := s.Desk.Lesson(ctx, s.Teacher, draft.ID)
	if err == nil {
		err = s.Desk.SendLesson(ctx, s.Teacher, now.ID, now.Version)
	}
	if err != nil {
		t.Fatal(err)
	}
	webtest.Has(t, s.Page(t, at), "What you recorded for Tallis’s Canon, bars 1 to 8 came damaged")
	if f, err := s.Desk.Film(ctx, s.Teacher, draft.ID); err != nil || f.State != studio.NoFilm {
		t.Errorf("a film of nothing: %+v, %v", f, err)
	}
	if as, err := s.Desk.Answers(ctx, s.Okafor.Coach, draft.ID); err != nil || len(as) != 0 {
		t.Errorf("the family is given %+v, %v", as, err)
	}
	if _, err := s.Desk.Torn(ctx, s.Okafor.Coach, draft.ID); err == nil {
		t.Error("a family asks what is torn")
	}
	if code, text := s.Get(t, s.Okafor.Device, at); code != 200 || strings.Contains(text, "damaged") {
		t.Errorf("the family's page: %d", code)
	}
}
