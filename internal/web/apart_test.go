package web_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/webtest"
)

const tune = `<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Guitar</part-name></score-part></part-list>
<part id="P1"><measure number="1"><attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>
<note><pitch><step>E</step><octave>5</octave></pitch><duration>4</duration><type>whole</type></note></measure></part></score-partwise>`

// secret stands in everything that is the Okafors'.
const secret = "only-for-the-okafors"

// house is a family with everything that it can have: what was sent to it, what was taken back, and a draft.
type house struct {
	*webtest.Studio
	t     *testing.T
	h     http.Handler
	ada   string
	of    string // an assignment of the lesson that was sent
	tap   string
	own   []string // addresses that are the family's to open
	never []string // addresses that are nobody's but the teacher's
}

func (x *house) lesson(work studio.WorkID) studio.Lesson {
	x.t.Helper()
	l, err := x.Desk.SaveDraft(x.t.Context(), x.Teacher, studio.Lesson{Student: x.Okafor.Students[0].ID, Date: "2026-11-04", Words: secret,
		Assignments: []studio.Assignment{{Work: work, Do: secret, Goals: studio.Goals{TempoBpm: 60}}}})
	if err != nil {
		x.t.Fatal(err)
	}
	return l
}

func (x *house) answer(l studio.Lesson, a studio.AssignmentID) string {
	x.t.Helper()
	m, err := x.Desk.KeepAnswer(x.t.Context(), x.Teacher, l.ID, a, "audio/wav", strings.NewReader(secret+string(a)+string(l.ID)))
	if err == nil {
		err = x.Desk.CaptionAnswer(x.t.Context(), x.Teacher, l.ID, a, secret)
	}
	if err != nil {
		x.t.Fatal(err)
	}
	return "/media/" + string(m.Media)
}

// of lists every address under which something of a lesson is.
func (x *house) addresses(l studio.Lesson) []string {
	a, in := string(l.Assignments[0].ID), string(l.ID)
	return []string{"/lessons/" + in + "/film/captions.vtt", "/lessons/" + in + "/film/chapters.vtt", "/lessons/" + in + "/answers/" + a + "/captions.vtt",
		"/week/captions/" + in, "/week/captions/" + in + "/", "/week/captions/" + in + "/" + a,
		"/week/practice?child=" + x.ada + "&of=" + a, "/week/sound/" + a + "?child=" + x.ada, "/week/sound/" + a + "?child=" + x.ada + "&plain=yes&bpm=60"}
}

func full(t *testing.T) *house {
	t.Helper()
	s := webtest.Open(t)
	x := &house{Studio: s, t: t, h: site(t, s, false), ada: string(s.Okafor.Students[0].ID)}
	ctx, ear := t.Context(), studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
	w, err := s.Desk.AddWork(ctx, s.Teacher, studio.Work{Title: "Own steps", Score: tune})
	if err != nil {
		t.Fatal(err)
	}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	sent := x.lesson(w.ID)
	x.own = append(x.own, x.answer(sent, ""), x.answer(sent, sent.Assignments[0].ID))
	must(s.Desk.SendLesson(ctx, s.Teacher, sent.ID, sent.Version))
	film, err := s.Desk.KeepFilm(ctx, ear, sent.ID, studio.Film{Lesson: sent.ID}, "video/mp4", strings.NewReader(secret+" film"))
	must(err)
	x.of = string(sent.Assignments[0].ID)
	x.own = append(append(x.own, "/media/"+string(film.Media)), x.addresses(sent)...)
	x.tap = "0d9c3a1e-voice"
	must(s.Desk.SayVoice(ctx, s.Okafor.Coach, studio.Tap{ID: x.tap, Student: studio.StudentID(x.ada), At: s.Now()}, "audio/webm", strings.NewReader(secret+" voice")))
	voice, err := s.Desk.OneTap(ctx, s.Okafor.Coach, studio.StudentID(x.ada), x.tap)
	must(err)
	take, err := s.Desk.Announce(ctx, s.Okafor.Coach, studio.Announcement{Student: studio.StudentID(x.ada)})
	must(err)
	got, err := s.Desk.Receive(ctx, s.Okafor.Coach, take.ID, "audio/wav", strings.NewReader(secret+" take"))
	must(err)
	x.own = append(x.own, "/media/"+string(voice.Media), "/week/takes/"+string(got.Take.ID))
	s.Wait(time.Minute)
	letter, err := s.Desk.DraftLetter(ctx, s.Teacher, studio.StudentID(x.ada), "2026-10-01", "2026-11-04")
	must(err)
	letter.Parts = append(letter.Parts, studio.LetterPart{Heading: "More", Text: secret})
	letter, err = s.Desk.SaveLetter(ctx, s.Teacher, letter)
	must(err)
	must(s.Desk.SendLetter(ctx, s.Teacher, letter.ID, letter.Version))
	x.own = append(x.own, "/letters/"+string(letter.ID), "/letters/"+string(letter.ID)+"/paper")

	back := x.lesson(w.ID)
	x.never = append(x.never, x.answer(back, ""), x.answer(back, back.Assignments[0].ID))
	must(s.Desk.SendLesson(ctx, s.Teacher, back.ID, back.Version))
	_, err = s.Desk.TakeBack(ctx, s.Teacher, back.ID)
	must(err)
	draft := x.lesson(w.ID)
	x.never = append(append(append(x.never, x.answer(draft, "")), x.addresses(back)...), x.addresses(draft)...)
	return x
}

