package studio

import (
	"context"
	"errors"
	"time"
)

// Looks is how the clock of a studio was looked at. A machine that starts with a wrong year must delete
// nothing, since what is deleted does not come back when its clock is put right:
//
//   - A look more than 3 days after the last one, or more than an hour before it, is a jump.
//   - After a jump, and at the very first look, nothing is deleted until the looks have followed each other
//     without a jump for 24 hours.
//
// A machine that was off for a week so deletes one day after it came back. A clock that is put right within
// a day has done no harm; putting it right is a jump again.
type Looks struct {
	Last  time.Time // zero: never
	Since time.Time // the first of those without a jump
}

const (
	apart     = 3 * 24 * time.Hour
	backwards = time.Hour // the clocks of two machines on one database differ a little
	steadyFor = 24 * time.Hour
)

// and adds a look. The very first is no jump.
func (l Looks) and(now time.Time) (next Looks, jumped bool) {
	since := now.Sub(l.Last)
	if since > apart || since < -backwards {
		return Looks{now, now}, !l.Last.IsZero()
	}
	return Looks{now, l.Since}, false
}

// KeepTheClock deletes the takes, taps, files of lessons and unsorted files whose time is over, and forgets takes that were
// announced and never came. No recording deleted: no receipt. After a jump of the clock it only looks, until
// looks have followed each other for a day; see Looks.
func (d *Desk) KeepTheClock(ctx context.Context, v Viewer) (Receipt, error) {
	if err := v.must("The clock is the program's own work.", Ear); err != nil {
		return Receipt{}, err
	}
	r, err := d.receipt(v, "retention")
	if err != nil {
		return Receipt{}, problemOf(err)
	}
	err = d.store.Within(ctx, func(tx Records) error {
		looks, err := tx.Looks(ctx, v.Studio)
		if err != nil {
			return err
		}
		next, jumped := looks.and(r.At)
		if err := tx.PutLooks(ctx, v.Studio, next); err != nil {
			return err
		}
		if jumped {
			d.o.Log.WarnContext(ctx, "the clock jumped: nothing is deleted for a day; check the date of this machine", "now", r.At, "last", looks.Last)
		}
		if r.At.Sub(next.Since) < steadyFor {
			return nil
		}
		over, err := tx.TakesUntil(ctx, v.Studio, r.At)
		if err != nil {
			return err
		}
		for _, t := range over {
			if err := d.remove(ctx, tx, t, &r); err != nil {
				return err
			}
		}
		us, err := tx.AllUnsorted(ctx, v.Studio)
		if err != nil {
			return err
		}
		for _, u := range us {
			if u.KeepUntil.After(r.At) {
				continue
			}
			r.Files++
			if err := d.discard(ctx, tx, u); err != nil {
				return err
			}
		}
		if err := tx.RemoveNotices(ctx, v.Studio, r.At.Add(-keptNotices)); err != nil {
			return err
		}
		taps, err := tx.TapsUntil(ctx, v.Studio, r.At)
		if err != nil {
			return err
		}
		for _, t := range taps {
			if err := d.forget(ctx, tx, t, &r); err != nil {
				return err
			}
		}
		if err := d.oldFiles(ctx, tx, &r); err != nil {
			return err
		}
		if r.Files == 0 && r.Takes == 0 {
			return nil
		}
		return d.closeDeletion(ctx, tx, r)
	})
	if err != nil {
		return Receipt{}, problemOf(err)
	}
	return r, nil
}

// oldFiles deletes what was recorded and cut for lessons as long ago as takes are kept. The lessons stay, in
// writing.
func (d *Desk) oldFiles(ctx context.Context, tx Records, r *Receipt) error {
	st, err := tx.Studio(ctx, r.Studio)
	if err != nil {
		return err
	}
	ms, err := tx.LessonFilesUntil(ctx, r.Studio, r.At.AddDate(0, 0, -st.KeepDays))
	if err != nil {
		return err
	}
	for _, m := range ms {
		in := OneFamily(m.Studio, m.Family)
		switch m.Kind {
		case ItemAnswer:
			err = tx.RemoveAnswer(ctx, in, m.Lesson, AssignmentID(m.What))
		case Filmed:
			err = tx.RemoveFilm(ctx, in, m.Lesson)
		}
		if err != nil && !errors.Is(err, ErrNotFound) {
			return err
		}
		if err := d.drop(ctx, tx, m); err != nil {
			return err
		}
		r.Files++
	}
	return nil
}
