package page_test

import (
	"context"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

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
