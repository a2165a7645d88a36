package studio

import (
	"context"
	"errors"
	"slices"
	"time"
)

// OwnFingering is how one child takes a work, beside the fingering that stands in the studio's score. Of those that
// were kept for a child and a work at most one holds; the others stay, to be gone back to.
type OwnFingering struct {
	ID      FingeringID
	Studio  StudioID
	Family  FamilyID
	Student StudentID
	Work    WorkID
	Score   string    // MusicXML: the notes of the work with this child's fingers
	Asked   string    // of these hands, as the page that chose the fingers reads it; "" nothing
	Why     string    // what is its own about it, one line
	Lesson  LessonID  // in which it was made; "" in none
	Kept    time.Time // the first time
	Held    time.Time // since when it holds, or held the last time; zero: it was only to be tried
	Ended   time.Time // when it ceased to hold; zero while it holds
	Fits    bool      // the score of the work has these notes still
}

// Holds says that the child takes the work so now.
func (f OwnFingering) Holds() bool { return !f.Held.IsZero() && f.Ended.IsZero() && f.Fits }

const itsTheFingers = "A child’s own fingering is the teacher’s to choose."

// WorkFor is a work as one student plays it: with the student's own fingering where one holds, else with the
// studio's. Everything that shows, sounds or measures a work for a student asks here. A family may ask for its own
// children and for what was asked of them; without a student it is Work.
func (d *Desk) WorkFor(ctx context.Context, v Viewer, s StudentID, id WorkID) (Work, error) {
	w, err := d.Work(ctx, v, id)
	if err != nil || s == "" {
		return w, err
	}
	if _, err := d.store.Student(ctx, v.scope(), s); err != nil {
		return Work{}, problemOf(err)
	}
	w, err = fingeredFor(ctx, d.store, v.scope(), s, w)
	return w, problemOf(err)
}

// fingeredFor decides which fingering of a work holds for a student.
func fingeredFor(ctx context.Context, r Records, in Scope, s StudentID, w Work) (Work, error) {
	own, err := r.HoldingFingering(ctx, in, s, w.ID)
	if errors.Is(err, ErrNotFound) {
		return w, nil
	}
	if err != nil {
		return Work{}, err
	}
	w.Score, w.Own = own.Score, own.ID
	return w, nil
}

// AsEverybody stands where a fingering is named, for the one that the work has for everybody.
const AsEverybody FingeringID = "everybody"

// WorkIn is a work in one of the fingerings that were kept for a student, such as one that is to be tried, or
// AsEverybody. Where that does not fit the score any more, it is WorkFor.
func (d *Desk) WorkIn(ctx context.Context, v Viewer, s StudentID, id WorkID, f FingeringID) (Work, error) {
	w, err := d.WorkFor(ctx, v, s, id)
	if err != nil || f == "" {
		return w, err
	}
	if f == AsEverybody {
		return d.Work(ctx, v, id)
	}
	own, err := d.store.Fingering(ctx, v.scope(), f)
	if err == nil && (own.Student != s || own.Work != id) {
		err = ErrNotFound
	}
	if err != nil {
		return Work{}, problemOf(err)
	}
	if own.Fits {
		w.Score, w.Own = own.Score, own.ID
	}
	return w, nil
}

// Fingerings lists what was kept for a student, of one work or with "" of all: the newest first, without the scores,
// which WorkIn brings.
func (d *Desk) Fingerings(ctx context.Context, v Viewer, s StudentID, w WorkID) ([]OwnFingering, error) {
	if err := v.must(itsTheFingers, Teacher); err != nil {
		return nil, err
	}
	if _, err := d.store.Student(ctx, v.scope(), s); err != nil {
		return nil, problemOf(err)
	}
	l, err := d.store.FingeringsKept(ctx, v.scope(), s, w)
	return l, problemOf(err)
}

