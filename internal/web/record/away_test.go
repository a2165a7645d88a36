package record_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/record"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
)

// packed is how many bytes the outbox says that the first recording in the vault has.
const packed = `new Promise((done) => { indexedDB.open("antiphon-outbox").onsuccess = (e) => { const db = e.target.result
	db.transaction("parcels").objectStore("parcels").getAll().onsuccess = (e) => { db.close(); done(e.target.result[0]?.size ?? 0) } } })`

// kept is how many recordings the vault holds.
const inVault = `new Promise((done) => { indexedDB.open("antiphon-vault").onsuccess = (e) => { const db = e.target.result
	db.transaction("takes").objectStore("takes").count().onsuccess = (e) => { db.close(); done(e.target.result) } } })`

// TestDaysOffline: the network breaks off in the middle of an upload, the phone's battery dies, and the network
// is back after nine days, when the studio has given the half recording up. It arrives whole, from the week page,
// and the vault lets it go only then.
func TestDaysOffline(t *testing.T) {
	s := open(t, record.Options{})
	net, address := webtest.Lay(t, s.URL)
	profile, wav := t.TempDir(), guitar(t)
	b := chromium.Open(t, address, chromium.Hearing(wav), chromium.Profile(profile))
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Look(390, "light")
	b.Go(record.Card{Student: s.runa.ID}.Address())
	look(t, b, "hands-before")
	b.Click("[data-do=open]")
	b.Wait(`!document.querySelector("[data-live]").hidden && document.querySelector("[data-say-light]").textContent !== ""`)
	look(t, b, "hands-ready")
	chromium.Eval[bool](b, watch)
	b.Click("[data-do=go]")
	b.Wait(`performance.now() - window.began > 6000`)
	b.Click(".recorder [data-do=stop]")
	b.Wait(`document.querySelectorAll(".kept-tries li").length === 1`)
	net.BreaksAfter(60_000)
	b.Click("[data-tries] button.main")
	b.Wait(`document.querySelector(".going").textContent.includes("No network just now")`)
	look(t, b, "away")
	size := chromium.Eval[float64](b, packed)
	if size < 120_000 {
		t.Fatalf("the film has only %.0f bytes: nothing can break off in it", size)
	}
	b.Expect("net::ERR_")
	b.Expect("409")
	b.Kill()
	half := takes(t, s)
	if len(half) != 1 || half[0].State != studio.Arriving {
		t.Fatalf("%+v", half)
	}

	files, err := os.ReadDir(s.halves)
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	for _, f := range files { // of the studio's clock, not of this machine's
		if err := os.Chtimes(filepath.Join(s.halves, f.Name()), s.Now(), s.Now()); err != nil {
			t.Fatal(err)
		}
	}
	s.Wait(9 * 24 * time.Hour)
	tend(t, s)
	if got := takes(t, s); len(got) != 0 {
		t.Errorf("what nobody went on with is still announced: %+v", got)
	}
	if files, err := os.ReadDir(s.halves); err != nil || len(files) != 0 {
		t.Errorf("%v, %v", files, err)
	}
	net.BreaksAfter(-1)
	b = chromium.Open(t, address, chromium.Profile(profile))
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Go("/week?child=" + string(s.runa.ID))
	b.Wait(`document.querySelector(".pending").textContent.includes("It is here and safe")`)
	look(t, b, "pending-here")
	got := takes(t, s)
	if len(got) != 1 || got[0].State != studio.Waiting || float64(got[0].Bytes) != size {
		t.Errorf("%+v, %.0f bytes were sent", got, size)
	}
	if n := chromium.Eval[int](b, inVault); n != 0 {
		t.Errorf("%d recordings are still in the vault", n)
	}
	_, file := s.kept(t, got[0].ID)
	if d := decoded(t, file).Seconds(); d < 5.5 || d > 7.5 {
		t.Errorf("%.1f s arrived", d)
	}
	b.Expect("404") // the half recording is not there any more, and the browser says so in its log
}

// TestSentBehindThePages: the network is away when a recording is sent, and the page is closed. When the network
// is back, the service worker sends it, with no page of the studio open.
func TestSentBehindThePages(t *testing.T) {
	s := open(t, record.Options{})
	net, address := webtest.Lay(t, s.URL)
	b := chromium.Open(t, address, chromium.Hearing(guitar(t)))
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Go(s.address())
	if got := chromium.Eval[string](b, `navigator.serviceWorker.register("/week/sw.js", { scope: "/week" }).then(() => navigator.serviceWorker.ready).then((r) => r.active.state)`); got == "" {
		t.Fatal("no worker")
	}
	s.record(t, b, 4)
	b.Click(".recorder [data-do=stop]")
	b.Wait(`document.querySelectorAll(".kept-tries li").length === 1`)
	net.BreaksAfter(0)
	b.Click("[data-tries] button.main")
	b.Wait(`document.querySelector(".going").textContent.includes("No network just now")`)
	b.Leave()
	if got := takes(t, s); len(got) != 0 {
		t.Fatalf("%+v", got)
	}
	net.BreaksAfter(-1)
	b.Sync("/week", "antiphon-takes")
	webtest.WaitFor(t, "the take is there", func() bool { got := takes(t, s); return len(got) == 1 && got[0].State == studio.Waiting })
	_, file := s.kept(t, takes(t, s)[0].ID)
	if d := decoded(t, file).Seconds(); d < 3.5 || d > 5.5 {
		t.Errorf("%.1f s arrived", d)
	}
	b.Go(s.address())
	webtest.WaitFor(t, "the vault lets it go", func() bool { return chromium.Eval[int](b, inVault) == 0 })
	b.Expect("net::ERR_")
}

// tend lets the clock of half recordings run once.
func tend(t testing.TB, s *site) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	done := make(chan error, 1)
	go func() { done <- s.in.Tend(ctx) }()
	webtest.WaitFor(t, "the half recordings are given up", func() bool {
		files, err := os.ReadDir(s.halves)
		return err == nil && len(files) == 0
	})
	stop()
	if err := <-done; err != nil {
		t.Fatal(err)
	}
}

func takes(t testing.TB, s *site) []studio.Take {
	t.Helper()
	all, err := s.Desk.TakesBy(t.Context(), s.Teacher, studio.TakeQuery{})
	if err != nil {
		t.Fatal(err)
	}
	return all
}
