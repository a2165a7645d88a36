// Package listen is what happens to a take between its last byte and the desk: it takes off what the
// file says about place and device, hears the take against what was asked, says what stands in the way
// of a review, and makes the files that a page plays and draws.
//
// It asks and tells the studio through its Desk as the ear, and keeps nothing itself. It is done again
// from the beginning after an error or a kill, and does no harm by that. It judges no child: what it
// says is about recordings.
package listen

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"runtime/debug"
	"sync"
	"time"

	"antiphon/internal/media"
	"antiphon/internal/studio"
)

// Options: the zero value works in the system's folder for temporary files, takes up to an hour, and keeps no log.
type Options struct {
	Dir   string           // for copies while they are worked on; they are gone afterwards, also after a kill
	Media media.Options    // limits on a take
	Now   func() time.Time // nil means time.Now
	Log   *slog.Logger     // nil means discard

	// Tell tells a person of a notice; an error means that it may be tried again. nil means that nobody is told.
	Tell func(ctx context.Context, v studio.Viewer, id studio.NoticeID) error
}

// Hands do the studio's jobs. Several goroutines may use them.
type Hands struct {
	desk *studio.Desk
	o    Options

	mu      sync.Mutex
	shelves map[studio.StudioID]shelf // prepared for recognition, the newest of each studio
}

// New makes hands that work for desk.
func New(desk *studio.Desk, o Options) *Hands {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Tell == nil {
		o.Tell = func(context.Context, studio.Viewer, studio.NoticeID) error { return nil }
	}
	return &Hands{desk: desk, o: o, shelves: map[studio.StudioID]shelf{}}
}

// Do does a job, and is what jobs.Queue.Work wants: after an error it may be done again, unless this was
// the last try. What a recording itself is to blame for is no error; it is said on the desk.
func (h *Hands) Do(ctx context.Context, job studio.Job, last bool) (err error) {
	defer func() {
		if p := recover(); p != nil { // a fault of ours, brought out by one file, is not to take the others along
			err = fmt.Errorf("job %s: %v\n%s", job.Kind, p, debug.Stack())
		}
		if err != nil && last && ctx.Err() == nil {
			h.o.Log.ErrorContext(ctx, "a job was given up", "job", job.Kind, "take", job.Take, "unsorted", job.Unsorted, "err", err)
			err = errors.Join(err, h.giveUp(ctx, job))
		}
	}()
	v := studio.Viewer{Studio: job.Studio, Role: studio.Ear}
	switch job.Kind {
	case studio.JobHear:
		return h.hear(ctx, v, job.Take)
	case studio.JobRender:
		return h.render(ctx, v, job.Take)
	case studio.JobGuess:
		return h.guess(ctx, v, job.Unsorted)
	case studio.JobSpoken:
		return h.cleanSpoken(ctx, v, job.Take)
	case studio.JobClean:
		return h.cleanOlder(ctx, v)
	case studio.JobFilm:
		return h.film(ctx, v, job.Lesson)
	case studio.JobClip:
		return h.clips(ctx, v, job.Lesson)
	case studio.JobNotify:
		return h.o.Tell(ctx, v, job.Notice)
	case studio.JobSend:
		return h.desk.SendDue(ctx, v, job.Lesson)
	case studio.JobSweep:
		return h.desk.Sweep(ctx, v)
	case studio.JobDemands:
		return h.demands(ctx, v)
	}
	return fmt.Errorf("nobody knows how to do a job %q", job.Kind)
}

// giveUp says on the desk that a take could not be worked on, so that it waits for nobody.
func (h *Hands) giveUp(ctx context.Context, job studio.Job) error {
	v := studio.Viewer{Studio: job.Studio, Role: studio.Ear}
	var err error
	switch job.Kind {
	case studio.JobHear:
		err = h.desk.SetAside(ctx, v, job.Take, "Something went wrong on our side while this was heard. The recording is safe; let it be heard again.", studio.Heard{})
	case studio.JobFilm:
		_, err = h.desk.KeepFilm(ctx, v, job.Lesson, studio.Film{State: studio.FilmFailed, Why: "Something went wrong on our side while the film was made. What you recorded is safe: have it made again."}, "", nil)
	case studio.JobNotify:
		err = h.desk.GiveUpNotice(ctx, v, job.Notice)
	case studio.JobGuess:
		err = h.desk.PutAside(ctx, v, job.Unsorted, "Something went wrong on our side while this was heard. The recording is safe: say whose it is.")
	}
	return unlessOver(err)
}