// OwnPlayers are the students whose own fingering of a work holds.
func (d *Desk) OwnPlayers(ctx context.Context, v Viewer, w WorkID) (map[StudentID]bool, error) {
	if err := v.must(itsTheFingers, Teacher); err != nil {
		return nil, err
	}
	kept, err := d.store.FingeringsOf(ctx, v.Studio, w)
	own := map[StudentID]bool{}
	for _, k := range kept {
		if k.Holds() {
			own[k.Student] = true
		}
	}
	return own, problemOf(err)
}

// KeepFingering keeps a fingering for one student: from now on it holds, or with try it is one to be tried. Of f,
// the student, the work, its score, what was asked, why and in which lesson are read.
func (d *Desk) KeepFingering(ctx context.Context, v Viewer, f OwnFingering, try bool) (OwnFingering, error) {
	if err := v.must(itsTheFingers, Teacher); err != nil {
		return OwnFingering{}, err
	}
	var err error
	if f.ID, err = NewID[FingeringID](d.o.Rand); err != nil {
		return OwnFingering{}, problemOf(err)
	}
	f.Studio, f.Why, f.Kept, f.Held, f.Ended, f.Fits = v.Studio, named(f.Why, longestLine), d.now(), time.Time{}, time.Time{}, true
	err = d.store.Within(ctx, func(tx Records) error {
		s, err := tx.Student(ctx, v.scope(), f.Student)
		if err != nil {
			return err
		}
		f.Family = s.Family
		w, err := tx.HoldWork(ctx, v.Studio, f.Work)
		if err != nil {
			return err
		}
		if f.Lesson != "" {
			l, err := tx.Lesson(ctx, v.scope(), f.Lesson)
			if err == nil && l.Student != s.ID {
				err = ErrNotFound
			}
			if err != nil {
				return err
			}
		}
		if f.Score, err = carried(w.Score, f.Score); err != nil {
			return err
		}
		kept, err := tx.Fingerings(ctx, v.scope(), s.ID, w.ID)
		if err != nil {
			return err
		}
		// The same fingers once more are those that were kept: a form that is sent twice keeps one, and what was tried is
		// not kept beside itself.
		same := slices.IndexFunc(kept, func(k OwnFingering) bool { return k.Score == f.Score && k.Fits })
		now := f.Kept
		if same >= 0 {
			if f = kept[same]; try || f.Holds() {
				return nil
			}
		}
		if !try {
			if err := endFingering(ctx, tx, kept, now); err != nil {
				return err
			}
			f.Held, f.Ended = now, time.Time{}
		}
		if same >= 0 {
			return tx.PutFingering(ctx, f)
		}
		return tx.AddFingering(ctx, f)
	})
	if err != nil {
		return OwnFingering{}, problemOf(err)
	}
	return f, nil
}

// HoldFingering makes a fingering that was kept the student's own from now on: one that was tried, or an earlier one.
func (d *Desk) HoldFingering(ctx context.Context, v Viewer, id FingeringID) (OwnFingering, error) {
	if err := v.must(itsTheFingers, Teacher); err != nil {
		return OwnFingering{}, err
	}
	var f OwnFingering
	err := d.store.Within(ctx, func(tx Records) (err error) {
		if f, err = tx.Fingering(ctx, v.scope(), id); err != nil {
			return err
		}
		if _, err = tx.HoldWork(ctx, v.Studio, f.Work); err != nil { // from here on its score and its fingers stay
			return err
		}
		if f, err = tx.Fingering(ctx, v.scope(), id); err != nil || f.Holds() {
			return err
		}
		if !f.Fits {
			return &Problem{Kind: Conflict, Say: "The score was changed since, and these fingers do not fit its notes any more. Choose fingers anew."}
		}
		kept, err := tx.Fingerings(ctx, v.scope(), f.Student, f.Work)
		if err != nil {
			return err
		}
		now := d.now()
		if err := endFingering(ctx, tx, kept, now); err != nil {
			return err
		}
		f.Held, f.Ended = now, time.Time{}
		return tx.PutFingering(ctx, f)
	})
	if err != nil {
		return OwnFingering{}, problemOf(err)
	}
	return f, nil
}

