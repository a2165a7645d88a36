package lesson_test

import (
	"context"
	"fmt"
	"net/http"
	"path/filepath"
	"testing"

	"antiphon/internal/studio"
	"antiphon/internal/web/arrive"
	"antiphon/internal/web/lesson"
	"antiphon/internal/web/page"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
)

func TestMain(m *testing.M) { webtest.Main(m, routes) }

// routes are the pages that these tests open, and the way in for what is sent.
func routes(l *webtest.Lasting, f *page.Frame, mux *http.ServeMux) error {
	in, err := arrive.New(f, arrive.Options{Dir: filepath.Join(l.Dir, "arriving")})
	if err != nil {
		return err
	}
	in.Routes(mux)
	go func() { _ = in.Tend(context.Background()) }()
	return lesson.Routes(mux, f, lesson.Options{})
}

// TestAnAnswerGoesOnWhereItBrokeOff: the line is cut while the answer of a task is sent, the page is loaded anew,
// the studio's process is killed and started again. The recording arrives whole, and what had come is not sent
// a second time.
func TestAnAnswerGoesOnWhereItBrokeOff(t *testing.T) {
	dir, port := t.TempDir(), webtest.FreePort(t)
	server := webtest.Start(t, dir, port)
	h, err := webtest.Last(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	defer h.Store.Close()
	w, err := h.Desk.AddWork(t.Context(), h.Teacher, studio.Work{Title: "Three Blind Mice", Rights: "traditional"})
	if err != nil {
		t.Fatal(err)
	}
	draft, err := h.Desk.SaveDraft(t.Context(), h.Teacher, studio.Lesson{Student: h.Child.ID, Date: "2026-11-24", Assignments: []studio.Assignment{{Work: w.ID, Do: "Slowly."}}})
	if err != nil {
		t.Fatal(err)
	}
	net, address := webtest.Lay(t, "http://127.0.0.1:"+port)
	b := chromium.Open(t, address)
	b.Cookie("antiphon", h.TeacherDevice)
	b.Look(1440, "light")
	item, at := string(draft.Assignments[0].ID), "/lessons/"+string(draft.ID)+"?open=1"
	b.Go(at)
	b.Click("#say1 > summary")
	press(b, item, "Film yourself")
	press(b, item, "Start")
	b.Wait(fmt.Sprintf(`/Recording, 0:(0[6-9]|1)/.test(document.querySelector('[data-item="%s"] [data-tools]').textContent)`, item))
	press(b, item, "Stop")
	tools := fmt.Sprintf(`document.querySelector('[data-item="%s"] [data-tools]')`, item)
	b.Wait(tools + `.querySelector('video[src^="blob:"]')`)
	size := chromium.Eval[int64](b, `new Promise((done) => { const o = indexedDB.open("antiphon-vault"); o.onsuccess = () => { const r = o.result.transaction("takes").objectStore("takes").getAll(); r.onsuccess = () => done(r.result[0].bytes) } })`)
	arriving := filepath.Join(dir, "arriving")

	net.IsSlow(true)
	press(b, item, "Keep it")
	webtest.WaitFor(t, "something of it is there", func() bool { _, n := webtest.Half(arriving); return n > size/5 })
	net.BreaksAfter(0)
	b.Wait(tools + `.textContent.includes("goes on where it broke off")`)
	b.Shoot("answer-waits")
	net.BreaksAfter(-1)
	b.Go(at) // as after a closed window
	b.Click("#say1 > summary")
	upload, cut := webtest.Half(arriving)
	webtest.WaitFor(t, "more of it is there", func() bool { _, n := webtest.Half(arriving); return n > max(cut, size/2) })
	if err := server.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = server.Wait() // killed, it says
	again, killed := webtest.Half(arriving)
	if again != upload || killed <= cut || killed >= size {
		t.Fatalf("of %d bytes %d were there when the line was cut (%s), %d when the studio was killed (%s)", size, cut, upload, killed, again)
	}
	net.IsSlow(false)
	webtest.Start(t, dir, port)
	b.Wait(fmt.Sprintf(`document.querySelector('[data-item="%s"] [data-kept] video[src^="blob:"]')`, item))
	t.Logf("of %d bytes %d were there when the line was cut, %d when the studio was killed; %d went over the line after that", size, cut, killed, net.Carried())
	if net.Carried() > size-killed/2 {
		t.Errorf("it began anew: %d bytes after the kill, where %d of %d had come", net.Carried(), killed, size)
	}
	as, err := h.Desk.Answers(t.Context(), h.Teacher, draft.ID)
	if err != nil || len(as) != 1 || as[0].Assignment != draft.Assignments[0].ID {
		t.Fatalf("%+v, %v", as, err)
	}
	ms, err := h.Store.MediaOfLesson(t.Context(), studio.OneFamily(draft.Studio, draft.Family), draft.ID)
	if err != nil || len(ms) != 1 || ms[0].Bytes != size {
		t.Errorf("%d bytes were recorded, kept is %+v, %v", size, ms, err)
	}
	if n := chromium.Eval[int](b, `new Promise((done) => { const o = indexedDB.open("antiphon-vault"); o.onsuccess = () => { const r = o.result.transaction("pieces").objectStore("pieces").count(); r.onsuccess = () => done(r.result) } })`); n != 0 {
		t.Errorf("%d pieces stay in the browser", n)
	}
	b.Expect("net::ERR_")
	b.Expect("409")
}

// TestSendingIsStopped: what is on its way is held back, and can be recorded again.
func TestSendingIsStopped(t *testing.T) {
	s := open(t)
	_, draft := busy(t, s)
	net, address := webtest.Lay(t, s.URL)
	b := chromium.Open(t, address)
	b.Cookie("antiphon", s.TeacherDevice)
	b.Look(390, "light")
	item := string(draft.Assignments[0].ID)
	b.Go("/lessons/" + string(draft.ID) + "?open=1")
	b.Click("#say1 > summary")
	press(b, item, "Speak")
	press(b, item, "Start")
	b.Wait(fmt.Sprintf(`/Recording, 0:0[1-9]/.test(document.querySelector('[data-item="%s"] [data-tools]').textContent)`, item))
	press(b, item, "Stop")
	net.BreaksAfter(0)
	press(b, item, "Keep it")
	tools := fmt.Sprintf(`document.querySelector('[data-item="%s"] [data-tools]')`, item)
	b.Wait(tools + `.textContent.includes("safe in this browser")`)
	look(t, b, "waits")
	press(b, item, "Stop sending")
	b.Wait(tools + `.querySelector('audio[src^="blob:"]')`)
	press(b, item, "Record it again")
	b.Wait(tools + `.textContent.includes("Film yourself")`)
	net.BreaksAfter(-1)
	b.Go("/lessons/" + string(draft.ID) + "?open=1")
	b.Wait(tools + `?.textContent.includes("Film yourself")`)
	if as := answersOf(t, s, draft.ID); len(as) != 0 {
		t.Errorf("it arrived all the same: %+v", as)
	}
	if n := chromium.Eval[int](b, `new Promise((done) => { const o = indexedDB.open("antiphon-outbox"); o.onsuccess = () => { const r = o.result.transaction("parcels").objectStore("parcels").count(); r.onsuccess = () => done(r.result) } })`); n != 0 {
		t.Errorf("%d parcels stay on their way", n)
	}
	b.Expect("net::ERR_")
}
