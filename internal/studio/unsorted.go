package studio

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"
)

// Unsorted is a file that came without a student's name: one of many that the teacher dropped at
// once, or from the inbox folder.
type Unsorted struct {
	ID        UnsortedID
	Studio    StudioID
	FileName  string // as it was called; never a path
	Type      string // media type
	Bytes     int64
	SHA256    string
	Arrived   time.Time
	KeepUntil time.Time // then the clock deletes it
	State     TakeState // Waiting, BeingHeard, Ready once there are guesses (also none), NeedsALook
	Why       string    // of NeedsALook
	Guesses   []Guess   // the likeliest first
}

// Key of its bytes: on the studio's shelf, under its own id.
func (u Unsorted) Key() BlobKey { return BlobKey{u.Studio, Shelf(u.Studio), MediaID(u.ID)} }

// Guess is whose an unsorted file may be, and what is played.
type Guess struct {
	Student    StudentID
	Assignment AssignmentID
	Work       WorkID
	Confidence float64 // 0 to 1
	Why        string  // one sentence
}

const itsTheDrop = "Unsorted recordings are the teacher's."

// Drop takes in a file whose student is not known yet: from the teacher, or as the Ear from the inbox
// folder. When it returns nil the file is safe, and a guess follows. The same bytes dropped twice are one.
func (d *Desk) Drop(ctx context.Context, v Viewer, fileName, mediaType string, body io.Reader) (Unsorted, error) {
	if err := v.must(itsTheDrop, Teacher, Ear); err != nil {
		return Unsorted{}, err
	}
	if err := Allowed(Student{Media: FullVideo}, mediaType); err != nil {
		return Unsorted{}, err
	}
	if err := d.spare(ctx, 0); err != nil {
		return Unsorted{}, problemOf(err)
	}
	id, err := NewID[UnsortedID](d.o.Rand)
	if err != nil {
		return Unsorted{}, problemOf(err)
	}
	u := Unsorted{ID: id, Studio: v.Studio, FileName: bareName(fileName), Type: mediaType, State: Waiting}
	if u.Bytes, u.SHA256, err = d.blobs.Put(ctx, u.Key(), body, d.o.MaxTakeBytes); err != nil {
		return Unsorted{}, problemOf(err)
	}
	again := false
	err = d.store.Within(ctx, func(tx Records) error {
		if u.Bytes == 0 {
			return invalid("%s is empty. Take it again from where it came.", u.FileName)
		}
		all, err := tx.AllUnsorted(ctx, u.Studio)
		if err != nil {
			return err
		}
		for _, x := range all {
			if x.SHA256 == u.SHA256 {
				again, u = true, x
				return nil
			}
		}
		if len(all) >= d.o.Arriving {
			return &Problem{Kind: TooMany, Say: fmt.Sprintf("%d recordings wait to be sorted. Sort or discard some first.", len(all))}
		}
		u.Arrived = d.now()
		u.KeepUntil = u.Arrived.Add(d.o.KeepUnsorted)
		if err := tx.AddUnsorted(ctx, u); err != nil {
			return err
		}
		return d.jobs.Enqueue(ctx, tx, Job{Kind: JobGuess, Studio: u.Studio, Unsorted: u.ID})
	})
	if err != nil || again {
		// As with takes: a commit whose answer was lost may have been kept.
		_, asked := d.store.Unsorted(context.WithoutCancel(ctx), v.Studio, id)
		if errors.Is(asked, ErrNotFound) {
			asked = d.blobs.Remove(context.WithoutCancel(ctx), BlobKey{v.Studio, Shelf(v.Studio), MediaID(id)})
		}
		err = errors.Join(err, asked)
	}
	if err != nil {
		return Unsorted{}, problemOf(err)
	}
	return u, nil
}

// Unsorted lists the files that wait for a name, the oldest first.
func (d *Desk) Unsorted(ctx context.Context, v Viewer) ([]Unsorted, error) {
	if err := v.must(itsTheDrop, Teacher, Ear); err != nil {
		return nil, err
	}
	l, err := d.store.AllUnsorted(ctx, v.Studio)
	return l, problemOf(err)
}

// OpenUnsorted opens the file as it came: for the ear, and for the teacher whose file it is.
func (d *Desk) OpenUnsorted(ctx context.Context, v Viewer, id UnsortedID) (Unsorted, io.ReadSeekCloser, error) {
	if err := v.must(itsTheDrop, Teacher, Ear); err != nil {
		return Unsorted{}, nil, err
	}
	u, err := d.store.Unsorted(ctx, v.Studio, id)
	if err != nil {
		return Unsorted{}, nil, problemOf(err)
	}
	f, err := d.blobs.Open(ctx, u.Key())
	if err != nil {
		return Unsorted{}, nil, problemOf(err)
	}
	return u, f, nil
}

// Clues are what a guess is made of.
type Clues struct {
	Unsorted Unsorted
	Students []Student
	Families []Family
	Asked    map[StudentID][]Assignment // of each student's newest sent lesson
	Works    []Work                     // with scores
}

