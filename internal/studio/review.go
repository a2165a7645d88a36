package studio

import (
	"context"
	"errors"
	"slices"
)

// Review is all that is known about one take.
type Review struct {
	Take        Take
	Student     Student
	Family      Family
	Assignment  *Assignment // nil while nobody said what it is for
	LessonDate  string      // of the lesson in which it was asked
	Work        *Work       // with its score as this student plays it; nil while it is not known
	Media       []Media
	Hearing     *Hearing // the newest; nil while there is none
	Corrections []Correction
	Remarks     []Remark
	Earlier     []Take     // of the same student and work, the newest first
	Model       *ModelTake // the teacher's newest take of the work that is ready, with its hearing
	Siblings    []Take     // the others of this student that wait for an answer, the oldest first
}

// mostEarlier is how many earlier takes stand beside one.
const mostEarlier = 20

// ReviewTake shows a take to those who may see it, and writes that into the child's access log.
func (d *Desk) ReviewTake(ctx context.Context, v Viewer, id TakeID) (Review, error) {
	var r Review
	in, err := v.scope(), error(nil)
	if r.Take, err = d.store.Take(ctx, in, id); err != nil {
		return Review{}, problemOf(err)
	}
	fam := OneFamily(r.Take.Studio, r.Take.Family)
	for _, ask := range []func() error{
		func() (err error) { r.Student, err = d.store.Student(ctx, fam, r.Take.Student); return },
		func() (err error) { r.Media, err = d.store.Media(ctx, fam, id); return },
		func() (err error) { r.Hearing, err = d.newest(ctx, fam, id); return },
		func() (err error) { r.Corrections, err = d.store.Corrections(ctx, fam, id); return },
		func() (err error) { r.Remarks, err = d.store.Remarks(ctx, fam, id); return },
		func() error {
			fs, err := d.store.Families(ctx, fam)
			if len(fs) == 1 {
				r.Family = fs[0]
			}
			return err
		},
		func() error { return d.asked(ctx, fam, &r) },
		func() error { return d.beside(ctx, fam, &r) },
		func() error { return d.log(ctx, d.store, v, r.Take, "looked") },
	} {
		if err := ask(); err != nil {
			return Review{}, problemOf(err)
		}
	}
	return r, nil
}

// newest hearing of a take, nil where there is none.
func (d *Desk) newest(ctx context.Context, in Scope, id TakeID) (*Hearing, error) {
	h, err := d.store.NewestHearing(ctx, in, id)
	if errors.Is(err, ErrNotFound) {
		return nil, nil
	}
	return &h, err
}

func (d *Desk) asked(ctx context.Context, in Scope, r *Review) error {
	if r.Take.Assignment != "" {
		a, l, err := d.store.Assigned(ctx, in, r.Take.Student, r.Take.Assignment)
		if err != nil {
			return err
		}
		r.Assignment, r.LessonDate = &a, l.Date
	}
	if r.Take.Work == "" {
		return nil
	}
	w, err := d.store.Work(ctx, in.Studio(), r.Take.Work)
	if err != nil {
		return err
	}
	w, err = fingeredFor(ctx, d.store, in, r.Take.Student, w)
	r.Work = &w
	return err
}

func (d *Desk) beside(ctx context.Context, in Scope, r *Review) error {
	if !r.Take.Model() {
		waiting, err := d.store.Takes(ctx, in, TakeQuery{Student: r.Take.Student, Unanswered: true, Limit: mostAPage})
		if err != nil {
			return err
		}
		for _, t := range slices.Backward(waiting) {
			if t.ID != r.Take.ID {
				r.Siblings = append(r.Siblings, t)
			}
		}
	}
	if r.Take.Work == "" {
		return nil
	}
	var err error
	if r.Earlier, err = d.store.Takes(ctx, in, TakeQuery{Student: r.Take.Student, Work: r.Take.Work, Models: r.Take.Model(),
		Before: r.Take, Limit: mostEarlier}); err != nil {
		return err
	}
	ms, err := d.store.Takes(ctx, OneFamily(in.Studio(), Shelf(in.Studio())), TakeQuery{Work: r.Take.Work, State: Ready, Models: true, Limit: 1})
	if err != nil || len(ms) == 0 || ms[0].ID == r.Take.ID {
		return err
	}
	m, err := d.model(ctx, ms[0])
	if err != nil {
		return err
	}
	m.Hearing, err = d.newest(ctx, OneFamily(in.Studio(), Shelf(in.Studio())), m.ID)
	r.Model = &m
	return err
}

// Hearing is the newest hearing of a take alone, to put beside another. NotFound while there is none.
func (d *Desk) Hearing(ctx context.Context, v Viewer, id TakeID) (Hearing, error) {
	t, err := d.store.Take(ctx, v.scope(), id)
	if err != nil {
		return Hearing{}, problemOf(err)
	}
	h, err := d.store.NewestHearing(ctx, v.scope(), id)
	if err != nil {
		return Hearing{}, problemOf(err)
	}
	return h, problemOf(d.log(ctx, d.store, v, t, "looked"))
}

// Answer marks a take as seen and answered, without a lesson.
func (d *Desk) Answer(ctx context.Context, v Viewer, id TakeID) error {
	if err := v.must("Takes are answered by the teacher.", Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		t, err := tx.Take(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		if t.State == Arriving {
			return invalid("This take is still arriving.")
		}
		now := d.now()
		return tx.AnswerTakes(ctx, v.scope(), t.Student, id, now, now)
	}))
}
