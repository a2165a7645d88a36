package studio

import (
	"context"
	"errors"
)

// Assign says what a take is: an assignment of the student, or a work; with neither, it is unknown.
// A take that is here is heard again.
func (d *Desk) Assign(ctx context.Context, v Viewer, id TakeID, a AssignmentID, w WorkID) error {
	if err := v.must("Only the teacher says what a take is.", Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		t, err := tx.Take(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		if t.Model() {
			return invalid("This is your own take of a work. Record another one for another work.")
		}
		if err := d.of(ctx, tx, v.scope(), &t, a, w); err != nil {
			return err
		}
		if t.State == Arriving {
			return d.move(ctx, tx, &t, Arriving)
		}
		anew := t
		anew.Concerns, anew.SoundsLike, anew.Summary = nil, nil, nil // of another score
		err = d.sendToTheEar(ctx, tx, anew, Waiting, BeingHeard, Ready, NeedsALook)
		if errors.Is(err, errNoRecording) {
			return d.move(ctx, tx, &t, t.State)
		}
		return err
	}))
}

// of writes into a take what it is of, if that may be.
func (d *Desk) of(ctx context.Context, tx Records, in Scope, t *Take, a AssignmentID, w WorkID) error {
	t.Assignment, t.Work = a, w
	if a != "" {
		asked, _, err := tx.Assigned(ctx, in, t.Student, a)
		if errors.Is(err, ErrNotFound) {
			return invalid("This was not asked of this student. Choose the assignment again, or send the take without one.")
		}
		if err != nil {
			return err
		}
		if w == "" {
			t.Work = asked.Work
		}
	}
	if t.Work != "" {
		if _, err := tx.Work(ctx, in.Studio(), t.Work); err != nil {
			return err
		}
	}
	return nil
}
