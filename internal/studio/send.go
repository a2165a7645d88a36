package studio

import (
	"context"
	"errors"
	"time"
)

// JobSend sends what is due: the lessons whose hour has come.
const JobSend JobKind = "send-lesson"

// UnsendFor is how long a lesson that was sent can be taken back. Nobody is told of it before that is over.
const UnsendFor = 10 * time.Minute

// furthestHour is how far ahead an hour of sending may lie.
const furthestHour = 60 * 24 * time.Hour

// SendLesson makes a draft the family's. It is not changed any more, and every take, question, voice note and
// hurt of the student that came is answered with it. For UnsendFor it can be taken back.
func (d *Desk) SendLesson(ctx context.Context, v Viewer, id LessonID, version int) error {
	if err := v.must(itsTheLessons, Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		l, err := tx.Lesson(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		l.Version = version
		return d.send(ctx, tx, l, d.now())
	}))
}

// send makes a draft, as it was read, the family's. What came until the teacher had it in hand is answered with it.
func (d *Desk) send(ctx context.Context, tx Records, l Lesson, until time.Time) error {
	if err := d.fit(ctx, tx, l); err != nil {
		return err
	}
	if err := settleWays(ctx, tx, &l); err != nil {
		return err
	}
	now, in := d.now(), OneFamily(l.Studio, l.Family)
	for _, do := range []func() error{
		func() error { return tx.SendLesson(ctx, in, l.ID, l.Version, now) },
		func() error { return tx.AnswerTakes(ctx, in, l.Student, "", until, now) },
		func() error { return tx.AnswerTaps(ctx, in, l.Student, until, now) },
		func() error { return d.sortOut(ctx, tx, l) },
		func() error { return d.cut(ctx, tx, l) },
		func() error { return d.film(ctx, tx, l) },
		func() error {
			return d.notify(ctx, tx, l.Studio, ofFamily(l.Family), OfLesson, string(l.ID), now.Add(UnsendFor))
		},
	} {
		if err := do(); err != nil {
			return err
		}
	}
	return nil
}

// fit refuses a lesson that must not go out: half written, or naming what is not there any more.
func (d *Desk) fit(ctx context.Context, tx Records, l Lesson) error {
	if err := l.ready(); err != nil {
		return err
	}
	s, err := tx.Student(ctx, OneFamily(l.Studio, l.Family), l.Student)
	if err != nil {
		return err
	}
	for _, a := range l.Assignments {
		if err := d.allThere(ctx, tx, s, a); err != nil {
			return err
		}
	}
	return nil
}

func emptyLesson() *Problem {
	return invalid("This lesson is empty. Say something or ask for something, then send it.")
}

// cut has the clips of a lesson cut that are not cut yet.
func (d *Desk) cut(ctx context.Context, tx Records, l Lesson) error {
	if len(l.uncut()) == 0 {
		return nil
	}
	return d.jobs.Enqueue(ctx, tx, Job{Kind: JobClip, Studio: l.Studio, Lesson: l.ID})
}

// SendLater sets the hour at which a draft goes out by itself. What is saved in it until then goes with it.
func (d *Desk) SendLater(ctx context.Context, v Viewer, id LessonID, version int, at time.Time) error {
	if err := v.must(itsTheLessons, Teacher); err != nil {
		return err
	}
	at = at.UTC().Truncate(time.Microsecond)
	switch now := d.now(); {
	case !at.After(now):
		return invalid("This hour is over. Choose a later one, or send the lesson now.")
	case at.Sub(now) > furthestHour:
		return invalid("A lesson can be sent within two months. Choose an earlier day.")
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		l, err := tx.Lesson(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		if err := d.fit(ctx, tx, l); err != nil {
			return err
		}
		if err := tx.SetSending(ctx, v.scope(), id, version, at, d.now()); err != nil {
			return err
		}
		return d.jobs.Enqueue(ctx, tx, Job{Kind: JobSend, Studio: l.Studio, Lesson: l.ID, At: at})
	}))
}

// CancelSending leaves a draft a draft.
func (d *Desk) CancelSending(ctx context.Context, v Viewer, id LessonID) error {
	if err := v.must(itsTheLessons, Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		l, err := tx.Lesson(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		return tx.SetSending(ctx, v.scope(), id, l.Version, time.Time{}, d.now())
	}))
}

