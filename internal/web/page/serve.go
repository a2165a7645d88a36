package page

import (
	"context"
	"errors"
	"net/http"
	"strings"

	"antiphon/internal/studio"
)

// Handler answers one request. What it returns is shown as a page, or as JSON to a script that asked
// for it: a studio.Problem with its own sentence, anything else as our fault, with a line in the log.
type Handler func(w http.ResponseWriter, r *http.Request) error

var statusOf = map[studio.Kind]int{
	studio.Invalid:    http.StatusUnprocessableEntity,
	studio.NotFound:   http.StatusNotFound,
	studio.NotAllowed: http.StatusForbidden,
	studio.Conflict:   http.StatusConflict,
	studio.Gone:       http.StatusGone,
	studio.TooLarge:   http.StatusRequestEntityTooLarge,
	TooMany:           http.StatusTooManyRequests,
	brokeOff:          http.StatusServiceUnavailable,
	studio.Full:       http.StatusInsufficientStorage,
}

// brokeOff is the kind of a request that ended before it was answered.
const brokeOff studio.Kind = "broke-off"

// headings say in two or three words what kind of refusal it is.
var headings = map[studio.Kind]string{
	studio.Invalid:    "That did not fit",
	studio.NotFound:   "Not here",
	studio.NotAllowed: "Not yours to open",
	studio.Conflict:   "Changed meanwhile",
	studio.Gone:       "This link is over",
	studio.TooLarge:   "Too large",
	TooMany:           "A moment, please",
	brokeOff:          "Broken off",
	studio.Full:       "The disk is full",
}

// Open answers anybody.
func (f *Frame) Open(h Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		v, err := f.recognise(r)
		if err != nil {
			f.refuse(w, r, err)
			return
		}
		w.Header().Set(forWhom, whose(v))
		f.answer(w, r.WithContext(context.WithValue(r.Context(), viewerKey{}, v)), h)
	})
}

func (f *Frame) answer(w http.ResponseWriter, r *http.Request, h Handler) {
	seen := &seen{ResponseWriter: w}
	body, err := bound(w, r)
	if err == nil {
		err = body.tooMuch(h(seen, r))
	}
	if err != nil {
		switch {
		case seen.wrote:
			f.o.Log.Info("an answer broke off", "path", r.Pattern, "error", err)
			panic(http.ErrAbortHandler) // cuts the line: half a download must not end like a whole one
		case r.Context().Err() != nil:
			// Who asked has gone, or we are being stopped: silence would read as "done".
			f.o.Log.Info("a request broke off", "path", r.Pattern, "error", err)
			f.refuse(w, r, &studio.Problem{Kind: brokeOff, Say: "This broke off on the way. Look whether it was done, and do it again if not."})
		default:
			f.refuse(w, r, err)
		}
	}
}

// Refused is what problem.html shows.
type Refused struct {
	Heading string
	Say     string
	Start   string // words of the link to the start
}

func (f *Frame) refuse(w http.ResponseWriter, r *http.Request, err error) {
	p, ok := errors.AsType[*studio.Problem](err)
	if _, tooLarge := errors.AsType[*http.MaxBytesError](err); tooLarge {
		p, ok = &studio.Problem{Kind: studio.TooLarge, Say: "That is more than can be sent at once."}, true
	}
	status, known := 0, false
	if ok {
		status, known = statusOf[p.Kind]
	}
	if !known {
		f.o.Log.Error("refused", "method", r.Method, "path", r.Pattern, "error", err)
		say := "Something broke on our side. Nothing that was sent before is lost. Try again in a moment."
		if ok && p.Say != "" {
			say = p.Say
		}
		p, status = &studio.Problem{Kind: studio.Internal, Say: say}, http.StatusInternalServerError
	}
	if p.Kind == studio.Full { // whoever runs the studio has to know
		f.o.Log.Error("refused", "method", r.Method, "path", r.Pattern, "error", err)
	}
	if strings.Contains(r.Header.Get("Accept"), "application/json") {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(status)
		_ = JSON(w, map[string]string{"kind": string(p.Kind), "say": f.Told(r, p)}) // the reader has gone: nothing to tell
		return
	}
	t := f.speaks(r)
	heading, start, err := headed(t, p.Kind)
	if err == nil {
		err = f.pages.render(w, r, "problem.html", View{Title: heading, Lang: t.Code, Data: Refused{heading, f.Told(r, p), start}}, status)
	}
	if err != nil {
		f.o.Log.Error("the problem page", "error", err)
	}
}

// seen knows whether an answer has begun.
type seen struct {
	http.ResponseWriter
	wrote bool
}

func (s *seen) WriteHeader(status int) {
	s.wrote = true
	s.ResponseWriter.WriteHeader(status)
}

func (s *seen) Write(b []byte) (int, error) {
	s.wrote = true
	return s.ResponseWriter.Write(b)
}

// Unwrap lets http.ResponseController flush and set deadlines.
func (s *seen) Unwrap() http.ResponseWriter { return s.ResponseWriter }
