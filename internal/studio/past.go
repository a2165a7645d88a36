package studio

import (
	"context"
	"errors"
	"io"
	"time"
)

// Past is a take of earlier times, with what was measured in it then.
type Past struct {
	Announcement
	By      PersonID // who sent it
	Arrived time.Time
	Heard   Heard
}

// Recall enters a take of earlier times as it was heard then: ready, and without its recording, which
// may follow with Follow or never. It is kept as long as any take from its arrival on.
func (d *Desk) Recall(ctx context.Context, v Viewer, p Past) (Take, error) {
	if err := v.must(itsTheEars, Ear); err != nil {
		return Take{}, err
	}
	if now := d.now(); p.Arrived.IsZero() || p.Arrived.After(now) {
		return Take{}, invalid("A take of earlier times arrived before now.")
	}
	h, err := d.hearing(p.Heard.Doc)
	if err != nil {
		return Take{}, problemOf(err)
	}
	h.Heard = p.Arrived
	var t Take
	err = d.store.Within(ctx, func(tx Records) error {
		s, err := tx.Student(ctx, v.scope(), p.Student)
		if err != nil {
			return err
		}
		if t, err = d.announce(ctx, tx, v, s, p.Announcement); err != nil {
			return err
		}
		t.By, t.Announced, t.Arrived, t.State, t.Bytes = p.By, p.Arrived, p.Arrived, Ready, 0
		if t.KeepUntil, err = d.keepUntil(ctx, tx, t, t.Arrived); err != nil {
			return err
		}
		p.Heard.SoundsLike, p.Heard.SameAs, p.Heard.Turn = nil, "", 0
		t.Concerns, t.DurationS, t.Summary = p.Heard.Concerns, p.Heard.DurationS, &p.Heard.Summary
		if err := tx.AddTake(ctx, t); err != nil {
			return err
		}
		return keep(ctx, tx, &h, &t, p.Heard)
	})
	if err != nil {
		return Take{}, problemOf(err)
	}
	return t, nil
}

// Follow brings the recording of a recalled take, without place and device, and has made of it what
// pages play. A take that has its recording is left alone.
func (d *Desk) Follow(ctx context.Context, v Viewer, id TakeID, mediaType string, body io.Reader) error {
	if err := v.must(itsTheEars, Ear); err != nil {
		return err
	}
	t, err := d.store.Take(ctx, v.scope(), id)
	if err != nil {
		return problemOf(err)
	}
	m, err := d.keepOriginal(ctx, t, mediaType, body)
	if err != nil {
		return problemOf(err)
	}
	m.Clean = true
	err = d.store.Within(ctx, func(tx Records) error {
		if t.State != Ready || m.Bytes == 0 {
			return ErrConflict
		}
		switch _, err := mediaOf(ctx, tx, v.scope(), id, Original); {
		case err == nil:
			return ErrConflict
		case !errors.Is(err, ErrNotFound):
			return err
		}
		if err := tx.AddMedia(ctx, m); err != nil {
			return err
		}
		return d.jobs.Enqueue(ctx, tx, Job{Kind: JobRender, Studio: t.Studio, Take: id})
	})
	if err != nil {
		return problemOf(errors.Join(err, d.dropStray(context.WithoutCancel(ctx), m)))
	}
	return nil
}
