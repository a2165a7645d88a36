package page

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

// deadlined is a connection that remembers until when it waits.
type deadlined struct {
	*httptest.ResponseRecorder
	set   int
	until time.Time
}

func (d *deadlined) SetReadDeadline(t time.Time) error {
	d.set, d.until = d.set+1, t
	return nil
}

func TestABodyThatDoesNotComeHoldsNoConnection(t *testing.T) {
	w := &deadlined{ResponseRecorder: httptest.NewRecorder()}
	r := unstalled(w, httptest.NewRequest(http.MethodPost, "/sign-in", strings.NewReader("password=long enough")))
	if w.until.IsZero() {
		t.Error("a body that nobody reads has no end")
	}
	if _, err := r.Body.Read(make([]byte, 4)); err != nil || w.until.IsZero() {
		t.Errorf("in the middle of a body: err %v, until %v", err, w.until)
	}
	if _, err := io.ReadAll(r.Body); err != nil {
		t.Fatal(err)
	}
	if !w.until.IsZero() {
		t.Error("after the body the answer has an end, which would cut an open line off")
	}
	w = &deadlined{ResponseRecorder: httptest.NewRecorder()}
	if unstalled(w, httptest.NewRequest(http.MethodGet, "/live", nil)); w.set != 0 {
		t.Error("a request without a body got an end")
	}
}

func TestWhoSendsMayPauseButNotForEver(t *testing.T) {
	begun := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name string
		now  time.Duration // since it began
		n    int64
		want time.Duration
	}{
		{"the first byte", 0, 0, 2 * time.Minute},
		{"a recording that came fast and pauses", time.Hour, 100 << 20, time.Hour + 2*time.Minute},
		{"a byte a minute", 2 * time.Minute, 3, 2 * time.Minute},
		{"a form at the slowest pace", 2 * time.Minute, 60 << 10, 3 * time.Minute},
	} {
		if got := sentSoFar(begun, begun.Add(c.now), c.n).Sub(begun).Round(time.Second); got != c.want {
			t.Errorf("%s: until %v after the beginning, want %v", c.name, got, c.want)
		}
	}
}
