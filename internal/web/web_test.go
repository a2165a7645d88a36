package web_test

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"antiphon/internal/studio"
	"antiphon/internal/web"
	"antiphon/internal/web/webtest"
)

func site(t *testing.T, s *webtest.Studio, byLink bool) http.Handler {
	t.Helper()
	h, err := web.New(web.Options{Desk: s.Desk, Engraver: webtest.Engraver(t), Folder: t.TempDir(), Now: s.Now, EnterByLink: byLink})
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func ask(h http.Handler, method, path, from, host, cookie string) *http.Response {
	r := httptest.NewRequest(method, "http://"+host+path, nil)
	r.RemoteAddr = from
	if cookie != "" {
		r.AddCookie(&http.Cookie{Name: "antiphon", Value: cookie})
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w.Result()
}

// TestEnteringByLink: only on this machine, only by its own name, and only in the demo.
func TestEnteringByLink(t *testing.T) {
	s := webtest.Open(t)
	demo, real := site(t, s, true), site(t, s, false)
	const here, there = "127.0.0.1:40000", "192.0.2.7:40000"
	for _, c := range []struct {
		name, secret, from, host string
		h                        http.Handler
		status                   int
		to                       string
	}{
		{"the teacher", s.TeacherDevice, here, "127.0.0.1:8080", demo, 303, "/desk"},
		{"a family", s.Okafor.Device, "[::1]:40000", "localhost:8080", demo, 303, "/week"},
		{"from another machine", s.TeacherDevice, there, "127.0.0.1:8080", demo, 403, ""},
		{"by a name that somebody points here", s.TeacherDevice, here, "evil.example:8080", demo, 403, ""},
		{"a secret of nobody's", "nobody", here, "127.0.0.1:8080", demo, 403, ""},
		{"in a real studio", s.TeacherDevice, here, "127.0.0.1:8080", real, 404, ""},
	} {
		a := ask(c.h, "GET", "/enter/"+c.secret, c.from, c.host, "")
		if a.StatusCode != c.status || a.Header.Get("Location") != c.to {
			t.Errorf("%s: %d to %q, want %d to %q", c.name, a.StatusCode, a.Header.Get("Location"), c.status, c.to)
		}
		if bound := len(a.Cookies()) > 0; bound != (c.status == 303) {
			t.Errorf("%s: cookies %v", c.name, a.Cookies())
		}
	}
}

// TestEveryPartIsThere: the addresses that the design names answer the teacher, and show a stranger the door.
func TestEveryPartIsThere(t *testing.T) {
	s := webtest.Open(t)
	h := site(t, s, false)
	for _, path := range []string{"/desk", "/students", "/students/" + string(s.Okafor.Students[0].ID), "/library", "/library/remedies", "/library/collections", "/studio", "/studio/door", "/unsorted"} {
		if a := ask(h, "GET", path, "127.0.0.1:1", "studio.example", s.TeacherDevice); a.StatusCode != http.StatusOK {
			t.Errorf("%s answers the teacher with %d", path, a.StatusCode)
		}
		if a := ask(h, "GET", path, "127.0.0.1:1", "studio.example", ""); a.StatusCode != http.StatusSeeOther {
			t.Errorf("%s answers a stranger with %d", path, a.StatusCode)
		}
		if a := ask(h, "GET", path, "127.0.0.1:1", "studio.example", s.Okafor.Device); a.StatusCode != http.StatusForbidden {
			t.Errorf("%s answers a family with %d", path, a.StatusCode)
		}
	}
	if a := ask(h, "GET", "/week", "127.0.0.1:1", "studio.example", s.Okafor.Device); a.StatusCode != http.StatusOK {
		t.Errorf("the week answers its family with %d", a.StatusCode)
	}
	if a := ask(h, "GET", "/takes/"+string(studio.TakeID("nothing")), "127.0.0.1:1", "studio.example", s.TeacherDevice); a.StatusCode != http.StatusNotFound {
		t.Errorf("a take that is not there: %d", a.StatusCode)
	}
}
