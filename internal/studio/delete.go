package studio

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"
)

// DeleteTake removes a take with everything that hangs on it. The family may, the teacher may.
func (d *Desk) DeleteTake(ctx context.Context, v Viewer, id TakeID) (Receipt, error) {
	if err := v.must("Takes are deleted by the family or the teacher.", Teacher, Coach); err != nil {
		return Receipt{}, err
	}
	r, err := d.receipt(v, "take")
	if err != nil {
		return Receipt{}, problemOf(err)
	}
	err = d.store.Within(ctx, func(tx Records) error {
		t, err := tx.Take(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		if err := d.remove(ctx, tx, t, &r); err != nil {
			return err
		}
		return d.closeDeletion(ctx, tx, r)
	})
	if err != nil {
		return Receipt{}, problemOf(err)
	}
	return r, nil
}

// remove deletes the rows of a take and dooms its files.
func (d *Desk) remove(ctx context.Context, tx Records, t Take, r *Receipt) error {
	in := OneFamily(t.Studio, t.Family)
	ms, err := tx.Media(ctx, in, t.ID)
	if err != nil {
		return err
	}
	for _, m := range ms {
		if err := tx.Doom(ctx, Doomed{m.Studio, m.Family, m.ID}); err != nil {
			return err
		}
	}
	if t.State != Arriving { // of one that never came there was nothing
		r.Takes++
	}
	r.Files += len(ms)
	return tx.RemoveTake(ctx, in, t.ID)
}

func (d *Desk) receipt(v Viewer, what string) (Receipt, error) {
	id, err := NewID[ReceiptID](d.o.Rand)
	return Receipt{ID: id, Studio: v.Studio, What: what, By: v.Role, At: d.now()}, err
}

func (d *Desk) closeDeletion(ctx context.Context, tx Records, r Receipt) error {
	if err := tx.AddReceipt(ctx, r); err != nil {
		return err
	}
	return d.jobs.Enqueue(ctx, tx, Job{Kind: JobSweep, Studio: r.Studio})
}

// EraseFamily deletes a family: people, children, lessons, takes, log and files. What stays is the
// receipt, which names nobody. The teacher may, the family itself may.
func (d *Desk) EraseFamily(ctx context.Context, v Viewer, id FamilyID) (Receipt, error) {
	if err := v.must("A family is erased by itself or by the teacher.", Teacher, Coach); err != nil {
		return Receipt{}, err
	}
	if v.Role == Coach && v.Family != id || id == Shelf(v.Studio) {
		return Receipt{}, problemOf(ErrNotFound)
	}
	r, err := d.receipt(v, "family")
	if err != nil {
		return Receipt{}, problemOf(err)
	}
	err = d.store.Within(ctx, func(tx Records) error {
		if err := d.guessOthers(ctx, tx, OneFamily(v.Studio, id)); err != nil {
			return err
		}
		n, err := tx.EraseFamily(ctx, OneFamily(v.Studio, id))
		if err != nil {
			return err
		}
		r.Takes, r.Files, r.Students = n.Takes, n.Files, n.Students
		if err := tx.Doom(ctx, Doomed{Studio: v.Studio, Family: id}); err != nil {
			return err
		}
		return d.closeDeletion(ctx, tx, r)
	})
	if err != nil {
		return Receipt{}, problemOf(err)
	}
	return r, nil
}

// guessOthers takes the students of a family out of the guesses about files that nobody sorted yet.
func (d *Desk) guessOthers(ctx context.Context, tx Records, in Scope) error {
	students, err := tx.Students(ctx, in)
	if err != nil {
		return err
	}
	of := map[StudentID]bool{}
	for _, s := range students {
		of[s.ID] = true
	}
	all, err := tx.AllUnsorted(ctx, in.Studio())
	if err != nil {
		return err
	}
	for _, u := range all {
		n := len(u.Guesses)
		u.Guesses = slices.DeleteFunc(u.Guesses, func(g Guess) bool { return of[g.Student] })
		if len(u.Guesses) == n {
			continue
		}
		if err := tx.PutUnsorted(ctx, u); err != nil {
			return err
		}
	}
	return nil
}

// strayFor is how long a file may be there that no row names: long enough for its row to come.
const strayFor = 24 * time.Hour

const itsTheSweep = "Sweeping is the program's own work."

// Sweep removes the files of what was deleted, and once a day what SweepStrays removes. A kill on the way leaves them doomed, and the next sweep removes them.
func (d *Desk) Sweep(ctx context.Context, v Viewer) error {
	if err := v.must(itsTheSweep, Ear); err != nil {
		return err
	}
	ds, err := d.store.Dooms(ctx, v.Studio)
	if err != nil {
		return problemOf(err)
	}
	for _, x := range ds {
		if x.Media == "" {
			err = d.blobs.RemoveFamily(ctx, x.Studio, x.Family)
		} else {
			err = d.blobs.Remove(ctx, BlobKey(x))
		}
		if err == nil {
			err = d.store.Undoom(ctx, x)
		}
		if err != nil {
			return problemOf(err)
		}
	}
	return d.strays.daily(d.now(), v.Studio, func() error { return d.SweepStrays(ctx, v) })
}

// rounds remembers when a round was last made. The zero value never made one.
type rounds struct {
	mu   sync.Mutex
	last map[StudioID]time.Time
}

// daily does what was not done for a day. One that fails is due again.
func (r *rounds) daily(now time.Time, s StudioID, do func() error) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if last, made := r.last[s]; made && now.Sub(last) < 24*time.Hour {
		return nil
	}
	if err := do(); err != nil {
		return err
	}
	if r.last == nil {
		r.last = map[StudioID]time.Time{}
	}
	r.last[s] = now
	return nil
}

// SweepStrays removes the files that a kill left before their row was written. It looks at every file
// of the studio.
func (d *Desk) SweepStrays(ctx context.Context, v Viewer) error {
	if err := v.must(itsTheSweep, Ear); err != nil {
		return err
	}
	return problemOf(d.blobs.Each(ctx, v.Studio, func(key BlobKey, written time.Time) error {
		if d.now().Sub(written) < strayFor {
			return nil
		}
		_, err := d.store.MediaByID(ctx, OneFamily(key.Studio, key.Family), key.Media)
		if errors.Is(err, ErrNotFound) && key.Family == Shelf(key.Studio) {
			_, err = d.store.Unsorted(ctx, key.Studio, UnsortedID(key.Media))
		}
		if errors.Is(err, ErrNotFound) {
			return d.blobs.Remove(ctx, key)
		}
		return err
	}))
}
