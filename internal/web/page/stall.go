package page

import (
	"errors"
	"io"
	"net/http"
	"time"
)

// Who sends a body may pause, and may be slow, but not hold a connection for ever with a byte now and then.
const (
	longestPause = 2 * time.Minute
	slowestPace  = 1 << 10 // bytes a second, after the first pause
)

// sentSoFar is when the next byte of a body must be here, of which n bytes came since begun.
func sentSoFar(begun, now time.Time, n int64) time.Time {
	pause := now.Add(longestPause)
	pace := begun.Add(longestPause + time.Duration(n)*time.Second/slowestPace)
	if pace.Before(pause) {
		return pace
	}
	return pause
}

// unstalled lets a request's body end in an error where the rest of it does not come. A request without
// a body, and the wait after a body, have no such end: pages stay open for news, and players pause.
func unstalled(w http.ResponseWriter, r *http.Request) *http.Request {
	if r.Body == nil || r.Body == http.NoBody {
		return r
	}
	b := &arriving{ReadCloser: r.Body, line: http.NewResponseController(w), begun: time.Now()}
	b.expect(sentSoFar(b.begun, b.begun, 0)) // also of a body that nobody reads: the server reads what is left of it
	r = r.WithContext(r.Context())
	r.Body = b
	return r
}

// arriving is a body with the time by which more of it must come.
type arriving struct {
	io.ReadCloser
	line  *http.ResponseController
	begun time.Time
	n     int64
}

func (a *arriving) Read(p []byte) (int, error) {
	a.expect(sentSoFar(a.begun, time.Now(), a.n))
	n, err := a.ReadCloser.Read(p)
	a.n += int64(n)
	if errors.Is(err, io.EOF) {
		a.expect(time.Time{})
	}
	return n, err
}

// expect sets the time. A line that has none, in a test, needs none.
func (a *arriving) expect(t time.Time) { _ = a.line.SetReadDeadline(t) }
