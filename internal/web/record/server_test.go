package record_test

import (
	"context"
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"antiphon/internal/studio"
	"antiphon/internal/web/arrive"
	"antiphon/internal/web/page"
	"antiphon/internal/web/record"
	"antiphon/internal/web/sheet"
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
	mux.Handle("GET /week/takes/{take}", f.Family(thanks))
	mux.Handle("GET /week/sw.js", f.Open(worker(f)))
	return record.Routes(mux, f, record.Options{Sheets: sheet.New(nil, f)})
}

// TestStudioKilledWhileUploading: the studio's process is killed in the middle of an upload, and started again a
// moment later. The recording that is on its way goes on and arrives whole; the page stays open all the while.
func TestStudioKilledWhileUploading(t *testing.T) {
	dir, port := t.TempDir(), webtest.FreePort(t)
	server := webtest.Start(t, dir, port)
	h, err := webtest.Last(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	defer h.Store.Close()
	net, address := webtest.Lay(t, "http://127.0.0.1:"+port)
	br := chromium.Open(t, address, chromium.Hearing(guitar(t)))
	br.Cookie("antiphon", h.Device)
	br.Look(390, "light")
	br.Go(record.Card{Student: h.Child.ID}.Address())
	look(t, br, "film-before")
	chromium.Eval[bool](br, watch)
	br.Click("[data-do=open]")
	br.Wait(`!document.querySelector("[data-live]").hidden`)
	br.Click("[data-do=go]")
	br.Wait(`performance.now() - window.began > 9000`)
	br.Click("[data-do=stop]")
	br.Wait(`document.querySelectorAll(".kept-tries li").length === 1`)
	net.IsSlow(true)
	br.Click("[data-tries] button.main")
	half := filepath.Join(dir, "arriving")
	webtest.WaitFor(t, "something of the recording is there", func() bool { _, n := webtest.Half(half); return n > 40_000 })
	size := chromium.Eval[float64](br, packed)
	if err := server.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = server.Wait() // killed, it says
	_, was := webtest.Half(half)
	if float64(was) >= size {
		t.Fatalf("all %.0f bytes were there before the studio was killed", size)
	}
	net.IsSlow(false)
	webtest.Start(t, dir, port)
	br.Wait(`location.pathname.startsWith("/week/takes/")`)
	id := studio.TakeID(strings.TrimPrefix(chromium.Eval[string](br, "location.pathname"), "/week/takes/"))
	t.Logf("%d of %.0f bytes were there when the studio was killed; %d bytes went over the wire after that", was, size, net.Carried())
	if net.Carried() > int64(size)-was/2 {
		t.Errorf("the upload of %.0f bytes began anew: %d bytes after the kill, where %d had come", size, net.Carried(), was)
	}
	file := fileOf(t, h.Desk, studio.Viewer{Studio: h.Teacher.Studio, Role: studio.Ear}, id)
	if d := decoded(t, file).Seconds(); d < 8.5 || d > 11 {
		t.Errorf("%.1f s arrived", d)
	}
	br.Expect("net::ERR_")
	br.Expect("409")
}
