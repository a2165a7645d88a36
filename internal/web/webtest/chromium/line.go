package chromium

import (
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"sync/atomic"
	"testing"
)

// Line is the way to a site that can be cut: a service worker has a network of its own, which turning off the
// page's does not reach.
type Line struct {
	URL    string // of the site through the line
	server *httptest.Server
	cut    atomic.Bool
}

// LineTo lays a line to a site.
func LineTo(t testing.TB, site string) *Line {
	t.Helper()
	to, err := url.Parse(site)
	if err != nil {
		t.Fatal(err)
	}
	through := &httputil.ReverseProxy{FlushInterval: -1, Rewrite: func(r *httputil.ProxyRequest) {
		r.SetURL(to)
		r.Out.Host = r.In.Host
	}}
	l := &Line{}
	l.server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if l.cut.Load() {
			panic(http.ErrAbortHandler)
		}
		through.ServeHTTP(w, r)
	}))
	l.URL = l.server.URL
	t.Cleanup(func() {
		l.server.CloseClientConnections()
		l.server.Close()
	})
	return l
}

// Cut takes the line away, and the network of the browser's pages with it; Mend gives both back. That pages say so
// meanwhile is expected: which of their requests fail, and when, is nothing that a test decides.
func (l *Line) Cut(b *Browser)  { l.turn(b, false) }
func (l *Line) Mend(b *Browser) { l.turn(b, true) }

func (l *Line) turn(b *Browser, on bool) {
	b.t.Helper()
	b.unreached(!on)
	l.cut.Store(!on)
	if !on { // when it is mended, a page may send over one of them already
		l.server.CloseClientConnections()
	}
	b.Network(on)
}
