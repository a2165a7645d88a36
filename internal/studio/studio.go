// Package studio holds one teacher's practice: people, works, lessons, takes and what is said about
// them, the use-cases on these, and who may do what.
//
// It keeps rights, promises and order; it stores nothing itself, hears nothing and draws nothing.
// Storage, files and jobs come in as small interfaces, time and randomness as parameters. It knows no
// SQL and no HTTP. What it refuses is answered with a Problem: one sentence for a person.
package studio

import (
	"cmp"
	"context"
	"crypto/rand"
	"io"
	"log/slog"
	"time"
)

// Jobs hands work on. Enqueue writes into the caller's transaction: the job exists exactly when
// what it is about exists.
type Jobs interface {
	Enqueue(ctx context.Context, tx Records, job Job) error
}

// Job is one piece of work that does not wait for a person.
type Job struct {
	Kind     JobKind
	Studio   StudioID
	Take     TakeID     // of JobHear; a model take too
	Unsorted UnsortedID // of JobGuess
	Lesson   LessonID   `json:",omitzero"` // of JobClip, JobFilm and JobSend
	Notice   NoticeID   `json:",omitzero"` // of JobNotify
	At       time.Time  `json:",omitzero"` // not before then; zero at once
}

type JobKind string

const (
	JobHear   JobKind = "hear"   // the ear listens to Take
	JobGuess  JobKind = "guess"  // the ear guesses whose Unsorted is
	JobSpoken JobKind = "spoken" // recorded remarks on Take lose what they tell of place and device
	JobSweep  JobKind = "sweep"  // files of what was deleted are removed
	JobClean  JobKind = "clean"  // what Unclean lists loses what it tells of place and device
)

// Desk is where the use-cases are. It is safe for several goroutines if its parts are.
type Desk struct {
	store   Store
	blobs   Blobs
	jobs    Jobs
	o       DeskOptions
	strays  rounds        // of SweepStrays
	hashing chan struct{} // places at the hashing of passwords
}

// DeskOptions: the zero value is the real clock, the system's randomness, takes up to 2 GiB,
// invitations for a week, and a disk that is not looked at.
type DeskOptions struct {
	Now            func() time.Time // nil means time.Now
	Rand           io.Reader        // nil means crypto/rand; whoever can guess it can guess every id and link
	Zone           *time.Location   // where the studio is; nil means time.Local
	MaxTakeBytes   int64            // 0 means 2 GiB
	InviteFor      time.Duration    // how long a link stays open; 0 means 7 days
	ArriveFor      time.Duration    // an announced take that is not here by then is forgotten; 0 means 3 days
	KeepUnsorted   time.Duration    // 0 means 30 days
	FamilyDayBytes int64            // what a family may send in 24 hours; 0 means 4 GiB
	FamilyBytes    int64            // what is kept of a family in all; 0 means 100 GiB
	FamilyArriving int              // takes of a family that were announced and are not here; 0 means 20
	Arriving       int              // the same of the whole studio; 0 means 500

	// Free is the number of bytes that are free where the studio's facts and recordings are; nil means that
	// nobody can tell. New recordings are refused before less than Reserve is left, so that the database
	// always has room: also deleting needs some.
	Free    func(ctx context.Context) (int64, error)
	Reserve int64 // 0 means 300 MB

	Log *slog.Logger // of what no person asked for; nil means discard
}

func NewDesk(store Store, blobs Blobs, jobs Jobs, o DeskOptions) *Desk {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Rand == nil {
		o.Rand = rand.Reader
	}
	if o.Zone == nil {
		o.Zone = time.Local
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	o.MaxTakeBytes = cmp.Or(o.MaxTakeBytes, 2<<30)
	o.InviteFor = cmp.Or(o.InviteFor, 7*24*time.Hour)
	o.ArriveFor = cmp.Or(o.ArriveFor, 3*24*time.Hour)
	o.KeepUnsorted = cmp.Or(o.KeepUnsorted, 30*24*time.Hour)
	o.FamilyDayBytes = cmp.Or(o.FamilyDayBytes, 4<<30)
	o.FamilyBytes = cmp.Or(o.FamilyBytes, 100<<30)
	o.FamilyArriving = cmp.Or(o.FamilyArriving, 20)
	o.Arriving = cmp.Or(o.Arriving, 500)
	o.Reserve = cmp.Or(o.Reserve, 300<<20)
	return &Desk{store: store, blobs: blobs, jobs: jobs, o: o, hashing: make(chan struct{}, hashesAtOnce)}
}

// now in the precision that every store keeps.
func (d *Desk) now() time.Time { return d.o.Now().UTC().Truncate(time.Microsecond) }

// Found opens a new studio with its teacher, without asking who asks: for what is started by hand.
func (d *Desk) Found(ctx context.Context, name, teacher string) (Studio, Person, error) {
	st, p, err := d.newStudio(name, teacher)
	if err != nil {
		return Studio{}, Person{}, problemOf(err)
	}
	err = d.store.Within(ctx, func(tx Records) error { return d.found(ctx, tx, st, p) })
	if err != nil {
		return Studio{}, Person{}, problemOf(err)
	}
	return st, p, nil
}

func (d *Desk) newStudio(name, teacher string) (st Studio, p Person, err error) {
	name, teacher = named(name, longestName), named(teacher, longestName)
	if name == "" || teacher == "" {
		return st, p, invalid("A studio needs a name and its teacher a name.")
	}
	st = Studio{Name: name, KeepDays: DefaultKeepDays, ReplyDays: DefaultReplyDays, Language: DefaultLanguage, Founded: d.now()}
	if st.ID, err = NewID[StudioID](d.o.Rand); err != nil {
		return st, p, err
	}
	p = Person{Studio: st.ID, Role: Teacher, Name: teacher}
	p.ID, err = NewID[PersonID](d.o.Rand)
	return st, p, err
}

func (d *Desk) found(ctx context.Context, tx Records, st Studio, p Person) error {
	if err := tx.AddStudio(ctx, st); err != nil {
		return err
	}
	return tx.AddPerson(ctx, p)
}
