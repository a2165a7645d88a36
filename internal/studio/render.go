package studio

import "context"

// JobRender makes what pages play and draw of Take. The teacher does not wait for it.
const JobRender JobKind = "render"

// AskForRenditions hands the making of what pages play and draw on.
func (d *Desk) AskForRenditions(ctx context.Context, v Viewer, id TakeID) error {
	if err := v.must(itsTheEars, Ear); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		t, err := tx.Take(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		return d.jobs.Enqueue(ctx, tx, Job{Kind: JobRender, Studio: t.Studio, Take: t.ID})
	}))
}

// Files lists the files of a take for the program's own work. It is in nobody's log.
func (d *Desk) Files(ctx context.Context, v Viewer, id TakeID) ([]Media, error) {
	if err := v.must(itsTheEars, Ear); err != nil {
		return nil, err
	}
	if _, err := d.store.Take(ctx, v.scope(), id); err != nil {
		return nil, problemOf(err)
	}
	ms, err := d.store.Media(ctx, v.scope(), id)
	return ms, problemOf(err)
}
