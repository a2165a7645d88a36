package page

import (
	"errors"
	"io"
	"net/http"
	"strings"

	"antiphon/internal/studio"
)

// mostForm is more than any form says in words, in bytes.
const mostForm = 1 << 20

// bounded is the body of a request that takes no files. It remembers whether more came than it may hold.
type bounded struct {
	io.ReadCloser
	whole io.ReadCloser
	over  bool
}

func (b *bounded) Read(p []byte) (int, error) {
	n, err := b.ReadCloser.Read(p)
	if _, tooLarge := errors.AsType[*http.MaxBytesError](err); tooLarge {
		b.over = true
	}
	return n, err
}

// bound lets a request hold no more than a form does. One that says itself that it does is refused at once.
func bound(w http.ResponseWriter, r *http.Request) (*bounded, error) {
	if r.Body == nil || r.Body == http.NoBody {
		return &bounded{}, nil
	}
	b := &bounded{ReadCloser: http.MaxBytesReader(w, r.Body, mostForm), whole: r.Body}
	r.Body = b
	if r.ContentLength > mostForm && strings.HasPrefix(r.Header.Get("Content-Type"), "application/x-www-form-urlencoded") {
		return b, &http.MaxBytesError{Limit: mostForm}
	}
	return b, nil
}

// Takes lets the request of a handler that takes files hold most bytes; 0 means that somebody else counts them.
// It is called before anything is read.
func Takes(w http.ResponseWriter, r *http.Request, most int64) {
	if b, ok := r.Body.(*bounded); ok {
		r.Body = b.whole
	}
	if most > 0 {
		r.Body = http.MaxBytesReader(w, r.Body, most)
	}
}

// tooMuch is what a handler's error means where the body was longer than it may be.
func (b *bounded) tooMuch(err error) error {
	if err == nil || !b.over {
		return err
	}
	return &studio.Problem{Kind: studio.TooLarge, Say: "That is more than can be sent at once.", Err: err}
}
