package week_test

import (
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
)

// poor is the way to a site that is slow, or answers with a fault, for what asks for it.
type poor struct {
	URL    string
	slow   atomic.Bool // the pages take longer than anybody waits
	broken atomic.Bool // everything but the week itself is a fault of the server's
	cut    atomic.Bool
}

func poorLineTo(t *testing.T, site string) *poor {
	t.Helper()
	to, err := url.Parse(site)
	if err != nil {
		t.Fatal(err)
	}
	through := &httputil.ReverseProxy{FlushInterval: -1, Rewrite: func(r *httputil.ProxyRequest) {
		r.SetURL(to)
		r.Out.Host = r.In.Host
	}}
	p := &poor{}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch {
		case p.cut.Load():
			panic(http.ErrAbortHandler)
		case p.broken.Load() && r.URL.Path != "/week":
			http.Error(w, "restarting", http.StatusBadGateway)
			return
		case p.slow.Load() && r.URL.Path == "/week":
			time.Sleep(4 * time.Second)
		}
		through.ServeHTTP(w, r)
	}))
	t.Cleanup(func() {
		server.CloseClientConnections()
		server.Close()
	})
	p.URL = server.URL
	return p
}

const isKept = `document.querySelector("footer [data-kept]").checkVisibility()`

// sendWords sends a child a lesson that asks the same again with other words.
func sendWords(t *testing.T, s *webtest.Site, child studio.StudentID, words string) {
	t.Helper()
	ls, err := s.Desk.Lessons(t.Context(), s.Teacher, studio.LessonQuery{Student: child})
	if err != nil {
		t.Fatal(err)
	}
	next := studio.Lesson{Student: child, Date: "2026-11-05", Words: words, Assignments: ls[0].Assignments}
	for i := range next.Assignments {
		next.Assignments[i].ID = ""
	}
	l, err := s.Desk.SaveDraft(t.Context(), s.Teacher, next)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Desk.SendLesson(t.Context(), s.Teacher, l.ID, l.Version); err != nil {
		t.Fatal(err)
	}
}

// onShelf tells whether some kept page says something.
func onShelf(text string) string {
	return `caches.keys().then((all) => Promise.all(all.map((name) => caches.open(name)))).then((all) => Promise.all(all.map((c) => c.matchAll())))
		.then((all) => Promise.all(all.flat().map((r) => r.text()))).then((all) => { window.found = all.some((text) => text.includes("` + text + `")) }), window.found === true`
}

// TestAPoorNetwork: a page that comes later than anybody waits is told of and shown at a touch, and a studio that is being
// restarted while the phone keeps the week takes nothing away that was here.
func TestAPoorNetwork(t *testing.T) {
	s, nils, _ := whole(t)
	l := poorLineTo(t, s.URL)
	b := chromium.Open(t, l.URL)
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Look(390, "light")
	week := "/week?child=" + string(nils.ID)
	b.Go(week)
	b.Wait(isKept)
	sounds := `caches.keys().then((all) => Promise.all(all.map((name) => caches.open(name).then((c) => c.keys())))).then((all) => all.flat().filter((r) => r.url.includes("/week/sound/")).length)`
	before := chromium.Eval[float64](b, sounds)
	if before == 0 {
		t.Fatal("no sound is kept")
	}

	l.broken.Store(true)
	s.Wait(24 * time.Hour) // so that the page is another one
	b.Go(week)
	time.Sleep(2 * time.Second) // the phone tries to keep it
	b.Expect("502")
	if after := chromium.Eval[float64](b, sounds); after < before {
		t.Errorf("%v of %v sounds are left by a studio that is being restarted", after, before)
	}
	l.broken.Store(false)

	sendWords(t, s, nils.ID, "Here is the newest lesson of all.")
	l.slow.Store(true)
	b.Go(week)
	if text := chromium.Eval[string](b, `document.body.textContent`); strings.Contains(text, "newest lesson of all") {
		t.Fatal("the line was not slow enough")
	}
	const newer = `document.querySelector("[data-newer]").checkVisibility()`
	b.Wait(newer + ` && !document.querySelector("[data-strip]").checkVisibility()`)
	b.Shoot("week-newer")
	b.Click(`[data-newer] button`)
	b.Wait(`document.body.textContent.includes("newest lesson of all")`)
	time.Sleep(2 * time.Second) // the same page comes again, late
	if chromium.Eval[bool](b, newer) {
		t.Error("the newest page says that there is a newer one")
	}
	b.Wait("(" + onShelf("Here is the newest lesson of all.") + ")")
	b.Expect("502")
}

// TestNoRoomOnThePhone: a phone that lets the site keep nothing shows the pages all the same.
func TestNoRoomOnThePhone(t *testing.T) {
	s, nils, _ := whole(t)
	b := chromium.Open(t, s.URL)
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Look(390, "light")
	b.Room(1)
	for range 3 {
		b.Go("/week?child=" + string(nils.ID))
		b.Wait(`document.querySelector("h2").textContent === "Nils" && document.querySelector(".sheet svg")`)
		b.Wait(`navigator.serviceWorker.controller || navigator.serviceWorker.ready.then(() => true)`)
		time.Sleep(300 * time.Millisecond) // the worker tries to keep it
	}
	b.Expect("Quota")
}

// How many bytes the browser counts, and how many more the second week of TestTheNextWeekFits may take than the first: it
// takes 83 KB more, with the page of the lesson before; both weeks together would take some 560 KB more (measured).
const (
	usage = `navigator.storage.estimate().then((e) => e.usage)`
	more  = 150_000
)

// TestTheNextWeekFits: where the browser gives room for one week only, the new one takes the place of the old one.
func TestTheNextWeekFits(t *testing.T) {
	s, nils, _ := whole(t)
	b := chromium.Open(t, s.URL)
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Look(390, "light")
	b.Go("/week?child=" + string(nils.ID))
	b.Wait(isKept)
	b.Room(chromium.Eval[float64](b, usage) + more)
	s.Wait(7 * 24 * time.Hour)
	sendWords(t, s, nils.ID, "The week after that.")
	b.Go("/week?child=" + string(nils.ID))
	b.Wait("(" + onShelf("The week after that.") + ") && " + isKept)
	ls, err := s.Desk.Lessons(t.Context(), s.Teacher, studio.LessonQuery{Student: nils.ID})
	if err != nil {
		t.Fatal(err)
	}
	b.Wait(`(caches.keys().then((all) => Promise.all(all.map((name) => caches.open(name).then((c) => c.keys())))).then((all) => { window.sounds = all.flat().filter((r) => r.url.includes("/week/sound/` + string(ls[0].Assignments[1].ID) + `")).length })), window.sounds === 4`)
}