func (x *house) get(path, cookie string) (int, string) {
	x.t.Helper()
	a := ask(x.h, "GET", path, "127.0.0.1:1", "studio.example", cookie)
	b, err := io.ReadAll(a.Body)
	if err != nil {
		x.t.Fatal(err)
	}
	return a.StatusCode, string(b)
}

// TestNoFamilySeesAnothersWeek: what one family has is at no address for another family or a stranger, and what was taken
// back or not sent is at none for the family itself.
func TestNoFamilySeesAnothersWeek(t *testing.T) {
	x := full(t)
	for _, path := range x.own {
		if status, _ := x.get(path, x.Okafor.Device); status != http.StatusOK && status != http.StatusConflict && !(status == http.StatusNotFound && strings.Contains(path, "/film/")) {
			t.Errorf("%s answers its own family with %d", path, status)
		}
		if status, text := x.get(path, x.Lindqvist.Device); status != http.StatusNotFound || strings.Contains(text, secret) {
			t.Errorf("%s answers another family with %d: %s", path, status, text)
		}
		if status, text := x.get(path, ""); status != http.StatusForbidden && status != http.StatusSeeOther || strings.Contains(text, secret) {
			t.Errorf("%s answers a stranger with %d: %s", path, status, text)
		}
	}
	for _, path := range x.never {
		for who, device := range map[string]string{"its family": x.Okafor.Device, "another family": x.Lindqvist.Device} {
			if status, text := x.get(path, device); status != http.StatusNotFound || strings.Contains(text, secret) {
				t.Errorf("%s, which was not sent, answers %s with %d: %s", path, who, status, text)
			}
		}
	}
	for _, path := range []string{"/week?child=" + x.ada, "/week/sent?child=" + x.ada, "/week/record?child=" + x.ada + "&of=" + x.of, "/week/tune?child=" + x.ada + "&of=" + x.of,
		"/week/send?child=" + x.ada + "&of=" + x.of, "/week/hurt?child=" + x.ada + "&of=" + x.of, "/week/data"} {
		if _, text := x.get(path, x.Lindqvist.Device); strings.Contains(text, secret) || strings.Contains(text, "Ada") || strings.Contains(text, "Own steps") {
			t.Errorf("%s tells another family of Ada: %s", path, text)
		}
	}
}

