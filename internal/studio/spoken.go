package studio

import (
	"context"
	"io"
	"slices"
	"strings"
)

// Unclean lists what people recorded to say something and still tells of place and device: remarks,
// answers, recordings to hear and voice notes.
func (d *Desk) Unclean(ctx context.Context, v Viewer) ([]Media, error) {
	if err := v.must(itsTheEars, Ear); err != nil {
		return nil, err
	}
	l, err := d.store.Unclean(ctx, v.Studio)
	return l, problemOf(err)
}

// ReplaceSpoken keeps one of these without what it told of place and device, instead of old.
func (d *Desk) ReplaceSpoken(ctx context.Context, v Viewer, old Media, mediaType string, body io.Reader) (Media, error) {
	if err := v.must(itsTheEars, Ear); err != nil {
		return Media{}, err
	}
	m, err := d.store.MediaByID(ctx, v.scope(), old.ID)
	if err == nil && !m.Kind.told() {
		err = ErrNotFound
	}
	if err != nil {
		return Media{}, problemOf(err)
	}
	m.ID, m.Type = "", mediaType
	return d.putMedia(ctx, v, m, body, func(tx Records, m Media) (Media, error) {
		// Whoever names it first: who takes that back holds it too.
		if err := d.renamed(ctx, tx, m, old.ID, m.ID); err != nil {
			return Media{}, err
		}
		return tx.MediaByID(ctx, v.scope(), old.ID)
	})
}

// renamed gives what names a file another one, "" for none. A recording to hear is found by its assignment.
func (d *Desk) renamed(ctx context.Context, tx Records, m Media, from, to MediaID) error {
	in := OneFamily(m.Studio, m.Family)
	switch m.Kind {
	case Spoken:
		return tx.Respeak(ctx, in, m.Take, from, to)
	case ItemAnswer:
		if err := tx.Reanswer(ctx, in, m.Lesson, from, to); err != nil || to != "" {
			return err
		}
		return d.unfilm(ctx, tx, Lesson{ID: m.Lesson, Studio: m.Studio, Family: m.Family}) // Torn tells the teacher
	case Voice:
		return tx.ResayTap(ctx, in, from, to)
	}
	return nil
}

// spokenLost goes into a remark whose recording nobody can play.
const spokenLost = "(What was recorded with this remark was damaged and could not be kept.)"

// LoseSpoken removes what was said and cannot be played. In a remark, a tap and a lesson it says so.
func (d *Desk) LoseSpoken(ctx context.Context, v Viewer, m Media) error {
	if err := v.must(itsTheEars, Ear); err != nil {
		return err
	}
	if m.Kind != Spoken {
		return d.loseSaid(ctx, v, m.ID)
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

// loseSaid is LoseSpoken of what is no remark.
func (d *Desk) loseSaid(ctx context.Context, v Viewer, id MediaID) error {
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		m, err := tx.MediaByID(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		if !m.Kind.told() || m.Kind == Spoken {
			return ErrNotFound
		}
		if err := d.renamed(ctx, tx, m, id, ""); err != nil {
			return err
		}
		if err := d.drop(ctx, tx, m); err != nil {
			return err
		}
		return d.jobs.Enqueue(ctx, tx, Job{Kind: JobSweep, Studio: m.Studio})
	}))
}
