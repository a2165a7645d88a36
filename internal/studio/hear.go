package studio

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"io"
	"math"
	"slices"
	"strings"
)

const hearingSchema = "antiphon.hearing/"

const itsTheEars = "Hearing is the program's own work."

// Material is all that the ear needs to hear a take.
type Material struct {
	Take        Take
	Student     Student // with an empty name for the teacher's own take
	Original    Media
	Work        *Work // with its score as this student plays it; nil while nobody said what is played
	FromBar     string
	ToBar       string
	Goals       Goals
	Corrections []Correction // of earlier hearings of this take
	Candidates  []Work       // with scores, what it may be; of one studio always in the same order
	Asked       []WorkID     // of the candidates, what was asked of the student, the latest first
	Turn        int          // to be given back in Heard
}

// mostCandidates is how many works the ear is offered; the ones asked of the student are among them.
const mostCandidates = 300

// BeginHearing takes a waiting take into hand. A take that was being heard when the machine stopped
// is begun again; whoever began before is then refused.
func (d *Desk) BeginHearing(ctx context.Context, v Viewer, id TakeID) (Material, error) {
	if err := v.must(itsTheEars, Ear); err != nil {
		return Material{}, err
	}
	var m Material
	in := v.scope()
	err := d.store.Within(ctx, func(tx Records) (err error) {
		if m.Take, err = tx.Take(ctx, in, id); err != nil {
			return err
		}
		if m.Original, err = mediaOf(ctx, tx, in, id, Original); err != nil {
			return err
		}
		m.Take.State, m.Take.Why = BeingHeard, ""
		m.Take.Turn++
		m.Turn = m.Take.Turn
		return d.move(ctx, tx, &m.Take, Waiting, BeingHeard)
	})
	if err != nil {
		return Material{}, problemOf(err)
	}
	return m, problemOf(d.gather(ctx, in, &m))
}

// gather reads what stands beside a take that is to be heard.
func (d *Desk) gather(ctx context.Context, in Scope, m *Material) error {
	var err error
	if m.Student, err = d.store.Student(ctx, in, m.Take.Student); err != nil {
		return err
	}
	if m.Take.Assignment != "" {
		a, _, err := d.store.Assigned(ctx, in, m.Take.Student, m.Take.Assignment)
		if err != nil {
			return err
		}
		if m.Take.Work == a.Work {
			m.FromBar, m.ToBar, m.Goals = a.FromBar, a.ToBar, a.Goals
		}
	}
	if m.Take.Work != "" {
		w, err := d.store.Work(ctx, in.Studio(), m.Take.Work)
		if err != nil {
			return err
		}
		if w, err = fingeredFor(ctx, d.store, in, m.Take.Student, w); err != nil {
			return err
		}
		m.Work = &w
	}
	if m.Corrections, err = d.store.Corrections(ctx, in, m.Take.ID); err != nil {
		return err
	}
	m.Candidates, m.Asked, err = d.candidates(ctx, d.store, in, m.Take.Student)
	return err
}

// candidates stand in the same order whoever plays, so that what was made ready of them serves again.
func (d *Desk) candidates(ctx context.Context, r Records, in Scope, s StudentID) (ws []Work, asked []WorkID, err error) {
	if ws, err = r.Candidates(ctx, in.Studio(), s, mostCandidates); err != nil {
		return nil, nil, err
	}
	of := map[WorkID]CourseLine{}
	if s != "" {
		lines, err := r.Course(ctx, in, s)
		if err != nil {
			return nil, nil, err
		}
		for _, l := range lines {
			of[l.Work] = l
		}
	}
	for _, w := range ws {
		if of[w.ID].Asked > 0 {
			asked = append(asked, w.ID)
		}
	}
	slices.SortStableFunc(asked, func(a, b WorkID) int { return cmp.Compare(of[b].Last, of[a].Last) })
	slices.SortFunc(ws, func(a, b Work) int {
		return cmp.Or(a.Added.Compare(b.Added), cmp.Compare(a.ID, b.ID))
	})
	return ws, asked, nil
}

// move keeps a take in a new state, and gives it the time of the change.
func (d *Desk) move(ctx context.Context, tx Records, t *Take, from ...TakeState) error {
	now := d.now()
	if err := tx.MoveTake(ctx, *t, now, from...); err != nil {
		return err
	}
	t.Changed = now
	return nil
}

func mediaOf(ctx context.Context, r Records, in Scope, id TakeID, kind MediaKind) (Media, error) {
	ms, err := r.Media(ctx, in, id)
	if err != nil {
		return Media{}, err
	}
	for _, m := range ms {
		if m.Kind == kind {
			return m, nil
		}
	}
	return Media{}, ErrNotFound
}

// Heard is what the ear found out about a take.
type Heard struct {
	Doc        []byte // the whole JSON document of the hearing; nil where a take is set aside without one
	Summary    Summary
	Concerns   []Concern
	SoundsLike []Likeness
	SameAs     TakeID
	DurationS  float64
	Print      []byte
	Turn       int // Material's; 0 is not checked
}

