package studio

import (
	"context"
	"io"
	"slices"
	"strings"
)

// Unclean lists the recorded remarks that still tell of place and device.
func (d *Desk) Unclean(ctx context.Context, v Viewer) ([]Media, error) {
	if err := v.must(itsTheEars, Ear); err != nil {
		return nil, err
	}
	l, err := d.store.Unclean(ctx, v.Studio)
	return l, problemOf(err)
}

// ReplaceSpoken keeps what was said in a remark without what it told of place and device, instead of old.
func (d *Desk) ReplaceSpoken(ctx context.Context, v Viewer, old Media, mediaType string, body io.Reader) (Media, error) {
	return d.putMedia(ctx, v, Media{Take: old.Take, Kind: Spoken, Type: mediaType}, body, func(tx Records, m Media) (Media, error) {
		// The remark first: whoever takes it back holds it too.
		if err := tx.Respeak(ctx, v.scope(), old.Take, old.ID, m.ID); err != nil {
			return Media{}, err
		}
		return tx.MediaByID(ctx, v.scope(), old.ID)
	})
}

// spokenLost goes into a remark whose recording nobody can play.
const spokenLost = "(What was recorded with this remark was damaged and could not be kept.)"

// LoseSpoken removes what was said in a remark and cannot be played, and says so in the remark.
func (d *Desk) LoseSpoken(ctx context.Context, v Viewer, m Media) error {
	if err := v.must(itsTheEars, Ear); err != nil {
		return err
	}
	said, err := d.store.Remarks(ctx, v.scope(), m.Take)
	if err != nil {
		return problemOf(err)
	}
	at := slices.IndexFunc(said, func(r Remark) bool { return r.Media == m.ID })
	if at < 0 {
		return problemOf(ErrNotFound)
	}
	id := said[at].ID
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		if err := tx.Respeak(ctx, v.scope(), m.Take, m.ID, ""); err != nil {
			return err
		}
		r, err := tx.Remark(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		r.Text = strings.TrimSpace(r.Text + "\n" + spokenLost)
		if err := tx.PutRemark(ctx, r); err != nil {
			return err
		}
		if err := d.drop(ctx, tx, Media{ID: m.ID, Studio: r.Studio, Family: r.Family}); err != nil {
			return err
		}
		return d.jobs.Enqueue(ctx, tx, Job{Kind: JobSweep, Studio: r.Studio})
	}))
}
