package studio

import (
	"context"
	"errors"
)

// SaveDraft keeps a lesson as it is being written. Version is the one that was read: two windows
// with the same draft do not overwrite each other, the second is told.
func (d *Desk) SaveDraft(ctx context.Context, v Viewer, l Lesson) (Lesson, error) {
	if err := v.must(itsTheLessons, Teacher); err != nil {
		return Lesson{}, err
	}
	l, err := l.checked()
	if err != nil {
		return Lesson{}, err
	}
	if l.ID == "" {
		if l.ID, err = NewID[LessonID](d.o.Rand); err != nil {
			return Lesson{}, problemOf(err)
		}
	}
	as := make([]Assignment, len(l.Assignments))
	for i, a := range l.Assignments {
		if a.ID == "" {
			if a.ID, err = NewID[AssignmentID](d.o.Rand); err != nil {
				return Lesson{}, problemOf(err)
			}
		}
		as[i] = a
	}
	l.Assignments, l.Studio, l.Saved = as, v.Studio, d.now()
	err = d.store.Within(ctx, func(tx Records) error {
		s, err := tx.Student(ctx, v.scope(), l.Student)
		if err != nil {
			return err
		}
		l.Family = s.Family
		for _, a := range l.Assignments {
			// A take that was deleted meanwhile does not hold up what is being written.
			if err := d.allThere(ctx, tx, s, a); err != nil && !errors.Is(err, errTakeGone) {
				return err
			}
		}
		if err := tx.PutLesson(ctx, l); err != nil {
			return err
		}
		kept, err := tx.Lesson(ctx, v.scope(), l.ID)
		if err != nil {
			return err
		}
		l.Assignments, l.SendAt = kept.Assignments, kept.SendAt
		return d.cut(ctx, tx, kept)
	})
	if err != nil {
		return Lesson{}, problemOf(err)
	}
	l.Version++
	return l, nil
}

// DropDraft forgets a lesson that was not sent, with what was recorded for it.
func (d *Desk) DropDraft(ctx context.Context, v Viewer, id LessonID) error {
	if err := v.must(itsTheLessons, Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		ms, err := tx.MediaOfLesson(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		if err := tx.RemoveDraft(ctx, v.scope(), id); err != nil {
			return err
		}
		for _, m := range ms { // the rows went with the lesson
			if err := tx.Doom(ctx, Doomed{m.Studio, m.Family, m.ID}); err != nil {
				return err
			}
		}
		if len(ms) == 0 {
			return nil
		}
		return d.jobs.Enqueue(ctx, tx, Job{Kind: JobSweep, Studio: v.Studio})
	}))
}

// errTakeGone is a take that an assignment plays and that is not there.
var errTakeGone = errors.New("a take to be heard is gone")

// allThere refuses an assignment that names what is not there, or is not this student's.
func (d *Desk) allThere(ctx context.Context, tx Records, s Student, a Assignment) error {
	for _, w := range []WorkID{a.Work, a.For} {
		if w == "" {
			continue
		}
		if _, err := tx.Work(ctx, s.Studio, w); err != nil {
			return err
		}
	}
	for _, way := range a.Ways {
		if way.Own == "" || way.Own == AsEverybody {
			continue
		}
		f, err := tx.Fingering(ctx, OneFamily(s.Studio, s.Family), way.Own)
		if err == nil && (f.Student != s.ID || f.Work != a.Work) {
			err = ErrNotFound
		}
		if err != nil {
			return err
		}
	}
	shelf := OneFamily(s.Studio, Shelf(s.Studio))
	var gone error // told last: what must not be kept comes first
	if a.Model != "" {
		t, err := tx.Take(ctx, WholeStudio(s.Studio), a.Model)
		switch {
		case err == nil && !t.Model():
			return ErrNotFound
		case err != nil && !errors.Is(err, ErrNotFound):
			return err
		case err != nil:
			gone = &Problem{Kind: Invalid, Say: "The take of yours that is to be heard is not here any more. Choose another one, or leave it out.", Err: errTakeGone}
		}
	}
	for _, c := range a.Clips() {
		t, err := tx.Take(ctx, OneFamily(s.Studio, s.Family), c.Take)
		if errors.Is(err, ErrNotFound) {
			t, err = tx.Take(ctx, shelf, c.Take)
		}
		switch {
		case errors.Is(err, ErrNotFound):
			gone = &Problem{Kind: Invalid, Say: "The take of a clip is not here any more. Choose another one, or leave the clip out.", Err: errTakeGone}
		case err != nil:
			return err
		case !t.Model() && t.Student != s.ID:
			return invalid("This clip is another child’s. It is heard by that child only.")
		}
	}
	return gone
}