// SendDue sends every lesson whose hour has come. What came after its draft was saved last still waits for the teacher, who
// may be asleep: a hurt above all. An hour that was moved or cancelled is not, and what is not fit to go
// out at its hour stays a draft that has missed it. Of is the lesson that asked for this: where its hour is still to come,
// by a clock that runs behind the one that woke us, it is asked for again.
func (d *Desk) SendDue(ctx context.Context, v Viewer, of LessonID) error {
	if err := v.must("Sending at an hour is the program's own work.", Ear); err != nil {
		return err
	}
	due, err := d.store.DueLessons(ctx, v.Studio, d.now())
	if err != nil {
		return problemOf(err)
	}
	var all error
	for _, l := range due {
		err := d.store.Within(ctx, func(tx Records) error {
			l, err := tx.Lesson(ctx, v.scope(), l.ID) // as it is now
			if errors.Is(err, ErrNotFound) {
				return nil // it was dropped meanwhile
			}
			if err != nil || l.SendAt.IsZero() || l.SendAt.After(d.now()) {
				return err
			}
			if p, ok := errors.AsType[*Problem](d.fit(ctx, tx, l)); ok {
				d.o.Log.WarnContext(ctx, "a lesson could not go out at its hour", "lesson", l.ID, "why", p.Say)
				return tx.MissHour(ctx, v.scope(), l.ID)
			}
			return d.send(ctx, tx, l, l.Saved)
		})
		all = errors.Join(all, err)
	}
	return problemOf(errors.Join(all, d.wakeAgain(ctx, v, of)))
}

// wakeAgain asks once more for the hour of a lesson that is still to come.
func (d *Desk) wakeAgain(ctx context.Context, v Viewer, id LessonID) error {
	err := d.store.Within(ctx, func(tx Records) error {
		l, err := tx.Lesson(ctx, v.scope(), id)
		if err != nil || !l.SendAt.After(d.now()) {
			return err
		}
		return d.jobs.Enqueue(ctx, tx, Job{Kind: JobSend, Studio: l.Studio, Lesson: l.ID, At: l.SendAt})
	})
	if errors.Is(err, ErrNotFound) {
		return nil
	}
	return err
}

// TakeBack makes a lesson that was just sent a draft again. What was answered with it waits again.
func (d *Desk) TakeBack(ctx context.Context, v Viewer, id LessonID) (Lesson, error) {
	if err := v.must(itsTheLessons, Teacher); err != nil {
		return Lesson{}, err
	}
	var l Lesson
	err := d.store.Within(ctx, func(tx Records) (err error) {
		if l, err = tx.Lesson(ctx, v.scope(), id); err != nil {
			return err
		}
		switch {
		case l.Sent.IsZero():
			return &Problem{Kind: Conflict, Say: "This lesson is a draft. There is nothing to take back."}
		case d.now().Sub(l.Sent) >= UnsendFor: // at that moment the family is being told
			return &Problem{Kind: Conflict, Say: "The ten minutes are over: the family has been told of this lesson. Say what is to be different in a new one."}
		}
		in := OneFamily(l.Studio, l.Family)
		for _, a := range l.Assignments {
			ts, err := tx.Takes(ctx, in, TakeQuery{Student: l.Student, Assignment: a.ID, Limit: 1})
			if err != nil {
				return err
			}
			if len(ts) > 0 {
				return &Problem{Kind: Conflict, Say: "A recording for this lesson has come already, or a word that something hurt, so it stays sent. Say what is to be different in a new one."}
			}
		}
		if err := tx.UnsendLesson(ctx, in, l.ID, l.Student, l.Sent); err != nil {
			return err
		}
		if err := tx.DropNotices(ctx, in, string(l.ID)); err != nil {
			return err
		}
		l, err = tx.Lesson(ctx, v.scope(), id)
		return err
	})
	if err != nil {
		return Lesson{}, problemOf(err)
	}
	return l, nil
}

// SeeLesson writes down that a family saw a lesson, the first time.
func (d *Desk) SeeLesson(ctx context.Context, v Viewer, id LessonID) error {
	if err := v.must("A lesson is opened by the family.", Coach); err != nil {
		return err
	}
	l, err := d.lessonFor(ctx, v, id)
	if err != nil || !l.Opened.IsZero() {
		return problemOf(err)
	}
	return problemOf(d.store.SeeLesson(ctx, v.scope(), id, d.now()))
}
