package studio

import "context"

// AddWork puts a work into the library.
func (d *Desk) AddWork(ctx context.Context, v Viewer, w Work) (Work, error) {
	if err := v.must("The library is the teacher's.", Teacher); err != nil {
		return Work{}, err
	}
	if w.Title = tidy(w.Title); w.Title == "" {
		return Work{}, invalid("A work needs a title.")
	}
	var err error
	if w.ID, err = NewID[WorkID](d.o.Rand); err != nil {
		return Work{}, problemOf(err)
	}
	w.Studio, w.Composer, w.Added = v.Studio, tidy(w.Composer), d.now()
	if err := d.store.AddWork(ctx, w); err != nil {
		return Work{}, problemOf(err)
	}
	return w, nil
}

// Shelve keeps a collection: its works in order, each with what must be known before it.
func (d *Desk) Shelve(ctx context.Context, v Viewer, c Collection) (Collection, error) {
	if err := v.must("The library is the teacher's.", Teacher); err != nil {
		return Collection{}, err
	}
	c.Studio = v.Studio
	if c.Name = tidy(c.Name); c.Name == "" {
		return Collection{}, invalid("A collection needs a name.")
	}
	earlier := map[WorkID]bool{}
	for i, it := range c.Items {
		if earlier[it.Work] {
			return Collection{}, invalid("Work %d of %s stands there twice.", i+1, c.Name)
		}
		for _, a := range it.After {
			if !earlier[a] {
				return Collection{}, invalid("Work %d of %s comes after one that does not stand before it.", i+1, c.Name)
			}
		}
		earlier[it.Work] = true
	}
	if c.ID == "" {
		var err error
		if c.ID, err = NewID[CollectionID](d.o.Rand); err != nil {
			return Collection{}, problemOf(err)
		}
	}
	err := d.store.Within(ctx, func(tx Records) error { return tx.PutCollection(ctx, c) })
	if err != nil {
		return Collection{}, problemOf(err)
	}
	return c, nil
}

// SaveDraft keeps a lesson as it is being written. Version is the one that was read: two windows
// with the same draft do not overwrite each other, the second is told.
func (d *Desk) SaveDraft(ctx context.Context, v Viewer, l Lesson) (Lesson, error) {
	if err := v.must("Lessons are the teacher's.", Teacher); err != nil {
		return Lesson{}, err
	}
	var err error
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
		return tx.PutLesson(ctx, l)
	})
	if err != nil {
		return Lesson{}, problemOf(err)
	}
	l.Version++
	return l, nil
}

// SendLesson makes a draft the family's. It is not changed any more.
func (d *Desk) SendLesson(ctx context.Context, v Viewer, id LessonID, version int) error {
	if err := v.must("Lessons are the teacher's.", Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		return tx.SendLesson(ctx, v.scope(), id, version, d.now())
	}))
}

// Lessons lists a family's sent lessons, or for the teacher all, drafts too.
func (d *Desk) Lessons(ctx context.Context, v Viewer) ([]Lesson, error) {
	l, err := d.store.Lessons(ctx, v.scope(), v.Role == Teacher)
	return l, problemOf(err)
}
