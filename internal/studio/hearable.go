package studio

import (
	"context"
	"errors"
)

// Hearable tells what a file is that v may hear now, for a page that offers it: nothing is opened, and nothing is
// written into a log. NotFound where it is not for v; Conflict while it is still being prepared.
func (d *Desk) Hearable(ctx context.Context, v Viewer, id MediaID) (Media, error) {
	in := v.scope()
	m, err := d.store.MediaByID(ctx, in, id)
	if errors.Is(err, ErrNotFound) && v.Role == Coach && in != (Scope{}) {
		in = OneFamily(v.Studio, Shelf(v.Studio))
		m, err = d.store.MediaByID(ctx, in, id)
	}
	return d.hearable(ctx, v, in, m, err)
}

// HearableTake is Hearable for what is played of a take: the child's own, or the teacher's where it was asked to be heard.
func (d *Desk) HearableTake(ctx context.Context, v Viewer, id TakeID) (Media, error) {
	in := v.scope()
	m, err := mediaOf(ctx, d.store, in, id, Playable)
	if errors.Is(err, ErrNotFound) && v.Role == Coach && in != (Scope{}) {
		in = OneFamily(v.Studio, Shelf(v.Studio))
		m, err = mediaOf(ctx, d.store, in, id, Playable)
	}
	return d.hearable(ctx, v, in, m, err)
}

func (d *Desk) hearable(ctx context.Context, v Viewer, in Scope, m Media, err error) (Media, error) {
	if err == nil {
		err = d.mayHear(ctx, v, in, m)
	}
	if err == nil {
		err = d.isClean(ctx, in, m)
	}
	if err != nil {
		return Media{}, problemOf(err)
	}
	return m, nil
}