// TestNoFamilyTapsForAnother: taps, voice notes and forms that name another family's child or task change nothing there,
// and nothing comes from another site.
func TestNoFamilyTapsForAnother(t *testing.T) {
	x := full(t)
	taps := func() int {
		t.Helper()
		all, err := x.Desk.Taps(t.Context(), x.Teacher, studio.TapQuery{Limit: 500})
		if err != nil {
			t.Fatal(err)
		}
		return len(all)
	}
	before := taps()
	post := func(device, path, kind, from, body string) int {
		t.Helper()
		r := httptest.NewRequest("POST", "http://studio.example"+path, strings.NewReader(body))
		r.RemoteAddr = "127.0.0.1:1"
		r.Header.Set("Content-Type", kind)
		r.Header.Set("Sec-Fetch-Site", from)
		r.AddCookie(&http.Cookie{Name: "antiphon", Value: device})
		w := httptest.NewRecorder()
		x.h.ServeHTTP(w, r)
		return w.Code
	}
	nils := string(x.Lindqvist.Students[0].ID)
	const form = "application/x-www-form-urlencoded"
	for _, c := range []struct{ path, kind, body string }{
		{"/week/log", "application/json", `[{"id":"0d9c3a1e-1","student":"` + x.ada + `","assignment":"` + x.of + `","kind":"done","at":"2026-11-04T09:00:00Z"}]`},
		{"/week/log", "application/json", `[{"id":"0d9c3a1e-2","student":"` + nils + `","kind":"done","at":"2026-11-04T09:00:00Z"},{"id":"0d9c3a1e-3","student":"` + x.ada + `","kind":"hurt","at":"2026-11-04T09:00:00Z"}]`},
		{"/week/log", "application/json", `[{"id":"` + x.tap + `","student":"` + x.ada + `","kind":"answer","text":"x","at":"2026-11-04T09:00:00Z"}]`},
		{"/week/voice?id=0d9c3a1e-4&student=" + x.ada, "audio/webm", "noise"},
		{"/week/answer", form, "child=" + x.ada + "&of=" + x.of + "&answer=x"},
		{"/week/hurt", form, "child=" + x.ada + "&of=" + x.of + "&note=ow"},
		{"/week/data/children/" + x.ada, form, "media=full-video&name=Eve"},
	} {
		if status := post(x.Lindqvist.Device, c.path, c.kind, "same-origin", c.body); status != http.StatusNotFound && status != http.StatusUnprocessableEntity {
			t.Errorf("%s %s: %d", c.path, c.body, status)
		}
		if status := post(x.Okafor.Device, c.path, c.kind, "cross-site", c.body); status != http.StatusForbidden {
			t.Errorf("%s from another site: %d", c.path, status)
		}
	}
	// Nonsense is refused, and nothing of it kept.
	for _, body := range []string{`{}`, `[{}]`, `[null]`, `[{"id":"../../etc/passwd","student":"` + nils + `","kind":"done"}]`, `[{"id":"0d9c3a1e-5","student":"` + nils + `","kind":"voice","at":"2026-11-04T09:00:00Z"}]`,
		`[{"id":"0d9c3a1e-6","student":"` + nils + `","kind":"reward","at":"2026-11-04T09:00:00Z"}]`, `[{"id":"0d9c3a1e-7","student":"` + nils + `","kind":"try","bpm":1e999}]`, `[{"id":"0d9c3a1e-7","student":"` + nils + `","kind":"try","bpm":"NaN"}]`,
		`[` + strings.Repeat(`{"id":"0d9c3a1e-8","student":"`+nils+`","kind":"done"},`, 500) + `{"id":"0d9c3a1e-9","student":"` + nils + `","kind":"done"}]`, `[{"id":"0d9c3a1e-8","answered":"2026-11-04T09:00:00Z"}]`, `[] []`} {
		if status := post(x.Lindqvist.Device, "/week/log", "application/json", "same-origin", body); status < 400 || status >= 500 {
			t.Errorf("%.80s: %d", body, status)
		}
	}
	if after := taps(); after != before {
		t.Errorf("%d taps are kept", after-before)
	}
	// What a phone may get wrong is forgiven.
	if status := post(x.Lindqvist.Device, "/week/log", "application/json", "same-origin", `[{"id":"0d9c3a1e-10","student":"`+nils+`","assignment":"`+x.of+`","kind":"rung","bpm":-1e308,"seconds":1e308,"text":"\u0000\u202e<script>","at":"0001-01-01T00:00:00Z"}]`); status != http.StatusOK {
		t.Fatal(status)
	}
	got, err := x.Desk.OneTap(t.Context(), x.Lindqvist.Coach, x.Lindqvist.Students[0].ID, "0d9c3a1e-10")
	if err != nil || got.Assignment != "" || got.Bpm != 0 || got.Seconds > 24*3600 || strings.ContainsAny(got.Text, "\x00\u202e") || got.At.Year() != 2026 {
		t.Errorf("kept: %+v, %v", got, err)
	}
}