// DropFingering lets a student take a work as everybody does. What held is kept.
func (d *Desk) DropFingering(ctx context.Context, v Viewer, s StudentID, w WorkID) error {
	if err := v.must(itsTheFingers, Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		if _, err := tx.Student(ctx, v.scope(), s); err != nil {
			return err
		}
		if _, err := tx.HoldWork(ctx, v.Studio, w); err != nil {
			return err
		}
		kept, err := tx.Fingerings(ctx, v.scope(), s, w)
		if err != nil {
			return err
		}
		return endFingering(ctx, tx, kept, d.now())
	}))
}

// endFingering ends what holds of those, also what would if the score had its notes still.
func endFingering(ctx context.Context, tx Records, kept []OwnFingering, now time.Time) error {
	for _, k := range kept {
		if k.Held.IsZero() || !k.Ended.IsZero() {
			continue
		}
		k.Ended = now
		if err := tx.PutFingering(ctx, k); err != nil {
			return err
		}
	}
	return nil
}

// AskedOfHands is what was last asked for a student's hands, of any work, and what the teacher says that they do
// without; "" and none where nothing is known.
func (d *Desk) AskedOfHands(ctx context.Context, v Viewer, s StudentID) (asked string, without []string, err error) {
	kept, err := d.Fingerings(ctx, v, s, "")
	if err != nil {
		return "", nil, err
	}
	if len(kept) > 0 {
		asked = kept[0].Asked
	}
	plans, err := d.store.StudentPlans(ctx, v.scope())
	for _, p := range plans {
		if p.Student == s {
			without = p.Without
		}
	}
	return asked, without, problemOf(err)
}

// TryFingering keeps a fingering to be tried, and puts it into a task of a draft as its first or second way. Card
// counts the tasks from 1. f names the lesson.
func (d *Desk) TryFingering(ctx context.Context, v Viewer, f OwnFingering, card, way int) (OwnFingering, error) {
	l, err := d.Lesson(ctx, v, f.Lesson)
	if err != nil {
		return OwnFingering{}, err
	}
	if card < 1 || card > len(l.Assignments) || way < 1 || way > len(l.Assignments[card-1].Ways) || l.Assignments[card-1].Work != f.Work {
		return OwnFingering{}, &Problem{Kind: Conflict, Say: "The lesson was changed in the meantime. Open its task again and choose the fingers from there."}
	}
	if f, err = d.KeepFingering(ctx, v, f, true); err != nil {
		return OwnFingering{}, err
	}
	l.Assignments[card-1].Ways[way-1].Own = f.ID
	_, err = d.SaveDraft(ctx, v, l)
	return f, err
}

// settleWays keeps two ways to try apart as long as the lesson is there: one without fingers of its own is what the
// student plays on the day it is sent, also once the other way has become the student's own.
func settleWays(ctx context.Context, tx Records, l *Lesson) error {
	changed := false
	for i := range l.Assignments {
		a := &l.Assignments[i]
		for n := range a.Ways {
			w, other := &a.Ways[n], a.Ways[1-n]
			if w.Own != "" || other.Own == "" || w.Say == "" && w.Fingering == "" {
				continue
			}
			own, err := tx.HoldingFingering(ctx, OneFamily(l.Studio, l.Family), l.Student, a.Work)
			if errors.Is(err, ErrNotFound) {
				own.ID, err = AsEverybody, nil
			}
			if err != nil {
				return err
			}
			w.Own, changed = own.ID, true
		}
	}
	if !changed {
		return nil
	}
	if err := tx.PutLesson(ctx, *l); err != nil {
		return err
	}
	l.Version++
	return nil
}
