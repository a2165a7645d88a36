package studio

import (
	"context"
	"strings"
)

// Hurts writes down that something hurt, without a recording: nobody plays again to tell it. It lies on
// the teacher's desk before everything else, as a take without files that needs a look.
func (d *Desk) Hurts(ctx context.Context, v Viewer, s StudentID, of AssignmentID, note string) (Take, error) {
	if err := v.must("A family says that something hurts.", Coach); err != nil {
		return Take{}, err
	}
	note = strings.TrimSpace(plain(note))
	if note == "" || len(note) > longestNote {
		return Take{}, invalid("Write in a few words what hurt, and when.")
	}
	var t Take
	err := d.store.Within(ctx, func(tx Records) error {
		who, err := tx.Student(ctx, v.scope(), s)
		if err != nil {
			return err
		}
		t, err = d.hurts(ctx, tx, v, who, of, note)
		return err
	})
	if err != nil {
		return Take{}, problemOf(err)
	}
	return t, nil
}

// OnlyTold says that the family wrote that something hurt, and sent no recording.
func (t Take) OnlyTold() bool { return t.Hurt && t.State == NeedsALook && t.Bytes == 0 }

// hurts does it in a transaction; the note may be empty.
func (d *Desk) hurts(ctx context.Context, tx Records, v Viewer, who Student, of AssignmentID, note string) (Take, error) {
	id, err := NewID[TakeID](d.o.Rand)
	if err != nil {
		return Take{}, err
	}
	now := d.now()
	t := Take{ID: id, Studio: who.Studio, Family: who.Family, Student: who.ID, By: v.Person, State: NeedsALook,
		Why: "There is no recording: the family writes that something hurt.", Note: note, Hurt: true,
		Announced: now, Arrived: now, Changed: now}
	if err := d.of(ctx, tx, v.scope(), &t, of, ""); err != nil {
		return Take{}, err
	}
	if t.KeepUntil, err = d.keepUntil(ctx, tx, t, now); err != nil {
		return Take{}, err
	}
	if err := tx.AddTake(ctx, t); err != nil {
		return Take{}, err
	}
	return t, d.notify(ctx, tx, t.Studio, theTeachers, OfHurt, string(t.ID), now)
}