// put writes what was heard into a take.
func (h Heard) put(ctx context.Context, tx Records, t *Take) error {
	if math.IsNaN(h.DurationS) || math.IsInf(h.DurationS, 0) || h.DurationS < 0 {
		return invalid("A take does not last %v seconds.", h.DurationS)
	}
	if h.Turn != 0 && h.Turn != t.Turn {
		return ErrConflict // it was begun anew meanwhile
	}
	if h.SameAs != "" {
		if _, err := tx.Take(ctx, OneFamily(t.Studio, t.Family), h.SameAs); err != nil {
			return err
		}
	}
	t.Concerns, t.SoundsLike, t.SameAs = h.Concerns, h.SoundsLike, h.SameAs
	if h.DurationS > 0 {
		t.DurationS = h.DurationS
	}
	if h.Print == nil {
		return nil
	}
	return tx.AddPrint(ctx, Print{Studio: t.Studio, Family: t.Family, Student: t.Student, Take: t.ID, Bytes: h.Print, Arrived: t.Arrived})
}

// KeepHearing keeps what the ear measured, as the contract it came in: the take is ready.
func (d *Desk) KeepHearing(ctx context.Context, v Viewer, id TakeID, heard Heard) (Hearing, error) {
	if err := v.must(itsTheEars, Ear); err != nil {
		return Hearing{}, err
	}
	h, err := d.hearing(heard.Doc)
	if err != nil {
		return Hearing{}, problemOf(err)
	}
	err = d.store.Within(ctx, func(tx Records) error {
		t, err := tx.Take(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		if err := keep(ctx, tx, &h, &t, heard); err != nil {
			return err
		}
		t.State, t.Why = Ready, ""
		return d.move(ctx, tx, &t, BeingHeard)
	})
	if err != nil {
		return Hearing{}, problemOf(err)
	}
	return h, nil
}

func keep(ctx context.Context, tx Records, h *Hearing, t *Take, heard Heard) error {
	if err := heard.put(ctx, tx, t); err != nil {
		return err
	}
	h.Studio, h.Family, h.Take = t.Studio, t.Family, t.ID
	t.Summary = &heard.Summary
	if err := tx.AddHearing(ctx, *h); err != nil {
		return err
	}
	return countBars(ctx, tx, *h)
}

// hearing makes a record of a document, still without its take.
func (d *Desk) hearing(doc []byte) (Hearing, error) {
	var head struct {
		Schema string `json:"schema"`
	}
	if err := json.Unmarshal(doc, &head); err != nil {
		return Hearing{}, &Problem{Invalid, "This is no hearing.", err}
	}
	if !strings.HasPrefix(head.Schema, hearingSchema) {
		return Hearing{}, invalid("This is no hearing: its schema is %q.", head.Schema)
	}
	var small bytes.Buffer
	if err := json.Compact(&small, doc); err != nil {
		return Hearing{}, &Problem{Invalid, "This is no hearing.", err}
	}
	id, err := NewID[HearingID](d.o.Rand)
	return Hearing{ID: id, Schema: head.Schema, JSON: small.Bytes(), Heard: d.now()}, err
}

// SetAside says why the ear could do nothing with a take. The take stays, with whatever was found out.
func (d *Desk) SetAside(ctx context.Context, v Viewer, id TakeID, why string, heard Heard) error {
	if err := v.must(itsTheEars, Ear); err != nil {
		return err
	}
	if why = tidy(why); why == "" {
		return invalid("A take that needs a look needs a reason.")
	}
	var h Hearing
	if heard.Doc != nil {
		var err error
		if h, err = d.hearing(heard.Doc); err != nil {
			return problemOf(err)
		}
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		t, err := tx.Take(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		if heard.Doc != nil {
			err = keep(ctx, tx, &h, &t, heard)
		} else {
			err = heard.put(ctx, tx, &t)
		}
		if err != nil {
			return err
		}
		t.State, t.Why = NeedsALook, why
		return d.move(ctx, tx, &t, Waiting, BeingHeard)
	}))
}

// HearAgain sends a take to the ear once more, after a correction or with another score.
func (d *Desk) HearAgain(ctx context.Context, v Viewer, id TakeID) error {
	if err := v.must("Only the teacher has a take heard again.", Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		t, err := tx.Take(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		err = d.sendToTheEar(ctx, tx, t, Ready, NeedsALook)
		if errors.Is(err, errNoRecording) {
			return &Problem{Conflict, "There is no recording here that could be heard.", err}
		}
		return err
	}))
}

var errNoRecording = errors.New("a take without a recording")

func (d *Desk) sendToTheEar(ctx context.Context, tx Records, t Take, from ...TakeState) error {
	_, err := mediaOf(ctx, tx, OneFamily(t.Studio, t.Family), t.ID, Original)
	if errors.Is(err, ErrNotFound) {
		return errNoRecording
	}
	if err != nil {
		return err
	}
	t.State, t.Why = Waiting, ""
	if err := d.move(ctx, tx, &t, from...); err != nil {
		return err
	}
	return d.jobs.Enqueue(ctx, tx, Job{Kind: JobHear, Studio: t.Studio, Take: t.ID})
}

// Bytes opens a file for the ear. It is in nobody's log.
func (d *Desk) Bytes(ctx context.Context, v Viewer, m Media) (io.ReadSeekCloser, error) {
	if err := v.must(itsTheEars, Ear); err != nil {
		return nil, err
	}
	if m.Studio != v.Studio {
		return nil, problemOf(ErrNotFound)
	}
	f, err := d.blobs.Open(ctx, m.Key())
	return f, problemOf(err)
}