// BeginGuess takes a file into hand.
func (d *Desk) BeginGuess(ctx context.Context, v Viewer, id UnsortedID) (Clues, error) {
	if err := v.must(itsTheEars, Ear); err != nil {
		return Clues{}, err
	}
	var c Clues
	in := v.scope()
	err := d.store.Within(ctx, func(tx Records) (err error) {
		if c.Unsorted, err = tx.Unsorted(ctx, v.Studio, id); err != nil {
			return err
		}
		c.Unsorted.State, c.Unsorted.Why = BeingHeard, ""
		return tx.PutUnsorted(ctx, c.Unsorted)
	})
	if err != nil {
		return Clues{}, problemOf(err)
	}
	if c.Students, err = d.store.Students(ctx, in); err != nil {
		return Clues{}, problemOf(err)
	}
	if c.Families, err = d.store.Families(ctx, in); err != nil {
		return Clues{}, problemOf(err)
	}
	c.Asked = map[StudentID][]Assignment{}
	for _, s := range c.Students {
		ls, err := d.store.Lessons(ctx, in, LessonQuery{Student: s.ID, Limit: 1})
		if err != nil {
			return Clues{}, problemOf(err)
		}
		for _, l := range ls {
			c.Asked[s.ID] = l.Assignments
		}
	}
	c.Works, _, err = d.candidates(ctx, d.store, in, "")
	return c, problemOf(err)
}

// KeepGuesses says whose a file may be, the likeliest first. None is an answer too.
func (d *Desk) KeepGuesses(ctx context.Context, v Viewer, id UnsortedID, gs []Guess) error {
	return d.guessed(ctx, v, id, Unsorted{State: Ready, Guesses: gs})
}

// PutAside says why nothing could be heard in an unsorted file. It still can be sorted.
func (d *Desk) PutAside(ctx context.Context, v Viewer, id UnsortedID, why string) error {
	if why = tidy(why); why == "" {
		return invalid("A file that needs a look needs a reason.")
	}
	return d.guessed(ctx, v, id, Unsorted{State: NeedsALook, Why: why})
}

func (d *Desk) guessed(ctx context.Context, v Viewer, id UnsortedID, g Unsorted) error {
	if err := v.must(itsTheEars, Ear); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		u, err := tx.Unsorted(ctx, v.Studio, id)
		if err != nil {
			return err
		}
		u.Guesses, u.State, u.Why = g.Guesses, g.State, g.Why
		return tx.PutUnsorted(ctx, u)
	}))
}

// Sort makes a take of an unsorted file. Bytes that the family sent before give the older take.
func (d *Desk) Sort(ctx context.Context, v Viewer, id UnsortedID, a Announcement) (Take, error) {
	if err := v.must(itsTheDrop, Teacher); err != nil {
		return Take{}, err
	}
	u, err := d.store.Unsorted(ctx, v.Studio, id)
	if err != nil {
		return Take{}, problemOf(err)
	}
	s, err := d.store.Student(ctx, v.scope(), a.Student)
	if err != nil {
		return Take{}, problemOf(err)
	}
	if err := Allowed(s, u.Type); err != nil {
		return Take{}, err
	}
	if a.FileName == "" {
		a.FileName = u.FileName
	}
	a.Bytes = u.Bytes
	t, err := d.announce(ctx, d.store, v, s, a)
	if err != nil {
		return Take{}, problemOf(err)
	}
	// The file is copied to the family's, so that it goes when the family goes; then the copy counts.
	f, err := d.blobs.Open(ctx, u.Key())
	if err != nil {
		return Take{}, problemOf(err)
	}
	m, err := d.keepOriginal(ctx, t, u.Type, f)
	if err = errors.Join(err, f.Close()); err != nil {
		return Take{}, problemOf(err)
	}
	var rec Received
	err = d.store.Within(ctx, func(tx Records) (err error) {
		rec, err = d.arrive(ctx, tx, v, t, m, func(t *Take) error {
			t.Announced, t.Changed = u.Arrived, d.now() // it waits since it came, not since it was sorted
			t.Arrived = u.Arrived
			return tx.AddTake(ctx, *t)
		})
		if err != nil {
			return err
		}
		return d.discard(ctx, tx, u)
	})
	if err != nil || rec.Duplicate {
		err = errors.Join(err, d.dropStray(context.WithoutCancel(ctx), m))
	}
	if err != nil {
		return Take{}, problemOf(err)
	}
	return rec.Take, nil
}

// Discard deletes an unsorted file.
func (d *Desk) Discard(ctx context.Context, v Viewer, id UnsortedID) error {
	if err := v.must(itsTheDrop, Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		u, err := tx.Unsorted(ctx, v.Studio, id)
		if err != nil {
			return err
		}
		return d.discard(ctx, tx, u)
	}))
}

func (d *Desk) discard(ctx context.Context, tx Records, u Unsorted) error {
	k := u.Key()
	if err := tx.Doom(ctx, Doomed(k)); err != nil {
		return err
	}
	if err := tx.RemoveUnsorted(ctx, u.Studio, u.ID); err != nil {
		return err
	}
	return d.jobs.Enqueue(ctx, tx, Job{Kind: JobSweep, Studio: u.Studio})
}
