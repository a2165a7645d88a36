package page_test

import (
	"context"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// What ends before it is answered, as in a stop of the program, must not look done.
func TestARequestThatBrokeOffIsNotDone(t *testing.T) {
	f := frame(t, page.Options{})
	h := f.Open(func(_ http.ResponseWriter, r *http.Request) error { return r.Context().Err() })
	ctx, stop := context.WithCancel(context.Background())
	stop()
	a := ask(h, httptest.NewRequest(http.MethodPost, "/one", nil).WithContext(ctx))
	if a.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("status %d", a.StatusCode)
	}
	if s := body(t, a); !strings.Contains(s, "broke off on the way") {
		t.Errorf("it says %q", s)
	}
}

// A full disk is told as one, to a person and to a script (RFC 4918, section 11.5: 507 Insufficient Storage).
func TestAFullDiskIsToldAsOne(t *testing.T) {
	f := frame(t, page.Options{})
	h := f.Open(func(http.ResponseWriter, *http.Request) error {
		return &studio.Problem{Kind: studio.Full, Say: "The studio's disk is full."}
	})
	for _, accept := range []string{"text/html", "application/json"} {
		r := httptest.NewRequest(http.MethodPost, "/one", nil)
		r.Header.Set("Accept", accept)
		a := ask(h, r)
		if s := body(t, a); a.StatusCode != 507 || !strings.Contains(s, "disk is full") || strings.Contains(s, "on our side") {
			t.Errorf("%s: %d %q", accept, a.StatusCode, s)
		}
	}
}
