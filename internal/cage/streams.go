package cage

import (
	"context"
	"io"
	"os"
	"sync"
	"time"
)

// streams are the pipes of a job, each drained by its own goroutine.
type streams struct {
	theirs []*os.File // the ends that the program writes to
	ours   []*os.File
	wg     sync.WaitGroup
}

// openStreams makes a pipe for every writer; nil discards. A writer's error, or more than max bytes
// in one stream, cancels the job with that cause.
func openStreams(cancel context.CancelCauseFunc, max int64, to []io.Writer) (*streams, error) {
	s := &streams{}
	for _, w := range to {
		pr, pw, err := os.Pipe()
		if err != nil {
			s.started()
			s.finish()
			return nil, err
		}
		widen(pw)
		s.ours, s.theirs = append(s.ours, pr), append(s.theirs, pw)
		if w == nil {
			w = io.Discard
		}
		s.wg.Go(func() {
			if err := drain(w, pr, max); err != nil {
				cancel(err)
			}
			pr.Close() // a program that still writes gets a broken pipe
		})
	}
	return s, nil
}

func drain(w io.Writer, r io.Reader, max int64) error {
	buf := make([]byte, 256<<10)
	for got := int64(0); ; {
		n, err := r.Read(buf)
		if got += int64(n); got > max {
			return ErrTooMuch
		}
		if n > 0 {
			if _, werr := w.Write(buf[:n]); werr != nil {
				return werr
			}
		}
		if err != nil {
			return nil // the end, or closed by finish
		}
	}
}

// feed gives the program's end of a pipe that r is copied into. fed is closed when all is written or
// nobody reads any more.
func feed(r io.Reader) (theirs *os.File, fed <-chan struct{}, err error) {
	done := make(chan struct{})
	if r == nil {
		close(done)
		theirs, err = os.Open(os.DevNull)
		return theirs, done, err
	}
	theirs, ours, err := os.Pipe()
	if err != nil {
		return nil, nil, err
	}
	widen(ours)
	go func() {
		defer close(done)
		io.Copy(ours, r) // a program need not read to the end: a broken pipe is no fault
		ours.Close()
	}()
	return theirs, done, nil
}

// started closes our copies of the program's ends, so that the pipes end with the program.
func (s *streams) started() {
	for _, f := range s.theirs {
		f.Close()
	}
}

// finish waits until everything written has arrived. A process that got away and holds a pipe open
// is not waited for.
func (s *streams) finish() {
	late := time.AfterFunc(2*time.Second, func() {
		for _, f := range s.ours {
			f.SetReadDeadline(time.Unix(1, 0))
		}
	})
	s.wg.Wait()
	late.Stop()
}

// tail keeps the end of what is written to it.
type tail struct{ b []byte }

const tailBytes = 64 << 10

func (t *tail) Write(p []byte) (int, error) {
	n := len(p)
	if len(p) > tailBytes {
		p = p[len(p)-tailBytes:]
	}
	if cut := len(t.b) + len(p) - tailBytes; cut > 0 {
		t.b = append(t.b[:0], t.b[cut:]...)
	}
	t.b = append(t.b, p...)
	return n, nil
}

func (t *tail) String() string { return string(t.b) }
