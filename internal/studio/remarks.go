package studio

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"math"
	"strings"
	"time"
)

// Recording is a remark that is said or filmed.
type Recording struct {
	Type string // media type
	Body io.Reader
}

// longestRemark is in bytes: several pages.
const longestRemark = 20_000

// Remark says something about a place in a take, in writing. Remedy is the entry of the book that it
// comes from, "" none.
func (d *Desk) Remark(ctx context.Context, v Viewer, id TakeID, at Anchor, text, remedy string) (Remark, error) {
	return d.RemarkAloud(ctx, v, id, at, text, remedy, Recording{})
}

// twice is how soon the same words at the same place are one remark that was sent again.
const twice = 10 * time.Second

func saidJustNow(ctx context.Context, tx Records, r Remark) (Remark, bool, error) {
	said, err := tx.Remarks(ctx, OneFamily(r.Studio, r.Family), r.Take)
	if err != nil {
		return r, false, err
	}
	for _, s := range said {
		if s.By == r.By && s.Text == r.Text && s.Remedy == r.Remedy && s.Media == "" && r.Made.Sub(s.Made) < twice &&
			s.Anchor.AtS == r.Anchor.AtS && s.Anchor.Bar == r.Anchor.Bar && s.Anchor.Note == r.Anchor.Note && string(s.Anchor.Frame) == string(r.Anchor.Frame) {
			return s, true, nil
		}
	}
	return r, false, nil
}

// RemarkAloud says or films it; the text beside it may be empty then. When it returns nil the recording is
// safe. Nobody hears it before it is clean of what it tells of place and device.
func (d *Desk) RemarkAloud(ctx context.Context, v Viewer, id TakeID, at Anchor, text, remedy string, aloud Recording) (Remark, error) {
	if err := v.must("Remarks are the teacher's.", Teacher); err != nil {
		return Remark{}, err
	}
	text = strings.TrimSpace(plain(text))
	switch {
	case text == "" && aloud.Body == nil:
		return Remark{}, invalid("A remark needs words.")
	case len(text) > longestRemark:
		return Remark{}, invalid("A remark may have %d letters. Make two of it.", longestRemark)
	case !isRemedy(remedy):
		return Remark{}, invalid("%q is no entry of the book.", remedy)
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
	r := Remark{ID: rid, Studio: t.Studio, Family: t.Family, Student: t.Student, Take: t.ID, By: v.Person, Anchor: at, Text: text, Remedy: remedy, Made: d.now()}
	if aloud.Body == nil {
		err := d.store.Within(ctx, func(tx Records) error {
			if older, found, err := saidJustNow(ctx, tx, r); err != nil || found {
				r = older
				return err
			}
			return tx.AddRemark(ctx, r)
		})
		if err != nil {
			return Remark{}, problemOf(err)
		}
		return r, nil
	}
	if err := Allowed(Student{Media: FullVideo}, aloud.Type); err != nil {
		return Remark{}, err
	}
	if err := d.spare(ctx, 0); err != nil {
		return Remark{}, problemOf(err)
	}
	m := Media{Studio: t.Studio, Family: t.Family, Student: t.Student, Take: t.ID, Kind: Spoken, Type: aloud.Type}
	if err := d.keepFile(ctx, &m, aloud.Body, d.o.MaxTakeBytes); err != nil {
		return Remark{}, problemOf(err)
	}
	r.Media = m.ID
	err = d.store.Within(ctx, func(tx Records) error {
		if m.Bytes == 0 {
			return invalid("Nothing arrived: the recorded remark is empty. Record it again.")
		}
		if err := tx.AddMedia(ctx, m); err != nil {
			return err
		}
		if err := tx.AddRemark(ctx, r); err != nil {
			return err
		}
		return d.jobs.Enqueue(ctx, tx, Job{Kind: JobSpoken, Studio: t.Studio, Take: t.ID})
	})
	if err != nil {
		return Remark{}, problemOf(errors.Join(err, d.dropStray(context.WithoutCancel(ctx), m)))
	}
	return r, nil
}

// RemarksOf is what was said to a student, the newest first, at most limit of it; 0 means 50.
func (d *Desk) RemarksOf(ctx context.Context, v Viewer, s StudentID, limit int) ([]Remark, error) {
	if _, err := d.store.Student(ctx, v.scope(), s); err != nil {
		return nil, problemOf(err)
	}
	l, err := d.store.RemarksTo(ctx, v.scope(), s, page(limit))
	return l, problemOf(err)
}

// ChangeRemark keeps other words in a remark. A spoken one may lose them.
func (d *Desk) ChangeRemark(ctx context.Context, v Viewer, id RemarkID, text string) (Remark, error) {
	if err := v.must("Remarks are the teacher's.", Teacher); err != nil {
		return Remark{}, err
	}
	text = strings.TrimSpace(plain(text))
	var r Remark
	err := d.store.Within(ctx, func(tx Records) (err error) {
		if r, err = tx.Remark(ctx, v.scope(), id); err != nil {
			return err
		}
		switch {
		case text == "" && r.Media == "":
			return invalid("A remark needs words. To take it back, remove it.")
		case len(text) > longestRemark:
			return invalid("A remark may have %d letters. Make two of it.", longestRemark)
		}
		r.Text = text
		return tx.PutRemark(ctx, r)
	})
	if err != nil {
		return Remark{}, problemOf(err)
	}
	return r, nil
}

// RemoveRemark takes a remark back, with its recording.
func (d *Desk) RemoveRemark(ctx context.Context, v Viewer, id RemarkID) error {
	if err := v.must("Remarks are the teacher's.", Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		r, err := tx.Remark(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		if r.Media != "" {
			if err := d.drop(ctx, tx, Media{ID: r.Media, Studio: r.Studio, Family: r.Family}); err != nil {
				return err
			}
			if err := d.jobs.Enqueue(ctx, tx, Job{Kind: JobSweep, Studio: r.Studio}); err != nil {
				return err
			}
		}
		return tx.RemoveRemark(ctx, v.scope(), id)
	}))
}

// Said is one time that something of the book was said to a student.
type Said struct {
	Take   TakeID
	Lesson string // day of the lesson that it was said in; "" while that is not sent
	Ago    int    // which lesson that is, counted back: 0 not sent yet, 1 the newest, 2 the one before
	Text   string
	Made   time.Time
}

// SaidBefore lists when a remedy was said to a student before, the newest first. The same point was
// made three lessons running where Ago holds 1, 2 and 3.
func (d *Desk) SaidBefore(ctx context.Context, v Viewer, s StudentID, remedy string) ([]Said, error) {
	if err := v.must("The book of remedies is the teacher's.", Teacher); err != nil {
		return nil, err
	}
	l, err := d.store.Said(ctx, v.scope(), s, remedy)
	return l, problemOf(err)
}
