package notify

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"time"

	"antiphon/internal/studio"
)

// desk is all that telling asks of the studio.
type desk interface {
	ToTell(ctx context.Context, v studio.Viewer, id studio.NoticeID) (studio.Telling, error)
	Told(ctx context.Context, v studio.Viewer, n studio.Notice) error
	RemovePush(ctx context.Context, v studio.Viewer, id studio.PushID) error
	Home(ctx context.Context) (studio.Studio, bool, error)
}

// TellOptions: without Push and Mail nobody is told.
type TellOptions struct {
	Address string           // of the studio, as browsers reach it: https://studio.example.org
	Push    *Pusher          // nil: no browser is told
	Mail    *Mailer          // nil: no mail goes out
	Now     func() time.Time // nil means time.Now
	Log     *slog.Logger     // nil means discard
}

// Teller tells people what the studio wants them told.
type Teller struct {
	desk desk
	o    TellOptions
}

// NewTeller makes one that asks d.
func NewTeller(d desk, o TellOptions) *Teller {
	o.Address = strings.TrimRight(o.Address, "/")
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return &Teller{d, o}
}

// Tell tells a person of a notice, on every browser that asked for it and by mail. One way is enough; an
// error means that none worked and that it may be tried again. A program killed on the way tells twice
// rather than never; a browser shows the two as one. It is what listen.Options.Tell wants.
func (t *Teller) Tell(ctx context.Context, v studio.Viewer, id studio.NoticeID) error {
	d, err := t.desk.ToTell(ctx, v, id)
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind == studio.NotFound {
		return nil // taken back
	}
	if err != nil || !d.Notice.Sent.IsZero() {
		return err
	}
	n, known := t.notice(d)
	if !known {
		return fmt.Errorf("nobody knows how to tell of a notice %q", d.Notice.Kind)
	}
	reached, waiting, forgotten := t.everyWay(ctx, v, d, n)
	if ctx.Err() != nil && reached == 0 {
		return ctx.Err()
	}
	d.Notice.Tries++
	d.Notice.Why = ""
	all := errors.Join(append(waiting, forgotten...)...)
	if all != nil {
		d.Notice.Why = oneLine(all.Error())
	}
	switch {
	case reached > 0:
		d.Notice.Sent = t.o.Now().UTC()
		waiting = nil
	case all == nil:
		d.Notice.Why = "there was no way to tell"
	}
	if all != nil {
		t.o.Log.WarnContext(ctx, "a notice did not go every way", "notice", id, "reached", reached, "err", all)
	}
	return errors.Join(append(waiting, t.desk.Told(ctx, v, d.Notice))...)
}

// everyWay tries each once: what may be tried again, and what never will work.
func (t *Teller) everyWay(ctx context.Context, v studio.Viewer, d studio.Telling, n Notice) (reached int, waiting, never []error) {
	sort := func(err error) {
		switch {
		case err == nil:
			reached++
		case errors.Is(err, ErrGone), errors.Is(err, ErrRefused):
			never = append(never, err)
		default:
			waiting = append(waiting, err)
		}
	}
	if t.o.Push != nil {
		for _, a := range d.Push {
			s, err := ReadSubscription(a.Doc)
			if err == nil {
				err = t.o.Push.Push(ctx, s, n)
			}
			sort(err)
			if errors.Is(err, ErrGone) {
				if err := t.desk.RemovePush(ctx, v, a.ID); err != nil {
					waiting = append(waiting, err)
				}
			}
		}
	}
	if t.o.Mail != nil && d.Person.Email != "" {
		n.Off = t.o.Address + "/notices/off/" + d.Off
		sort(t.o.Mail.Mail(ctx, d.Person.Email, n, t.o.Now()))
	}
	return reached, waiting, never
}

// notice is what is said, in the language of the reader's pages.
func (t *Teller) notice(d studio.Telling) (Notice, bool) {
	n := Notice{Studio: d.Studio.Name, Language: d.Language, Link: t.o.Address + "/week"}
	if d.Person.Role == studio.Teacher {
		n.Link = t.o.Address + "/desk"
	}
	kind, known := map[studio.NoticeKind]Kind{studio.OfLesson: Lesson, studio.OfNudge: Nudge, studio.OfLetter: Letter,
		studio.OfHurt: Hurt, studio.OfQuestion: Question, studio.OfTake: Take}[d.Notice.Kind]
	n.Kind = kind
	return n, known
}

// Confirm sends the mail whose link confirms an address.
func (t *Teller) Confirm(ctx context.Context, to, language, secret string) error {
	if t.o.Mail == nil {
		return fmt.Errorf("%w: no mail server is set", ErrRefused)
	}
	st, _, err := t.desk.Home(ctx)
	if err != nil {
		return err
	}
	return t.o.Mail.Mail(ctx, to, Notice{Kind: Confirm, Language: language, Studio: st.Name, Link: t.o.Address + "/notices/confirm/" + secret}, t.o.Now())
}
