package studio

import (
	"context"
	"errors"
	"io"
	"math"
	"slices"
	"strings"
	"time"
)

const (
	mostTaps        = 500 // at once
	longestTap      = 2000
	longestTapID    = 64
	shortestTapID   = 8
	longestTapS     = 4 * 60 * 60
	longestVoice    = 64 << 20 // bytes: half an hour of speech as phones record it
	tapsWithoutDays = 31       // how far back a tap without a lesson may lie
	tapsADay        = 5000     // of a family; three children who practise a lot make some hundred
	hurtsOnDesk     = 20       // of a family that nobody answered; more of them stay in the log
	sameHurt        = 24 * time.Hour
)

var tapKinds = []TapKind{TapDone, TapUndone, TapTry, TapRung, TapHurt, TapQuestion, TapVoice, TapHeard, TapAnswer, TapChose}

const itsTheLog = "What is tapped at home is the family's."

// Tap keeps what was tapped at home. The same id twice is one tap. What a phone's clock says is moved to
// between the lesson and now. One of an assignment that is not there any more is kept without it. A hurt
// also lies on the desk, as Hurts does it; the same words of the same task again do not, for a day.
func (d *Desk) Tap(ctx context.Context, v Viewer, taps []Tap) error {
	if err := v.must(itsTheLog, Coach); err != nil {
		return err
	}
	if len(taps) > mostTaps {
		return invalid("That is more than can be sent at once.")
	}
	checked := make([]Tap, len(taps))
	for i, t := range taps {
		if t.Kind == TapVoice {
			return invalid("A voice note comes with its recording.")
		}
		var err error
		if checked[i], err = t.checked(); err != nil {
			return err
		}
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		if err := d.tapsLeft(ctx, tx, v, len(checked)); err != nil {
			return err
		}
		for i := range checked {
			if _, err := d.tap(ctx, tx, v, &checked[i]); err != nil {
				return err
			}
		}
		return nil
	}))
}

// tapsLeft refuses more than a family can tap in a day.
func (d *Desk) tapsLeft(ctx context.Context, tx Records, v Viewer, n int) error {
	came, err := tx.TapsCame(ctx, v.scope(), d.now().Add(-24*time.Hour))
	if err == nil && came+n > tapsADay {
		return &Problem{Kind: TooMany, Say: "That is more than can be noted in one day. It is kept on the phone and noted tomorrow."}
	}
	return err
}

// checked forgives what a phone may get wrong, and refuses what makes no sense.
func (t Tap) checked() (Tap, error) {
	outside := func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-')
	}
	if len(t.ID) < shortestTapID || len(t.ID) > longestTapID || strings.ContainsFunc(t.ID, outside) || !slices.Contains(tapKinds, t.Kind) {
		return t, invalid("The page sent something that makes no sense. Load it again.")
	}
	if t.Text = strings.TrimSpace(plain(t.Text)); len(t.Text) > longestTap {
		t.Text = strings.ToValidUTF8(t.Text[:longestTap], "")
	}
	if !goalTempo(t.Bpm) {
		t.Bpm = 0
	}
	if !(t.Seconds > 0) || math.IsInf(t.Seconds, 0) {
		t.Seconds = 0
	}
	t.Seconds = min(t.Seconds, longestTapS)
	if t.Kind == TapQuestion && t.Text == "" {
		return t, invalid("A question needs words.")
	}
	return t, nil
}

// tap keeps one in a transaction, and says whether it is new.
func (d *Desk) tap(ctx context.Context, tx Records, v Viewer, t *Tap) (bool, error) {
	s, err := tx.Student(ctx, v.scope(), t.Student)
	if err != nil {
		return false, err
	}
	now := d.now()
	t.Studio, t.Family, t.By, t.Came, t.Answered, t.Right = s.Studio, s.Family, v.Person, now, time.Time{}, false
	earliest := now.AddDate(0, 0, -tapsWithoutDays)
	if t.Assignment != "" {
		a, l, err := tx.Assigned(ctx, v.scope(), s.ID, t.Assignment)
		switch {
		case errors.Is(err, ErrNotFound):
			t.Assignment = ""
		case err != nil:
			return false, err
		default:
			earliest = l.Sent
			t.Right = t.Kind == TapAnswer && a.Question.Answered(t.Text)
		}
	}
	if t.At = t.At.UTC().Truncate(time.Microsecond); t.At.Before(earliest) {
		t.At = earliest
	}
	if t.At.After(now) {
		t.At = now
	}
	if t.KeepUntil, err = d.keepUntil(ctx, tx, Take{Studio: s.Studio, Family: s.Family}, now); err != nil {
		return false, err
	}
	fresh, err := tx.AddTap(ctx, *t)
	if err != nil || !fresh {
		return fresh, err
	}
	switch t.Kind {
	case TapHurt:
		err = d.hurtTapped(ctx, tx, v, s, *t)
	case TapQuestion, TapVoice:
		err = d.notify(ctx, tx, t.Studio, theTeachers, OfQuestion, t.ID, now.Add(bundled))
	}
	return true, err
}

