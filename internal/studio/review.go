package studio

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"math"
	"strings"
)

// Review is all that is known about one take.
type Review struct {
	Take        Take
	Media       []Media
	Hearing     *Hearing // the newest; nil while there is none
	Corrections []Correction
	Remarks     []Remark
}

// ReviewTake shows a take to those who may see it, and writes that into the child's access log.
func (d *Desk) ReviewTake(ctx context.Context, v Viewer, id TakeID) (Review, error) {
	var r Review
	err := d.store.Within(ctx, func(tx Records) (err error) {
		in := v.scope()
		if r.Take, err = tx.Take(ctx, in, id); err != nil {
			return err
		}
		if r.Media, err = tx.Media(ctx, in, id); err != nil {
			return err
		}
		hs, err := tx.Hearings(ctx, in, id)
		if err != nil {
			return err
		}
		if len(hs) > 0 {
			r.Hearing = &hs[len(hs)-1]
		}
		if r.Corrections, err = tx.Corrections(ctx, in, id); err != nil {
			return err
		}
		if r.Remarks, err = tx.Remarks(ctx, in, id); err != nil {
			return err
		}
		return d.log(ctx, tx, v, r.Take, "looked")
	})
	if err != nil {
		return Review{}, problemOf(err)
	}
	return r, nil
}

// Takes lists takes that v may see; of one student, or of all with "".
func (d *Desk) Takes(ctx context.Context, v Viewer, s StudentID) ([]Take, error) {
	l, err := d.store.Takes(ctx, v.scope(), s)
	return l, problemOf(err)
}

// Recording is a remark that is said or filmed.
type Recording struct {
	Type string // media type
	Body io.Reader
}

// Remark says something about a place in a take, in writing.
func (d *Desk) Remark(ctx context.Context, v Viewer, id TakeID, at Anchor, text string) (Remark, error) {
	return d.RemarkAloud(ctx, v, id, at, text, Recording{})
}

// RemarkAloud says or films it; the text beside it may be empty then. When it returns nil the recording is safe.
func (d *Desk) RemarkAloud(ctx context.Context, v Viewer, id TakeID, at Anchor, text string, aloud Recording) (Remark, error) {
	if err := v.must("Remarks are the teacher's.", Teacher); err != nil {
		return Remark{}, err
	}
	text = strings.TrimSpace(strings.ToValidUTF8(text, ""))
	switch {
	case text == "" && aloud.Body == nil:
		return Remark{}, invalid("A remark needs words.")
	case strings.ContainsRune(text, 0):
		return Remark{}, invalid("A remark holds a sign that is no letter. Type it again.")
	case math.IsNaN(at.AtS) || math.IsInf(at.AtS, 0) || at.AtS < 0:
		return Remark{}, invalid("A remark needs a moment in the take.")
	case at.Frame != nil && !json.Valid(at.Frame):
		return Remark{}, invalid("The drawing on the frame did not arrive whole. Draw it again.")
	}
	rid, err := NewID[RemarkID](d.o.Rand)
	if err != nil {
		return Remark{}, problemOf(err)
	}
	t, err := d.store.Take(ctx, v.scope(), id)
	if err != nil {
		return Remark{}, problemOf(err)
	}
	r := Remark{ID: rid, Studio: t.Studio, Family: t.Family, Take: t.ID, By: v.Person, Anchor: at, Text: text, Made: d.now()}
	if aloud.Body == nil {
		if err := d.store.AddRemark(ctx, r); err != nil {
			return Remark{}, problemOf(err)
		}
		return r, nil
	}
	if err := allowed(Student{Media: FullVideo}, aloud.Type); err != nil {
		return Remark{}, err
	}
	if r.Media, err = NewID[MediaID](d.o.Rand); err != nil {
		return Remark{}, problemOf(err)
	}
	m := Media{ID: r.Media, Studio: t.Studio, Family: t.Family, Take: t.ID, Kind: Spoken, Type: aloud.Type}
	if m.Bytes, m.SHA256, err = d.blobs.Put(ctx, m.Key(), aloud.Body, d.o.MaxTakeBytes); err != nil {
		return Remark{}, problemOf(err)
	}
	err = d.store.Within(ctx, func(tx Records) error {
		if m.Bytes == 0 {
			return invalid("Nothing arrived: the recorded remark is empty. Record it again.")
		}
		if err := tx.AddMedia(ctx, m); err != nil {
			return err
		}
		return tx.AddRemark(ctx, r)
	})
	if err != nil {
		return Remark{}, problemOf(errors.Join(err, d.dropStray(context.WithoutCancel(ctx), m)))
	}
	return r, nil
}

// Correct keeps where the teacher knew better than a hearing. The hearing stays as it was measured.
func (d *Desk) Correct(ctx context.Context, v Viewer, id TakeID, of HearingID, kind string, what json.RawMessage) (Correction, error) {
	if err := v.must("Only the teacher corrects the ear.", Teacher); err != nil {
		return Correction{}, err
	}
	if kind = tidy(kind); kind == "" || !json.Valid(what) {
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
