package studio

import (
	"context"
	"encoding/json"
	"slices"
	"time"
)

// JobNotify tells a person of Notice.
const JobNotify JobKind = "notify"

// Notice is that a person is to be told that something is there. What is said in it is not the studio's; it
// never names a child.
type Notice struct {
	ID     NoticeID
	Studio StudioID
	Family FamilyID // "" for the teacher
	Person PersonID
	Kind   NoticeKind
	About  string    // id of the lesson, take, tap, nudge or letter
	At     time.Time // not before then
	Sent   time.Time // zero while it is not
	Tries  int
	Why    string // it was not sent, or how
	State  NoticeState
}

// NoticeState is how far telling has come. It is written before anything goes out, so that a program which
// is killed on the way knows afterwards that something may have gone out.
type NoticeState string

const (
	Waits      NoticeState = ""        // for its time, or for another try; or it was sent
	TellsNow   NoticeState = "telling" // and how that ended nobody wrote down yet
	TellsAgain NoticeState = "again"   // after an end that nobody wrote down; there is no third time
	GivenUp    NoticeState = "over"    // it was not sent, and will not be
)

// NoticeKind is what a notice is of.
type NoticeKind string

const (
	OfLesson   NoticeKind = "lesson" // to a family, after UnsendFor
	OfNudge    NoticeKind = "nudge"  // to a family
	OfLetter   NoticeKind = "letter" // to a family
	OfHurt     NoticeKind = "hurt"   // to the teacher, at once
	OfQuestion NoticeKind = "question"
	OfTake     NoticeKind = "take"
)

// PushAddress is where a browser wants to be told, as the browser gave it. A device has one.
type PushAddress struct {
	ID     PushID
	Studio StudioID
	Family FamilyID // "" for the teacher
	Person PersonID
	Device DeviceID
	Doc    json.RawMessage
	Added  time.Time
}

// Telling is all that is needed to tell a person.
type Telling struct {
	Notice Notice
	Person Person // Email is "" where it is not confirmed
	Off    string // the secret with which MailsOff stops the mails; "" without an address
	Push   []PushAddress
	Studio Studio

	Language string // that the person reads; the teacher's pages are in English
}

const (
	// bundled is how long a notice of what comes in by itself waits for more of its kind.
	bundled        = 15 * time.Minute
	keptNotices    = 30 * 24 * time.Hour
	longestPushDoc = 4096 // bytes
)

// notify hands a notice on for each of some people who can be told. One of the same kind that a person was
// not told of yet is enough, but of a hurt.
func (d *Desk) notify(ctx context.Context, tx Records, st StudioID, to func(Person) bool, kind NoticeKind, about string, at time.Time) error {
	ps, err := tx.People(ctx, WholeStudio(st))
	if err != nil {
		return err
	}
	for _, p := range ps {
		if !to(p) {
			continue
		}
		in := p.scope()
		if p.EmailAt.IsZero() {
			push, err := tx.PushAddresses(ctx, in, p.ID)
			if err != nil {
				return err
			}
			if len(push) == 0 {
				continue
			}
		}
		ns, err := tx.OpenNotices(ctx, in, p.ID)
		if err != nil {
			return err
		}
		if kind != OfHurt && slices.ContainsFunc(ns, func(n Notice) bool { return n.Kind == kind && (kind != OfLesson || n.About == about) }) {
			continue
		}
		n := Notice{Studio: st, Family: p.Family, Person: p.ID, Kind: kind, About: about, At: at}
		if n.ID, err = NewID[NoticeID](d.o.Rand); err != nil {
			return err
		}
		if err := tx.AddNotice(ctx, n); err != nil {
			return err
		}
		if err := d.jobs.Enqueue(ctx, tx, Job{Kind: JobNotify, Studio: st, Notice: n.ID, At: at}); err != nil {
			return err
		}
	}
	return nil
}

// scope in which a person's own rows are.
func (p Person) scope() Scope {
	if p.Role == Teacher {
		return WholeStudio(p.Studio)
	}
	return OneFamily(p.Studio, p.Family)
}

func theTeachers(p Person) bool { return p.Role == Teacher }