// hurtTapped puts a hurt on the desk, once: two phones of a family tell it twice, and a phone that is stuck a thousand
// times. Each is in the log.
func (d *Desk) hurtTapped(ctx context.Context, tx Records, v Viewer, s Student, t Tap) error {
	open, err := tx.Unanswered(ctx, OneFamily(s.Studio, s.Family))
	if err != nil {
		return err
	}
	lie := 0
	for _, x := range open {
		if !x.Hurt {
			continue
		}
		if lie++; lie >= hurtsOnDesk || x.Student == s.ID && x.Assignment == t.Assignment && x.Note == t.Text && t.Came.Sub(x.Announced) < sameHurt {
			return nil
		}
	}
	_, err = d.hurts(ctx, tx, v, s, t.Assignment, t.Text)
	return err
}

// SayVoice keeps a voice note to the teacher, with what else is known of it in tap. The same id twice is one.
// Nobody hears it before it is clean of what it tells of place and device.
func (d *Desk) SayVoice(ctx context.Context, v Viewer, tap Tap, mediaType string, body io.Reader) error {
	if err := v.must(itsTheLog, Coach); err != nil {
		return err
	}
	tap.Kind = TapVoice
	tap, err := tap.checked()
	if err != nil {
		return err
	}
	if err := Allowed(Student{Media: SoundOnly}, mediaType); err != nil {
		if strings.HasPrefix(mediaType, "video/") {
			return invalid("A voice note is sound only. Record it again without the camera.")
		}
		return err
	}
	if err := d.spare(ctx, 0); err != nil {
		return problemOf(err)
	}
	s, err := d.store.Student(ctx, v.scope(), tap.Student)
	if err != nil {
		return problemOf(err)
	}
	m := Media{Studio: s.Studio, Family: s.Family, Student: s.ID, Kind: Voice, Type: mediaType, Made: d.now()}
	if err := d.keepFile(ctx, &m, body, min(longestVoice, d.o.MaxTakeBytes)); err != nil {
		return problemOf(err)
	}
	tap.Media = m.ID
	var fresh bool
	err = d.store.Within(ctx, func(tx Records) (err error) {
		if m.Bytes == 0 {
			return invalid("Nothing arrived: the recording is empty. Record it again.")
		}
		if err := d.tapsLeft(ctx, tx, v, 1); err != nil {
			return err
		}
		if fresh, err = d.tap(ctx, tx, v, &tap); err != nil || !fresh {
			return err
		}
		if err := d.familyRoom(ctx, tx, v, m); err != nil {
			return err
		}
		if err := tx.AddMedia(ctx, m); err != nil {
			return err
		}
		return d.jobs.Enqueue(ctx, tx, Job{Kind: JobClean, Studio: m.Studio})
	})
	if err != nil || !fresh {
		err = errors.Join(err, d.dropStray(context.WithoutCancel(ctx), m))
	}
	return problemOf(err)
}

// Taps lists what was tapped, the newest first: for the family its own.
func (d *Desk) Taps(ctx context.Context, v Viewer, q TapQuery) ([]Tap, error) {
	q.Limit = page(q.Limit)
	l, err := d.store.Taps(ctx, v.scope(), q)
	return l, problemOf(err)
}

// OneTap is one of them.
func (d *Desk) OneTap(ctx context.Context, v Viewer, s StudentID, id string) (Tap, error) {
	t, err := d.store.Tap(ctx, v.scope(), s, id)
	return t, problemOf(err)
}

// AnswerTap marks a question, a voice note or a hurt as answered.
func (d *Desk) AnswerTap(ctx context.Context, v Viewer, s StudentID, id string) error {
	if err := v.must("Questions are answered by the teacher.", Teacher); err != nil {
		return err
	}
	return problemOf(d.store.AnswerTap(ctx, v.scope(), s, id, d.now()))
}

// forget deletes a tap, with its recording.
func (d *Desk) forget(ctx context.Context, tx Records, t Tap, r *Receipt) error {
	if t.Media != "" {
		if err := d.drop(ctx, tx, Media{ID: t.Media, Studio: t.Studio, Family: t.Family}); err != nil {
			return err
		}
		r.Files++
	}
	return tx.RemoveTap(ctx, OneFamily(t.Studio, t.Family), t.Student, t.ID)
}
