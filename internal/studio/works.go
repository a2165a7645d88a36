package studio

import "context"

const itsTheLibrary = "The library is the teacher's."

// AddWork puts a work into the library.
func (d *Desk) AddWork(ctx context.Context, v Viewer, w Work) (Work, error) {
	if err := v.must(itsTheLibrary, Teacher); err != nil {
		return Work{}, err
	}
	if w.Title = named(w.Title, longestTitle); w.Title == "" {
		return Work{}, invalid("A work needs a title.")
	}
	var err error
	if w.ID, err = NewID[WorkID](d.o.Rand); err != nil {
		return Work{}, problemOf(err)
	}
	w.Studio, w.Composer, w.Added = v.Studio, named(w.Composer, longestTitle), d.now()
	if err := d.store.Within(ctx, func(tx Records) error { return tx.AddWork(ctx, w) }); err != nil {
		return Work{}, problemOf(err)
	}
	return w, nil
}

// ReviseWork keeps a work anew: another title, score or note on rights. The score that stood there is kept beside it.
func (d *Desk) ReviseWork(ctx context.Context, v Viewer, w Work) error {
	if err := v.must(itsTheLibrary, Teacher); err != nil {
		return err
	}
	if w.Title = named(w.Title, longestTitle); w.Title == "" {
		return invalid("A work needs a title.")
	}
	if w.Own != "" {
		return invalid("These are the fingers of one child. They do not go into the score that everybody has.")
	}
	w.Studio, w.Composer = v.Studio, named(w.Composer, longestTitle)
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		now, err := tx.HoldWork(ctx, v.Studio, w.ID)
		if err != nil {
			return err
		}
		return d.revise(ctx, tx, now, w)
	}))
}

// DescribeWork keeps title, composer and rights of a work anew, and leaves its score as it is by then.
func (d *Desk) DescribeWork(ctx context.Context, v Viewer, w Work) error {
	if err := v.must(itsTheLibrary, Teacher); err != nil {
		return err
	}
	if w.Title = named(w.Title, longestTitle); w.Title == "" {
		return invalid("A work needs a title.")
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		now, err := tx.HoldWork(ctx, v.Studio, w.ID)
		if err != nil {
			return err
		}
		now.Title, now.Composer, now.Rights = w.Title, named(w.Composer, longestTitle), w.Rights
		return tx.PutWork(ctx, now)
	}))
}

// Works lists the library without its scores.
func (d *Desk) Works(ctx context.Context, v Viewer) ([]Work, error) {
	if err := v.must(itsTheLibrary, Teacher, Ear); err != nil {
		return nil, err
	}
	l, err := d.store.Works(ctx, v.Studio)
	return l, problemOf(err)
}

// Work is one work with its score; for a family only one that it was asked to play.
func (d *Desk) Work(ctx context.Context, v Viewer, id WorkID) (Work, error) {
	if v.Role == Coach || v.scope() == (Scope{}) {
		asked, err := d.store.WorkAsked(ctx, v.scope(), id)
		if err == nil && !asked {
			err = ErrNotFound
		}
		if err != nil {
			return Work{}, problemOf(err)
		}
	}
	w, err := d.store.Work(ctx, v.Studio, id)
	return w, problemOf(err)
}

// Collections lists the shelves by name.
func (d *Desk) Collections(ctx context.Context, v Viewer) ([]Collection, error) {
	if err := v.must(itsTheLibrary, Teacher); err != nil {
		return nil, err
	}
	l, err := d.store.Collections(ctx, v.Studio)
	return l, problemOf(err)
}

// Passages of a work that have a name.
func (d *Desk) Passages(ctx context.Context, v Viewer, w WorkID) ([]Passage, error) {
	if err := v.must(itsTheLibrary, Teacher); err != nil {
		return nil, err
	}
	l, err := d.store.Passages(ctx, v.Studio, w)
	return l, problemOf(err)
}

// AddPassage names a stretch of a work. Bars are the score's own; "" is its beginning or end.
func (d *Desk) AddPassage(ctx context.Context, v Viewer, p Passage) (Passage, error) {
	if err := v.must(itsTheLibrary, Teacher); err != nil {
		return Passage{}, err
	}
	p.Studio, p.Name, p.FromBar, p.ToBar = v.Studio, named(p.Name, longestTitle), tidy(p.FromBar), tidy(p.ToBar)
	if p.Name == "" {
		return Passage{}, invalid("A passage needs a name, such as middle part.")
	}
	var err error
	if p.ID, err = NewID[PassageID](d.o.Rand); err != nil {
		return Passage{}, problemOf(err)
	}
	if err := d.store.AddPassage(ctx, p); err != nil {
		return Passage{}, problemOf(err)
	}
	return p, nil
}

func (d *Desk) RemovePassage(ctx context.Context, v Viewer, id PassageID) error {
	if err := v.must(itsTheLibrary, Teacher); err != nil {
		return err
	}
	return problemOf(d.store.RemovePassage(ctx, v.Studio, id))
}

// Shelve keeps a collection: its works in order, each with what must be known before it.
func (d *Desk) Shelve(ctx context.Context, v Viewer, c Collection) (Collection, error) {
	if err := v.must(itsTheLibrary, Teacher); err != nil {
		return Collection{}, err
	}
	c.Studio = v.Studio
	if c.Name = named(c.Name, longestTitle); c.Name == "" {
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