func ofFamily(f FamilyID) func(Person) bool {
	return func(p Person) bool { return p.Role == Coach && p.Family == f }
}

const itsTheTelling = "Telling people is the program's own work."

// ToTell is a notice with whom it is for. NotFound where it was taken back.
func (d *Desk) ToTell(ctx context.Context, v Viewer, id NoticeID) (Telling, error) {
	if err := v.must(itsTheTelling, Ear); err != nil {
		return Telling{}, err
	}
	var t Telling
	var err error
	if t.Notice, err = d.store.Notice(ctx, v.scope(), id); err != nil {
		return Telling{}, problemOf(err)
	}
	if t.Person, err = d.self(ctx, d.store, Viewer{Studio: v.Studio, Role: Ear, Person: t.Notice.Person}); err != nil {
		return Telling{}, problemOf(err)
	}
	if t.Person.EmailAt.IsZero() {
		t.Person.Email = ""
	} else if t.Off, err = d.store.MailsOffSecret(ctx, t.Person); err != nil {
		return Telling{}, problemOf(err)
	}
	if t.Push, err = d.store.PushAddresses(ctx, t.Person.scope(), t.Person.ID); err != nil {
		return Telling{}, problemOf(err)
	}
	if t.Studio, err = d.store.Studio(ctx, v.Studio); err != nil {
		return Telling{}, problemOf(err)
	}
	if t.Language = DefaultLanguage; t.Person.Role == Coach {
		t.Language, err = spokenIn(ctx, d.store, t.Person.scope(), t.Person.ID)
	}
	return t, problemOf(err)
}

// Told keeps how it goes with a notice: Sent, Tries, Why and State.
func (d *Desk) Told(ctx context.Context, v Viewer, n Notice) error {
	if err := v.must(itsTheTelling, Ear); err != nil {
		return err
	}
	n.Studio, n.Why = v.Studio, named(n.Why, longestTitle)
	return problemOf(d.store.PutNotice(ctx, n))
}

// GiveUpNotice ends the tries to tell of a notice, so that the next one of its kind does not wait for it.
func (d *Desk) GiveUpNotice(ctx context.Context, v Viewer, id NoticeID) error {
	if err := v.must(itsTheTelling, Ear); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		n, err := tx.Notice(ctx, v.scope(), id)
		if err != nil || !n.Sent.IsZero() {
			return err
		}
		n.State = GivenUp
		return tx.PutNotice(ctx, n)
	}))
}

// AddPush keeps where the viewer's device wants to be told, instead of an older place.
func (d *Desk) AddPush(ctx context.Context, v Viewer, doc json.RawMessage) (PushAddress, error) {
	if err := v.must("Notices are for the teacher and the families.", Teacher, Coach); err != nil {
		return PushAddress{}, err
	}
	var head struct {
		Endpoint string `json:"endpoint"`
	}
	if len(doc) > longestPushDoc || json.Unmarshal(doc, &head) != nil || len(head.Endpoint) < len("https://a.b") || head.Endpoint[:8] != "https://" {
		return PushAddress{}, invalid("The page sent something that makes no sense. Load it again.")
	}
	a := PushAddress{Studio: v.Studio, Family: v.Family, Person: v.Person, Device: v.Device, Doc: doc, Added: d.now()}
	var err error
	if a.ID, err = NewID[PushID](d.o.Rand); err != nil {
		return PushAddress{}, problemOf(err)
	}
	if err := d.store.Within(ctx, func(tx Records) error { return tx.PutPush(ctx, a) }); err != nil {
		return PushAddress{}, problemOf(err)
	}
	return a, nil
}

// PushOf lists where a person wants to be told: for the program, and the person.
func (d *Desk) PushOf(ctx context.Context, v Viewer, p PersonID) ([]PushAddress, error) {
	if v.Role != Ear && v.Person != p {
		return nil, problemOf(ErrNotFound)
	}
	l, err := d.store.PushAddresses(ctx, v.scope(), p)
	return l, problemOf(err)
}

// RemovePush forgets one: by the program where nobody is there any more, by the person, and by the teacher.
func (d *Desk) RemovePush(ctx context.Context, v Viewer, id PushID) error {
	return problemOf(d.store.RemovePush(ctx, v.scope(), id))
}
