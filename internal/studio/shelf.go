package studio

import (
	"context"
	"io"
	"time"
)

// Passage is a stretch of a work under a name of its own.
type Passage struct {
	ID      PassageID
	Studio  StudioID
	Work    WorkID
	Name    string
	FromBar string
	ToBar   string
}

// ModelTake is the teacher's own take of a work. It is kept and heard like a family's, and is no family's.
type ModelTake struct {
	ID        TakeID
	Studio    StudioID
	Work      WorkID
	State     TakeState
	Why       string
	Announced time.Time
	Arrived   time.Time
	DurationS float64
	Summary   *Summary
	Media     []Media
	Hearing   *Hearing // the newest; nil in lists and while there is none
}

func modelOf(t Take, ms []Media) ModelTake {
	return ModelTake{ID: t.ID, Studio: t.Studio, Work: t.Work, State: t.State, Why: t.Why, Announced: t.Announced,
		Arrived: t.Arrived, DurationS: t.DurationS, Summary: t.Summary, Media: ms}
}

// keptModelYears is how long the teacher's own takes are kept: they are nobody's recording but the teacher's.
const keptModelYears = 50

const itsTheModel = "The teacher's own takes are the teacher's."

// AnnounceModel notes a take of the teacher's own before its bytes, which then come through Receive.
func (d *Desk) AnnounceModel(ctx context.Context, v Viewer, w WorkID, fileName string, bytes int64) (ModelTake, error) {
	if err := v.must(itsTheModel, Teacher); err != nil {
		return ModelTake{}, err
	}
	var t Take
	err := d.store.Within(ctx, func(tx Records) error {
		s, err := tx.Student(ctx, v.scope(), StudentID(Shelf(v.Studio)))
		if err != nil {
			return err
		}
		if t, err = d.announce(ctx, tx, v, s, Announcement{Work: w, FileName: fileName, Bytes: bytes}); err != nil {
			return err
		}
		t.Answered = t.Announced // it waits for nobody
		return tx.AddTake(ctx, t)
	})
	if err != nil {
		return ModelTake{}, problemOf(err)
	}
	return modelOf(t, nil), nil
}

// ReceiveModel takes a take of the teacher's own in, whole. When it returns nil it is safe and will be heard.
func (d *Desk) ReceiveModel(ctx context.Context, v Viewer, w WorkID, mediaType string, body io.Reader) (ModelTake, error) {
	m, err := d.AnnounceModel(ctx, v, w, "", 0)
	if err != nil {
		return ModelTake{}, err
	}
	r, err := d.Receive(ctx, v, m.ID, mediaType, body)
	if err != nil {
		// What the reason was is what counts; the clock forgets the announcement if this does not.
		_ = d.GiveUp(context.WithoutCancel(ctx), v, m.ID)
		return ModelTake{}, err
	}
	return modelOf(r.Take, nil), nil
}

// ModelTakes of a work, the newest first: for the teacher, and a family that was asked to play the work.
func (d *Desk) ModelTakes(ctx context.Context, v Viewer, w WorkID) ([]ModelTake, error) {
	if _, err := d.Work(ctx, v, w); err != nil {
		return nil, err
	}
	q := TakeQuery{Work: w, Models: true, Limit: usualPage}
	if v.Role == Coach {
		q.State = Ready
	}
	ts, err := d.store.Takes(ctx, OneFamily(v.Studio, Shelf(v.Studio)), q)
	if err != nil {
		return nil, problemOf(err)
	}
	all := make([]ModelTake, len(ts))
	for i, t := range ts {
		if all[i], err = d.model(ctx, t); err != nil {
			return nil, problemOf(err)
		}
	}
	return all, nil
}

func (d *Desk) model(ctx context.Context, t Take) (ModelTake, error) {
	ms, err := d.store.Media(ctx, OneFamily(t.Studio, t.Family), t.ID)
	return modelOf(t, ms), err
}
