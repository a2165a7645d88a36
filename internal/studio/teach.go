package studio

import "context"

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
			if _, err := tx.Work(ctx, v.Studio, a.Work); err != nil {
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
