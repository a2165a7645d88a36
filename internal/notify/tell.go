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
// error means that none worked and that it may be tried again, a *LaterError not before what it says. A
// program killed on the way tells once more, since it cannot know whether it had told, and never a third
// time; browsers and mailboxes can show the two as one. It is what listen.Options.Tell wants.
func (t *Teller) Tell(ctx context.Context, v studio.Viewer, id studio.NoticeID) error {
	d, err := t.desk.ToTell(ctx, v, id)
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind == studio.NotFound {
		return nil // taken back
	}
	if err != nil || !d.Notice.Sent.IsZero() || d.Notice.State == studio.GivenUp {
		return err
	}
	n, known := t.notice(d)
	if !known {
		return fmt.Errorf("nobody knows how to tell of a notice %q", d.Notice.Kind)
	}
	switch d.Notice.State {
	case studio.TellsNow:
		d.Notice.State = studio.TellsAgain
	case studio.TellsAgain:
		d.Notice.State, d.Notice.Why = studio.GivenUp, "the program was stopped twice while telling, and may have told"
		t.o.Log.WarnContext(ctx, "a notice was given up", "notice", id, "why", d.Notice.Why)
		return t.desk.Told(ctx, v, d.Notice)
	default:
		d.Notice.State = studio.TellsNow
	}
	if err := t.desk.Told(ctx, v, d.Notice); err != nil {
		return err
	}
	reached, waiting, forgotten := t.everyWay(ctx, v, d, n)
	d.Notice.State = studio.Waits
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
		d.Notice.State = studio.GivenUp
	case len(waiting) == 0:
		d.Notice.State = studio.GivenUp
	}
	if all != nil {
		t.o.Log.WarnContext(ctx, "a notice did not go every way", "notice", id, "reached", reached, "err", all)
	}
	// What has gone out is written down though the time for this try be over.
	return errors.Join(together(waiting), t.desk.Told(context.WithoutCancel(ctx), v, d.Notice))
}

// together is several refusals as one; it waits for whoever wants the longest rest.
func together(waiting []error) error {
	all := errors.Join(waiting...)
	rest := 0.0
	for _, err := range waiting {
		if l, ok := errors.AsType[*LaterError](err); ok {
			rest = max(rest, l.AfterS)
		}
	}
	if rest == 0 {
		return all
	}
	return &LaterError{AfterS: rest, Err: all}
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
			} else {
				err = fmt.Errorf("%w: %w", ErrUnfit, err)
			}
			sort(err)
			// The page of whoever gave it says no longer that they are told, and asks again.
			if errors.Is(err, ErrGone) || errors.Is(err, ErrUnfit) {
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
	n := Notice{ID: string(d.Notice.ID), Studio: d.Studio.Name, Language: d.Language, Link: t.o.Address + "/week"}
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
