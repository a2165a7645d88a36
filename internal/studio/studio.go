// Package studio holds one teacher's practice: people, works, lessons, takes and what is said about
// them, the use-cases on these, and who may do what.
//
// It keeps rights, promises and order; it stores nothing itself, hears nothing and draws nothing.
// Storage, files and jobs come in as small interfaces, time and randomness as parameters. It knows no
// SQL and no HTTP. What it refuses is answered with a Problem: one sentence for a person.
package studio

import (
	"context"
	"crypto/rand"
	"io"
	"time"
)

// Jobs hands work on. Enqueue writes into the caller's transaction: the job exists exactly when
// what it is about exists.
type Jobs interface {
	Enqueue(ctx context.Context, tx Records, job Job) error
}

// Job is one piece of work that does not wait for a person.
type Job struct {
	Kind   JobKind
	Studio StudioID
	Take   TakeID // "" for JobSweep
}

type JobKind string

const (
	JobHear  JobKind = "hear"  // the ear listens to Take
	JobSweep JobKind = "sweep" // files of what was deleted are removed
)

// Desk is where the use-cases are. It is safe for several goroutines if its parts are.
type Desk struct {
	store Store
	blobs Blobs
	jobs  Jobs
	o     DeskOptions
}

// DeskOptions: the zero value is the real clock, the system's randomness, takes up to 2 GiB and
// invitations for a week.
type DeskOptions struct {
	Now          func() time.Time // nil means time.Now
	Rand         io.Reader        // nil means crypto/rand; whoever can guess it can guess every id and link
	MaxTakeBytes int64            // 0 means 2 GiB
	InviteFor    time.Duration    // how long a link stays open; 0 means 7 days
}

func NewDesk(store Store, blobs Blobs, jobs Jobs, o DeskOptions) *Desk {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Rand == nil {
		o.Rand = rand.Reader
	}
	if o.MaxTakeBytes == 0 {
		o.MaxTakeBytes = 2 << 30
	}
	if o.InviteFor == 0 {
		o.InviteFor = 7 * 24 * time.Hour
	}
	return &Desk{store, blobs, jobs, o}
}

// now in the precision that every store keeps.
func (d *Desk) now() time.Time { return d.o.Now().UTC().Truncate(time.Microsecond) }

// Found opens a new studio with its teacher.
func (d *Desk) Found(ctx context.Context, name, teacher string) (Studio, Person, error) {
	name, teacher = tidy(name), tidy(teacher)
	if name == "" || teacher == "" {
		return Studio{}, Person{}, invalid("A studio needs a name and its teacher a name.")
	}
	sid, err := NewID[StudioID](d.o.Rand)
	if err != nil {
		return Studio{}, Person{}, problemOf(err)
	}
	pid, err := NewID[PersonID](d.o.Rand)
	if err != nil {
		return Studio{}, Person{}, problemOf(err)
	}
	st := Studio{ID: sid, Name: name, KeepDays: DefaultKeepDays, Founded: d.now()}
	p := Person{ID: pid, Studio: sid, Role: Teacher, Name: teacher}
	err = d.store.Within(ctx, func(tx Records) error {
		if err := tx.AddStudio(ctx, st); err != nil {
			return err
		}
		return tx.AddPerson(ctx, p)
	})
	return st, p, problemOf(err)
}
