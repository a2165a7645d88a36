package arrive

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
)

// sendPage is the least page that sends a recording.
const sendPage = `{{define "main"}}<h1>Send</h1>
<form method="post" action="/nowhere" enctype="multipart/form-data" data-island="upload" data-kind="take" data-then="/arrived/">
<input type="hidden" name="child" value="{{.}}"><input type="hidden" name="note" value="Bar 5 is new.">
<label>Recording <input id="file" type="file" name="file"></label><button class="main">Send</button></form>{{end}}`

// TestSendingInABrowser: the network breaks off again and again, then it is away, the page is loaded anew,
// and the recording arrives all the same, byte by byte.
func TestSendingInABrowser(t *testing.T) {
	st := webtest.Open(t)
	dir := t.TempDir()
	a, err := New(st.Frame, Options{Dir: dir})
	if err != nil {
		t.Fatal(err)
	}
	pages, err := st.Frame.Pages(fstest.MapFS{"send.html": {Data: []byte(sendPage)}})
	if err != nil {
		t.Fatal(err)
	}
	s := &site{st.Serve(t, a.Routes, func(mux *http.ServeMux) {
		mux.Handle("GET /send", st.Frame.Family(func(w http.ResponseWriter, r *http.Request) error {
			return pages.Render(w, r, "send.html", page.View{Title: "Send", Data: st.Okafor.Students[0].ID})
		}))
		mux.Handle("GET /arrived/{take}", st.Frame.Family(func(w http.ResponseWriter, r *http.Request) error {
			_, err := w.Write([]byte("<!DOCTYPE html><link rel=icon href=data:,><title>Here</title><p>Thank you."))
			return err
		}))
	}), a, dir}
	bad := &badNetwork{to: strings.TrimPrefix(s.URL, "http://"), after: 5e6, cuts: 3}
	b := chromium.Open(t, bad.serve(t))
	b.Cookie("antiphon", s.Okafor.Device)
	b.Look(390, "light")
	b.Go("/send")
	b.Awake()
	video := noise(30e6, 40)
	file := filepath.Join(t.TempDir(), "Sunday kitchen.mp4")
	if err := os.WriteFile(file, video, 0o600); err != nil {
		t.Fatal(err)
	}
	bad.mu.Lock()
	bad.away = 14e6 // then nobody gets through
	bad.mu.Unlock()
	b.Choose("#file", file)
	b.Click("form button.main")
	b.Wait(`document.querySelector(".onway .words")?.textContent.startsWith("The network is away")`)
	for _, fault := range b.Faults() {
		t.Error(fault)
	}
	b.Shoot("upload-away")
	bad.mu.Lock()
	cut := bad.cut
	bad.away = 0
	bad.mu.Unlock()
	if cut == 0 {
		t.Error("the network never broke off")
	}
	b.Go("/send") // as after an empty battery
	b.Wait(`location.pathname.startsWith("/arrived/")`)
	id := strings.TrimPrefix(chromium.Eval[string](b, "location.pathname"), "/arrived/")
	if got := s.take(t, id); got.State != studio.Waiting || got.FileName != "Sunday kitchen.mp4" || got.Note != "Bar 5 is new." {
		t.Errorf("%+v", got)
	}
	if m, kept := s.original(t, id); sum(kept) != sum(video) || m.Type != "video/mp4" {
		t.Errorf("kept are %d other bytes, %s", len(kept), m.Type)
	}
	if all, err := s.Desk.TakesBy(t.Context(), s.Teacher, studio.TakeQuery{}); err != nil || len(all) != 1 {
		t.Errorf("%d takes came of one recording, %v", len(all), err)
	}
	b.Go("/send")
	b.Awake()
	if n := chromium.Eval[int](b, `document.querySelectorAll(".onway li").length`); n != 0 {
		t.Errorf("%d recordings are still on their way", n)
	}
	b.Expect("net::ERR_") // the network was bad, and Chromium says so in its log
	b.Expect("409")       // what was on its way still came while it was asked how much is here
}

// TestSortingInABrowser: the teacher drops two files at once, sees guesses come, and files one.
func TestSortingInABrowser(t *testing.T) {
	s := open(t, Options{})
	ctx := t.Context()
	w, err := s.Desk.AddWork(ctx, s.Teacher, studio.Work{Title: "Down the Lane"})
	if err != nil {
		t.Fatal(err)
	}
	b := chromium.Open(t, s.URL)
	b.Cookie("antiphon", s.TeacherDevice)
	b.Go("/unsorted")
	dir := t.TempDir()
	var names []string
	for _, name := range []string{"Ada Sunday evening.m4a", "VID_20261101_170403.mp4"} {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, noise(1e6, uint64(50+len(names))), 0o600); err != nil {
			t.Fatal(err)
		}
		names = append(names, p)
	}
	b.Choose("#files", names...)
	b.Click("form.droparea button.main")
	b.Wait(`document.querySelectorAll(".unsorted li").length === 2`)
	all, err := s.Desk.Unsorted(ctx, s.Teacher)
	if err != nil || len(all) != 2 {
		t.Fatal(all, err)
	}
	ear := studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
	ada := s.Okafor.Students[0].ID
	for _, u := range all {
		if strings.HasPrefix(u.FileName, "Ada") {
			err = s.Desk.KeepGuesses(ctx, ear, u.ID, []studio.Guess{
				{Student: ada, Work: w.ID, Confidence: 0.86, Why: "The file is called “Ada Sunday evening.m4a”, and it sounds like “Down the Lane”."},
				{Student: ada, Confidence: 0.05, Why: "The file is called “Ada Sunday evening.m4a”."}})
		} else {
			err = s.Desk.PutAside(ctx, ear, u.ID, "There is no sound in this recording: the microphone was off or not allowed.")
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	b.Wait(`document.querySelector(".unsorted input[checked]") && document.querySelector(".unsorted .caution")`) // by itself
	for _, l := range []struct {
		name   string
		width  int64
		scheme string
	}{{"unsorted-390", 390, "light"}, {"unsorted-390-dark", 390, "dark"}, {"unsorted-1440", 1440, "light"}} {
		b.Look(l.width, l.scheme)
		for _, fault := range b.Faults() {
			t.Errorf("%s: %s", l.name, fault)
		}
		b.Shoot(l.name)
	}
	b.Click(`.unsorted li:has(input[value^="` + string(ada) + `"]) button.main`)
	b.Wait(`document.querySelectorAll(".unsorted li").length === 1 && document.querySelector("[role=status] a[href^='/takes/']")`)
	takes, err := s.Desk.TakesBy(ctx, s.Teacher, studio.TakeQuery{Student: ada})
	if err != nil || len(takes) != 1 || takes[0].Work != w.ID || takes[0].FileName != "Ada Sunday evening.m4a" {
		t.Errorf("%+v, %v", takes, err)
	}
}
