package arrive

import (
	"bufio"
	"bytes"
	"encoding/json"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// heard makes a take that is clean and ready, as the ear leaves it.
func (s *site) heard(t testing.TB, who studio.Viewer, child studio.StudentID, b []byte) (studio.TakeID, studio.Media) {
	t.Helper()
	ctx := t.Context()
	ear := studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
	tk, err := s.Desk.Announce(ctx, who, studio.Announcement{Student: child, FileName: "a.m4a"})
	if err == nil {
		_, err = s.Desk.Receive(ctx, who, tk.ID, "audio/mp4", bytes.NewReader(b))
	}
	if err == nil {
		_, err = s.Desk.BeginHearing(ctx, ear, tk.ID)
	}
	var m studio.Media
	if err == nil {
		m, err = s.Desk.ReplaceOriginal(ctx, ear, tk.ID, "audio/mp4", bytes.NewReader(b))
	}
	if err == nil {
		_, err = s.Desk.KeepHearing(ctx, ear, tk.ID, studio.Heard{Doc: []byte(`{"schema":"antiphon.hearing/1"}`)})
	}
	if err != nil {
		t.Fatal(err)
	}
	return tk.ID, m
}

func TestMedia(t *testing.T) {
	s := open(t, Options{})
	ada := s.Okafor.Students[0].ID
	b := noise(1e5, 20)
	id, m := s.heard(t, s.Okafor.Coach, ada, b)
	at := "/media/" + string(m.ID)
	phone := s.phone(t, s.Okafor.Device)
	a, text, err := phone.ask(http.MethodGet, at, nil)
	if err != nil || a.StatusCode != 200 || text != string(b) {
		t.Fatalf("%d, %d bytes, %v", a.StatusCode, len(text), err)
	}
	for k, want := range map[string]string{"Content-Type": "audio/mp4", "X-Content-Type-Options": "nosniff", "Cache-Control": "private, no-cache", "Accept-Ranges": "bytes", "Etag": `"` + m.SHA256 + `"`} {
		if got := a.Header.Get(k); got != want {
			t.Errorf("%s is %q, want %q", k, got, want)
		}
	}
	// Ranges as RFC 9110, section 14, has them.
	for _, c := range []struct {
		ask    string
		status int
		from   int
		to     int
	}{{"bytes=0-99", 206, 0, 100}, {"bytes=500-", 206, 500, len(b)}, {"bytes=-10", 206, len(b) - 10, len(b)}, {"bytes=200000-", 416, 0, 0}} {
		a, text, err := phone.ask(http.MethodGet, at, nil, "Range", c.ask)
		if err != nil || a.StatusCode != c.status || c.status == 206 && text != string(b[c.from:c.to]) {
			t.Errorf("%s: %d, %d bytes, %v", c.ask, a.StatusCode, len(text), err)
		}
	}
	for who, device := range map[string]string{"another family": s.Lindqvist.Device, "a stranger": ""} {
		if status, text := s.Get(t, device, at); status == 200 || strings.Contains(text, string(b[:50])) {
			t.Errorf("%s hears it: %d", who, status)
		}
	}
	for _, no := range []string{"/media/x", "/media/..%2f..%2fetc%2fpasswd", "/media/" + strings.Repeat("0", 26)} {
		if status, _ := s.Get(t, s.TeacherDevice, no); status != 404 {
			t.Errorf("%s: %d", no, status)
		}
	}
	log, err := s.Desk.AccessLog(t.Context(), s.Teacher, ada)
	if err != nil {
		t.Fatal(err)
	}
	played := 0
	for _, l := range log {
		if l.What == "played" && l.Take == id && l.By == s.Okafor.Coach.Person {
			played++
		}
	}
	if played == 0 {
		t.Errorf("nothing of it is in the log: %+v", log)
	}
	if err := s.Desk.Revoke(t.Context(), s.Teacher, s.Okafor.Coach.Device); err != nil {
		t.Fatal(err)
	}
	if a, _, err := phone.ask(http.MethodGet, at, nil); err != nil || a.StatusCode == 200 {
		t.Errorf("after its device was revoked: %d, %v", a.StatusCode, err)
	}
}

// TestMediaTypes: what a file says it is counts only where it is sound, video or a picture.
func TestMediaTypes(t *testing.T) {
	s := open(t, Options{})
	id, _ := s.heard(t, s.Okafor.Coach, s.Okafor.Students[0].ID, noise(1000, 21))
	ear := studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
	for typ, want := range map[string]string{"text/html": "application/octet-stream", "image/svg+xml": "application/octet-stream", "audio/mp4; codecs=x": "audio/mp4", "image/jpeg": "image/jpeg", "audio/x-evil": "application/octet-stream"} {
		m, err := s.Desk.KeepRendition(t.Context(), ear, id, studio.Poster, typ, strings.NewReader("<script>alert(1)</script>"))
		if err != nil {
			t.Fatal(err)
		}
		a, _, err := s.phone(t, s.TeacherDevice).ask(http.MethodGet, "/media/"+string(m.ID), nil)
		if err != nil || a.Header.Get("Content-Type") != want || a.Header.Get("X-Content-Type-Options") != "nosniff" || !strings.Contains(a.Header.Get("Content-Security-Policy"), "sandbox") {
			t.Errorf("%s is served as %q, %v", typ, a.Header.Get("Content-Type"), err)
		}
	}
}

// line reads server-sent events as the HTML standard, 9.2.6, has them.
type line struct {
	t    *testing.T
	in   *bufio.Reader
	body io.Closer
}

type event struct {
	id, name string
	data     told
}

func (s *site) line(t *testing.T, device, last string) *line {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, s.URL+"/live", nil)
	if err != nil {
		t.Fatal(err)
	}
	if last != "" {
		r.Header.Set("Last-Event-ID", last)
	}
	a, err := s.Client(t, device).Do(r)
	if err != nil || a.StatusCode != 200 || a.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatalf("%+v, %v", a, err)
	}
	t.Cleanup(func() { a.Body.Close() })
	return &line{t, bufio.NewReader(a.Body), a.Body}
}

