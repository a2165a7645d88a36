package studio

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"strings"
)

const hearingSchema = "antiphon.hearing/"

// BeginHearing takes a waiting take into hand. A take that was being heard when the machine stopped
// is begun again.
func (d *Desk) BeginHearing(ctx context.Context, v Viewer, id TakeID) (Take, Media, error) {
	if err := v.must("Hearing is the program's own work.", Ear); err != nil {
		return Take{}, Media{}, err
	}
	var t Take
	var m Media
	err := d.store.Within(ctx, func(tx Records) (err error) {
		if t, err = tx.Take(ctx, v.scope(), id); err != nil {
			return err
		}
		if m, err = mediaOf(ctx, tx, v.scope(), id, Original); err != nil {
			return err
		}
		t.State, t.Why = BeingHeard, ""
		return tx.MoveTake(ctx, t, Waiting, BeingHeard)
	})
	if err != nil {
		return Take{}, Media{}, problemOf(err)
	}
	return t, m, nil
}

func mediaOf(ctx context.Context, r Records, in Scope, id TakeID, kind MediaKind) (Media, error) {
	ms, err := r.Media(ctx, in, id)
	if err != nil {
		return Media{}, err
	}
	for _, m := range ms {
		if m.Kind == kind {
			return m, nil
		}
	}
	return Media{}, ErrNotFound
}

// KeepHearing keeps what the ear measured, as the contract it came in. Doc is the whole JSON document.
func (d *Desk) KeepHearing(ctx context.Context, v Viewer, id TakeID, doc []byte) (Hearing, error) {
	if err := v.must("Hearing is the program's own work.", Ear); err != nil {
		return Hearing{}, err
	}
	var head struct {
		Schema string `json:"schema"`
	}
	if err := json.Unmarshal(doc, &head); err != nil {
		return Hearing{}, &Problem{Invalid, "This is no hearing.", err}
	}
	if !strings.HasPrefix(head.Schema, hearingSchema) {
		return Hearing{}, invalid("This is no hearing: its schema is %q.", head.Schema)
	}
	var small bytes.Buffer
	if err := json.Compact(&small, doc); err != nil {
		return Hearing{}, &Problem{Invalid, "This is no hearing.", err}
	}
	hid, err := NewID[HearingID](d.o.Rand)
	if err != nil {
		return Hearing{}, problemOf(err)
	}
	var h Hearing
	err = d.store.Within(ctx, func(tx Records) error {
		t, err := tx.Take(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		h = Hearing{ID: hid, Studio: t.Studio, Family: t.Family, Take: t.ID, Schema: head.Schema, JSON: small.Bytes(), Heard: d.now()}
		if err := tx.AddHearing(ctx, h); err != nil {
			return err
		}
		t.State, t.Why = Ready, ""
		return tx.MoveTake(ctx, t, BeingHeard)
	})
	if err != nil {
		return Hearing{}, problemOf(err)
	}
	return h, nil
}

// SetAside says why the ear could do nothing with a take. The take stays.
func (d *Desk) SetAside(ctx context.Context, v Viewer, id TakeID, why string) error {
	if err := v.must("Hearing is the program's own work.", Ear); err != nil {
		return err
	}
	if why = tidy(why); why == "" {
		return invalid("A take that needs a look needs a reason.")
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		t, err := tx.Take(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		t.State, t.Why = NeedsALook, why
		return tx.MoveTake(ctx, t, Waiting, BeingHeard)
	}))
}

// HearAgain sends a take to the ear once more, after a correction or with another score.
func (d *Desk) HearAgain(ctx context.Context, v Viewer, id TakeID) error {
	if err := v.must("Only the teacher has a take heard again.", Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		t, err := tx.Take(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		t.State, t.Why = Waiting, ""
		if err := tx.MoveTake(ctx, t, Ready, NeedsALook); err != nil {
			return err
		}
		return d.jobs.Enqueue(ctx, tx, Job{Kind: JobHear, Studio: t.Studio, Take: id})
	}))
}

// Listen opens one file of a take, or of a remark on it, for a person, and writes it into the child's
// access log first.
func (d *Desk) Listen(ctx context.Context, v Viewer, id MediaID) (Media, io.ReadSeekCloser, error) {
	var m Media
	err := d.store.Within(ctx, func(tx Records) (err error) {
		if m, err = tx.MediaByID(ctx, v.scope(), id); err != nil {
			return err
		}
		t, err := tx.Take(ctx, v.scope(), m.Take)
		if err != nil {
			return err
		}
		return d.log(ctx, tx, v, t, "played")
	})
	if err != nil {
		return Media{}, nil, problemOf(err)
	}
	f, err := d.blobs.Open(ctx, m.Key())
	if err != nil {
		return Media{}, nil, problemOf(err)
	}
	return m, f, nil
}

func (d *Desk) log(ctx context.Context, tx Records, v Viewer, t Take, what string) error {
	return tx.LogAccess(ctx, Access{Studio: t.Studio, Family: t.Family, Student: t.Student, Take: t.ID,
		By: v.Person, Role: v.Role, What: what, At: d.now()})
}