// unlessOver forgives that a take was deleted, or heard by somebody else, meanwhile.
func unlessOver(err error) error {
	if p, ok := errors.AsType[*studio.Problem](err); ok && (p.Kind == studio.NotFound || p.Kind == studio.Conflict) {
		return nil
	}
	return err
}

// Keep minds the studio's clock until ctx ends: what is over is deleted, and files that nothing names any
// more are removed, copies included that a killed program left. Every is the time between two looks; 0 means an hour.
func (h *Hands) Keep(ctx context.Context, every time.Duration) error {
	if every == 0 {
		every = time.Hour
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		if err := h.tidy(ctx); err != nil && ctx.Err() == nil {
			h.o.Log.ErrorContext(ctx, "the clock could not be kept; it is tried again", "err", err)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
	}
}

func (h *Hands) tidy(ctx context.Context) error {
	if err := clearLeft(h.o.Dir, leftFor, h.o.Now()); err != nil {
		return err
	}
	st, there, err := h.desk.Home(ctx)
	if err != nil || !there {
		return err
	}
	v := studio.Viewer{Studio: st.ID, Role: studio.Ear}
	if _, err := h.desk.KeepTheClock(ctx, v); err != nil {
		return err
	}
	// What an hour should have sent and its job did not live to: after an outage, or from a copy that was put back.
	return errors.Join(h.desk.SendDue(ctx, v, ""), h.desk.Sweep(ctx, v), h.cleanOlder(ctx, v), h.demands(ctx, v), h.desk.KeepPlans(ctx, v))
}

// fetch copies a recording to where a caged program may read it.
func fetch(ctx context.Context, from io.ReadCloser, dir string) (path string, err error) {
	defer func() { err = errors.Join(err, from.Close()) }()
	path = filepath.Join(dir, "sent")
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return "", fmt.Errorf("copying a recording: %w", err)
	}
	_, err = io.Copy(f, from)
	if err = errors.Join(err, f.Close(), ctx.Err()); err != nil {
		return "", fmt.Errorf("copying a recording: %w", err)
	}
	return path, nil
}

// fetched is a file of the studio's as a copy in a folder of its own, which is gone after done.
func (h *Hands) fetched(ctx context.Context, v studio.Viewer, m studio.Media) (path string, done func(), err error) {
	dir, done, err := h.workplace()
	if err != nil {
		return "", nil, err
	}
	f, err := h.desk.Bytes(ctx, v, m)
	if err == nil {
		path, err = fetch(ctx, f, dir)
	}
	if err != nil {
		done()
		return "", nil, err
	}
	return path, done, nil
}

// blame is what a recording itself is to blame for, as one sentence for the teacher; "" where the fault
// is not the recording's.
func blame(err error) string {
	e, ok := errors.AsType[*media.Error](err)
	if !ok {
		return ""
	}
	switch e.Kind {
	case media.Empty:
		return "The file is empty: ask for the recording again."
	case media.NotMedia:
		return "This is no recording that can be played: a text, a list that points elsewhere, or a kind of file that no phone makes. Ask for the recording itself."
	case media.Broken:
		return "The file is damaged or broke off on the way, so that nothing in it can be played: ask for it again."
	case media.NoSound:
		return "There is no sound in this recording: the microphone was off or not allowed."
	case media.TooLong:
		return "The recording is longer than the studio hears: ask for the part that matters."
	case media.TooLarge:
		return "The recording unpacks to more than the studio hears: ask for a shorter one."
	case media.TooSlow:
		return "The recording takes too long to unpack, which no phone's own recording does: ask for it again."
	}
	return ""
}