// next waits for an event and passes over signs of life.
func (l *line) next() (e event) {
	l.t.Helper()
	cut := time.AfterFunc(time.Minute, func() { l.body.Close() }) // only a broken line waits so long
	defer cut.Stop()
	for {
		text, err := l.in.ReadString('\n')
		if err != nil {
			l.t.Fatal("the line is cut:", err)
		}
		k, v, _ := strings.Cut(strings.TrimSuffix(text, "\n"), ": ")
		switch k {
		case "id":
			e.id = v
		case "event":
			e.name = v
		case "data":
			if err := json.Unmarshal([]byte(v), &e.data); err != nil {
				l.t.Fatal(err)
			}
		case "":
			if e.name != "" {
				return e
			}
		}
	}
}

func TestLive(t *testing.T) {
	s := open(t, Options{Poll: 20 * time.Millisecond, Beat: 30 * time.Millisecond})
	teacher, okafor, lindqvist := s.line(t, s.TeacherDevice, ""), s.line(t, s.Okafor.Device, ""), s.line(t, s.Lindqvist.Device, "")
	for _, l := range []*line{teacher, okafor, lindqvist} { // everybody is heard before anything happens
		for {
			text, err := l.in.ReadString('\n')
			if err != nil {
				t.Fatal(err)
			}
			if strings.HasPrefix(text, ": still here") {
				break
			}
		}
	}
	step := func() { s.Wait(time.Second) }
	ear := studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
	var first, last event
	step()
	tk, err := s.Desk.Announce(t.Context(), s.Okafor.Coach, studio.Announcement{Student: s.Okafor.Students[0].ID})
	if err != nil {
		t.Fatal(err)
	}
	expect := func(state studio.TakeState, toTeacher, toFamily, why string) {
		t.Helper()
		a, b := teacher.next(), okafor.next()
		if a.name != "take" || a.data != (told{tk.ID, tk.Student, state, toTeacher, why}) {
			t.Errorf("the teacher is told %+v", a)
		}
		if b.name != "take" || b.data != (told{tk.ID, tk.Student, state, toFamily, ""}) {
			t.Errorf("the family is told %+v", b)
		}
		if first.id == "" {
			first = b
		}
		last = b
	}
	expect(studio.Arriving, "arriving", "arriving", "")
	step()
	if _, err := s.Desk.Receive(t.Context(), s.Okafor.Coach, tk.ID, "audio/mp4", strings.NewReader("sound")); err != nil {
		t.Fatal(err)
	}
	expect(studio.Waiting, "arrived, waiting to be heard", "arrived, waiting to be heard", "")
	step()
	if _, err := s.Desk.BeginHearing(t.Context(), ear, tk.ID); err != nil {
		t.Fatal(err)
	}
	expect(studio.BeingHeard, "being heard", "being heard", "")
	step()
	if err := s.Desk.SetAside(t.Context(), ear, tk.ID, "There is no sound in it.", studio.Heard{}); err != nil {
		t.Fatal(err)
	}
	expect(studio.NeedsALook, "needs a look", "with the teacher", "There is no sound in it.")

	// A line that was cut after the first event is told what it missed; another family nothing of it.
	if e := s.line(t, s.Okafor.Device, first.id).next(); e.data.State != studio.NeedsALook || e.id != last.id {
		t.Errorf("after a cut: %+v", e)
	}
	step()
	other, err := s.Desk.Announce(t.Context(), s.Lindqvist.Coach, studio.Announcement{Student: s.Lindqvist.Students[0].ID})
	if err != nil {
		t.Fatal(err)
	}
	if e := lindqvist.next(); e.data.Take != other.ID {
		t.Errorf("a family is told of another's: %+v", e)
	}
}

