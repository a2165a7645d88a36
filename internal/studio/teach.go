package studio

import (
	"context"
	"errors"
)

// SaveDraft keeps a lesson as it is being written. Version is the one that was read: two windows
// with the same draft do not overwrite each other, the second is told.
func (d *Desk) SaveDraft(ctx context.Context, v Viewer, l Lesson) (Lesson, error) {
	if err := v.must("Lessons are the teacher's.", Teacher); err != nil {
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
			if err := d.allThere(ctx, tx, s, a); err != nil {
				return err
			}
		}
		return tx.PutLesson(ctx, l)
	})
	if err != nil {
		return Lesson{}, problemOf(err)
	}
	l.Version++
	return l, nil
}

// SendLesson makes a draft the family's. It is not changed any more, and every take
// of the student that arrived is answered with it.
func (d *Desk) SendLesson(ctx context.Context, v Viewer, id LessonID, version int) error {
	if err := v.must("Lessons are the teacher's.", Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		now := d.now()
		draft, err := tx.Lesson(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		if draft.Words == "" && len(draft.Assignments) == 0 {
			return invalid("This lesson is empty. Say something or ask for something, then send it.")
		}
		if err := tx.SendLesson(ctx, v.scope(), id, version, now); err != nil {
			return err
		}
		l, err := tx.Lesson(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		return tx.AnswerTakes(ctx, v.scope(), l.Student, "", now)
	}))
}

// DropDraft forgets a lesson that was not sent.
func (d *Desk) DropDraft(ctx context.Context, v Viewer, id LessonID) error {
	if err := v.must("Lessons are the teacher's.", Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error { return tx.RemoveDraft(ctx, v.scope(), id) }))
}

// allThere refuses an assignment that names what is not there, or is not this student's.
func (d *Desk) allThere(ctx context.Context, tx Records, s Student, a Assignment) error {
	if a.Work == "" && a.Ask.NeedsWork() {
		return invalid("Choose what is to be played, or another kind of task.")
	}
	for _, w := range []WorkID{a.Work, a.For} {
		if w == "" {
			continue
		}
		if _, err := tx.Work(ctx, s.Studio, w); err != nil {
			return err
		}
	}
	shelf := OneFamily(s.Studio, Shelf(s.Studio))
	if a.Model != "" {
		if _, err := tx.Take(ctx, shelf, a.Model); err != nil {
			return err
		}
	}
	for _, c := range []Clip{a.Like, a.Unlike, a.Best, a.Last} {
		if c.Take == "" {
			continue
		}
		t, err := tx.Take(ctx, OneFamily(s.Studio, s.Family), c.Take)
		if errors.Is(err, ErrNotFound) {
			t, err = tx.Take(ctx, shelf, c.Take)
		}
		if err == nil && !t.Model() && t.Student != s.ID {
			err = ErrNotFound // a sister's is heard by her only
		}
		if errors.Is(err, ErrNotFound) {
			return invalid("The take of a clip is not here any more. Choose another one, or leave the clip out.")
		}
		if err != nil {
			return err
		}
	}
	return nil
}
