package studio

import (
	"context"
	"encoding/json"
	"io"
	"time"
)

const longestCorrection = 20_000 // bytes

// Correct keeps where the teacher knew better than a hearing. The hearing stays as it was measured.
func (d *Desk) Correct(ctx context.Context, v Viewer, id TakeID, of HearingID, kind string, what json.RawMessage) (Correction, error) {
	if err := v.must("Only the teacher corrects the ear.", Teacher); err != nil {
		return Correction{}, err
	}
	if kind = tidy(kind); kind == "" || !json.Valid(what) || len(what) > longestCorrection {
		return Correction{}, invalid("A correction says what kind it is, where, and what was meant.")
	}
	cid, err := NewID[CorrectionID](d.o.Rand)
	if err != nil {
		return Correction{}, problemOf(err)
	}
	var c Correction
	err = d.store.Within(ctx, func(tx Records) error {
		t, err := tx.Take(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		hs, err := tx.Hearings(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		for _, h := range hs {
			if h.ID == of {
				c = Correction{ID: cid, Studio: t.Studio, Family: t.Family, Take: id, Hearing: of, By: v.Person, Kind: kind, What: what, Made: d.now()}
				return tx.AddCorrection(ctx, c)
			}
		}
		return ErrNotFound
	})
	if err != nil {
		return Correction{}, problemOf(err)
	}
	return c, nil
}

// Uncorrect removes a correction that was a slip.
func (d *Desk) Uncorrect(ctx context.Context, v Viewer, id CorrectionID) error {
	if err := v.must("Only the teacher corrects the ear.", Teacher); err != nil {
		return err
	}
	return problemOf(d.store.RemoveCorrection(ctx, v.scope(), id))
}

// corrected is one line of what is exported to improve the ear. It names no child, family or file.
type corrected struct {
	Kind    string          `json:"kind"`
	What    json.RawMessage `json:"what"`
	Made    string          `json:"made"` // the day
	Work    string          `json:"work,omitzero"`
	Hearing json.RawMessage `json:"hearing"` // that was corrected, without the file's name
}

// ExportCorrections writes every correction as one line of JSON, beside the hearing that it corrects.
func (d *Desk) ExportCorrections(ctx context.Context, v Viewer, w io.Writer) error {
	if err := v.must("Only the teacher exports corrections.", Teacher); err != nil {
		return err
	}
	in := v.scope()
	cs, err := d.store.Corrections(ctx, in, "")
	if err != nil {
		return problemOf(err)
	}
	ws, err := d.store.Works(ctx, v.Studio)
	if err != nil {
		return problemOf(err)
	}
	title := map[WorkID]string{}
	for _, x := range ws {
		title[x.ID] = x.Title
	}
	enc := json.NewEncoder(w)
	for _, c := range cs {
		line := corrected{Kind: c.Kind, What: c.What, Made: c.Made.Format(time.DateOnly)}
		t, err := d.store.Take(ctx, in, c.Take)
		if err != nil {
			return problemOf(err)
		}
		line.Work = title[t.Work]
		hs, err := d.store.Hearings(ctx, in, c.Take)
		if err != nil {
			return problemOf(err)
		}
		for _, h := range hs {
			if h.ID == c.Hearing {
				if line.Hearing, err = withoutFile(h.JSON); err != nil {
					return problemOf(err)
				}
			}
		}
		if err := enc.Encode(line); err != nil {
			return problemOf(err)
		}
	}
	return nil
}

// withoutFile is a hearing that does not say what its file was called: people call files after children.
func withoutFile(doc json.RawMessage) (json.RawMessage, error) {
	var h map[string]json.RawMessage
	if err := json.Unmarshal(doc, &h); err != nil {
		return nil, err
	}
	if h["take"] == nil {
		return doc, nil
	}
	var take map[string]json.RawMessage
	if err := json.Unmarshal(h["take"], &take); err != nil {
		return nil, err
	}
	delete(take, "file")
	var err error
	if h["take"], err = json.Marshal(take); err != nil {
		return nil, err
	}
	return json.Marshal(h)
}