func TestLiveEnds(t *testing.T) {
	s := open(t, Options{Poll: 10 * time.Millisecond, Line: 50 * time.Millisecond})
	l := s.line(t, s.Okafor.Device, "")
	if _, err := io.ReadAll(l.in); err != nil { // it ends, so that who asks is asked again
		t.Fatal(err)
	}
	for end := time.Now().Add(time.Minute); ; time.Sleep(5 * time.Millisecond) {
		s.arrivals.live.mu.Lock()
		n := len(s.arrivals.live.rooms)
		s.arrivals.live.mu.Unlock()
		if n == 0 {
			break
		}
		if time.Now().After(end) {
			t.Fatal("somebody still asks for nobody")
		}
	}
	if status, _ := s.Get(t, "", "/live"); status != http.StatusSeeOther {
		t.Errorf("a stranger: %d", status)
	}
}

func TestUnsorted(t *testing.T) {
	s := open(t, Options{})
	ctx := t.Context()
	w, err := s.Desk.AddWork(ctx, s.Teacher, studio.Work{Title: "Down the Lane"})
	if err != nil {
		t.Fatal(err)
	}
	ada := s.Okafor.Students[0]
	l, err := s.Desk.SaveDraft(ctx, s.Teacher, studio.Lesson{Student: ada.ID, Date: "2026-11-02", Assignments: []studio.Assignment{{Work: w.ID}}})
	if err == nil {
		err = s.Desk.SendLesson(ctx, s.Teacher, l.ID, l.Version)
	}
	if err != nil {
		t.Fatal(err)
	}
	var form bytes.Buffer
	mw := multipart.NewWriter(&form)
	for name, b := range map[string][]byte{"Ada <Sunday>.m4a": noise(500, 30), "../../x.mp3": noise(2<<20, 31)} {
		part, err := mw.CreateFormFile("file", name)
		if err != nil {
			t.Fatal(err)
		}
		part.Write(b)
	}
	mw.Close()
	send := func(device string) int {
		t.Helper()
		r, err := http.NewRequestWithContext(ctx, http.MethodPost, s.URL+"/unsorted", bytes.NewReader(form.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", mw.FormDataContentType())
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		a, err := s.Client(t, device).Do(r)
		if err != nil {
			t.Fatal(err)
		}
		a.Body.Close()
		return a.StatusCode
	}
	if got := send(s.Okafor.Device); got != http.StatusForbidden {
		t.Errorf("a family drops: %d", got)
	}
	if got := send(s.TeacherDevice); got != http.StatusSeeOther {
		t.Fatalf("the teacher drops: %d", got)
	}
	status, text := s.Get(t, s.TeacherDevice, "/unsorted")
	if status != 200 || !strings.Contains(text, "Ada &lt;Sunday&gt;.m4a") || !strings.Contains(text, "2 recordings to sort") || !strings.Contains(text, "Being listened to") || strings.Contains(text, "..") {
		t.Errorf("%d %s", status, text)
	}
	if status, _ := s.Get(t, s.Okafor.Device, "/unsorted"); status != http.StatusForbidden {
		t.Errorf("a family looks: %d", status)
	}
	all, err := s.Desk.Unsorted(ctx, s.Teacher)
	if err != nil || len(all) != 2 {
		t.Fatal(all, err)
	}
	ear := studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
	err = s.Desk.KeepGuesses(ctx, ear, all[0].ID, []studio.Guess{{Student: ada.ID, Assignment: l.Assignments[0].ID, Work: w.ID, Confidence: 0.9, Why: "It sounds like “Down the Lane”, which was asked of Ada."}})
	if err != nil {
		t.Fatal(err)
	}
	choice := string(ada.ID) + "/" + string(l.Assignments[0].ID) + "/" + string(w.ID)
	if _, text := s.Get(t, s.TeacherDevice, "/unsorted?part"); !strings.Contains(text, `value="`+choice+`" checked`) || !strings.Contains(text, "very likely: It sounds like") || strings.Contains(text, "<html") {
		t.Error(text)
	}
	if a, b, err := s.phone(t, s.TeacherDevice).ask(http.MethodGet, "/unsorted/"+string(all[0].ID)+"/sound", nil, "Range", "bytes=0-9"); err != nil || a.StatusCode != 206 || len(b) != 10 {
		t.Errorf("to listen to: %d, %v", a.StatusCode, err)
	}
	if status, _ := s.Get(t, s.Okafor.Device, "/unsorted/"+string(all[0].ID)+"/sound"); status != http.StatusForbidden {
		t.Errorf("a family listens: %d", status)
	}
	if status, text, _ := s.Post(t, s.TeacherDevice, "/unsorted/"+string(all[0].ID), url.Values{"choice": {"else"}}); status != 422 || !strings.Contains(text, "Choose whose") {
		t.Errorf("nobody chosen: %d", status)
	}
	status, _, to := s.Post(t, s.TeacherDevice, "/unsorted/"+string(all[0].ID), url.Values{"choice": {choice}})
	id, ok := strings.CutPrefix(to, "/unsorted?sorted=")
	if status != http.StatusSeeOther || !ok {
		t.Fatalf("sorted: %d, to %s", status, to)
	}
	if got := s.take(t, id); got.Student != ada.ID || got.Assignment != l.Assignments[0].ID || got.Work != w.ID || got.State != studio.Waiting {
		t.Errorf("%+v", got)
	}
	if status, _, _ := s.Post(t, s.TeacherDevice, "/unsorted/"+string(all[1].ID)+"/discard", nil); status != http.StatusSeeOther {
		t.Errorf("discarded: %d", status)
	}
	if _, text := s.Get(t, s.TeacherDevice, "/unsorted"); !strings.Contains(text, "Nothing waits for a name.") {
		t.Error(text)
	}
}
