package studio

import (
	"archive/zip"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"
)

// Export is everything that is kept about one family.
type Export struct {
	Family      Family
	People      []Person
	Students    []Student
	Consents    []Consent
	Devices     []Device
	Lessons     []Lesson // that were sent
	Takes       []Take
	Media       []Media
	Hearings    []Hearing
	Heard       []HeardOnce // what plans and memory go by: each take, with what was heard of it bar by bar
	Corrections []Correction
	Remarks     []Remark
	Answers     []Answer
	Films       []Film
	Taps        []Tap
	Fingerings  []OwnFingering // that hold or held, and those to be tried that were sent
	Plans       []StudentPlan  // what the teacher settled and said for plans
	Forecasts   []Forecast
	Nudges      []Nudge
	Letters     []Letter // that were sent
	Notices     []Notice
	Push        []PushAddress
	Invitations []Invitation
	Prints      []Print // what the program keeps to know the same sound again
	AccessLog   []Access
}

// ExportFamily writes everything about a family into a zip: family.json, and each file of each take
// and each lesson under files/. The family itself may, the teacher may.
func (d *Desk) ExportFamily(ctx context.Context, v Viewer, id FamilyID, w io.Writer) error {
	if err := v.must("A family is exported by itself or by the teacher.", Teacher, Coach); err != nil {
		return err
	}
	if v.Role == Coach && v.Family != id {
		return problemOf(ErrNotFound)
	}
	var e Export
	err := d.store.Within(ctx, func(tx Records) (err error) {
		if e, err = collect(ctx, tx, OneFamily(v.Studio, id)); err != nil {
			return err
		}
		for _, s := range e.Students {
			if err := tx.LogAccess(ctx, Access{Studio: v.Studio, Family: id, Student: s.ID, By: v.Person, Role: v.Role, What: "exported", At: d.now()}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return problemOf(err)
	}
	return problemOf(d.pack(ctx, e, w))
}

func (d *Desk) pack(ctx context.Context, e Export, w io.Writer) error {
	z := zip.NewWriter(w)
	f, err := z.Create("family.json")
	if err != nil {
		return err
	}
	enc := json.NewEncoder(f)
	enc.SetIndent("", "  ")
	if err := enc.Encode(e); err != nil {
		return err
	}
	for _, m := range e.Media {
		if err := d.packFile(ctx, z, m); err != nil {
			return fmt.Errorf("exporting file %s: %w", m.ID, err)
		}
	}
	return z.Close()
}

// packFile leaves out what was deleted since the list was made, and remarks that still tell where the
// teacher was; and only that.
func (d *Desk) packFile(ctx context.Context, z *zip.Writer, m Media) error {
	if m.Kind.told() && !m.Clean {
		return nil
	}
	b, err := d.blobs.Open(ctx, m.Key())
	if errors.Is(err, ErrNotFound) {
		if _, asked := d.store.MediaByID(ctx, OneFamily(m.Studio, m.Family), m.ID); errors.Is(asked, ErrNotFound) {
			return nil
		}
	}
	if err != nil {
		return err
	}
	defer b.Close()
	// Recordings are compressed already.
	f, err := z.CreateHeader(&zip.FileHeader{Name: fmt.Sprintf("files/%s/%s-%s", cmp.Or(string(m.Take), string(m.Lesson), "home"), m.Kind, m.ID), Method: zip.Store})
	if err != nil {
		return err
	}
	_, err = io.Copy(f, b)
	return err
}

// collect asks for everything in a family's scope. Drafts are the teacher's.
func collect(ctx context.Context, r Records, in Scope) (e Export, err error) {
	fs, err := r.Families(ctx, in)
	if err != nil {
		return e, err
	}
	if len(fs) != 1 {
		return e, ErrNotFound
	}
	e.Family = fs[0]
	for _, ask := range []func() error{
		func() (err error) { e.People, err = r.People(ctx, in); return },
		func() (err error) { e.Students, err = r.Students(ctx, in); return },
		func() (err error) { e.Consents, err = r.Consents(ctx, in); return },
		func() (err error) { e.Devices, err = r.Devices(ctx, in); return },
		func() (err error) { e.Lessons, err = r.Lessons(ctx, in, LessonQuery{}); return },
		func() (err error) { e.Takes, err = r.Takes(ctx, in, TakeQuery{}); return },
		func() (err error) { e.Media, err = r.Media(ctx, in, ""); return },
		func() (err error) { e.Hearings, err = r.Hearings(ctx, in, ""); return },
		func() error {
			h, err := r.History(ctx, in, "", time.Time{}, time.Time{}, 0)
			e.Heard = h.Heard
			return err
		},
		func() (err error) { e.Corrections, err = r.Corrections(ctx, in, ""); return },
		func() (err error) { e.Remarks, err = r.Remarks(ctx, in, ""); return },
		func() (err error) { e.Answers, err = r.Answers(ctx, in, ""); return },
		func() (err error) { e.Films, err = r.Films(ctx, in); return },
		func() (err error) { e.Nudges, err = r.Nudges(ctx, in, ""); return },
		func() (err error) { e.Letters, err = r.Letters(ctx, in, ""); return },
		func() (err error) { e.Notices, err = r.Notices(ctx, in); return },
		func() (err error) { e.Push, err = r.PushAddresses(ctx, in, ""); return },
		func() (err error) { e.Taps, err = r.Taps(ctx, in, TapQuery{}); return },
		func() (err error) { e.Fingerings, err = r.Fingerings(ctx, in, "", ""); return },
		func() (err error) { e.Plans, err = r.StudentPlans(ctx, in); return },
		func() (err error) { e.Forecasts, err = r.Forecasts(ctx, in, ""); return },
		func() (err error) { e.Invitations, err = r.Invitations(ctx, in); return },
		func() (err error) { e.Prints, err = r.Prints(ctx, in, "", time.Time{}); return },
		func() (err error) { e.AccessLog, err = r.AccessLog(ctx, in, "", 0); return },
	} {
		if err := ask(); err != nil {
			return e, err
		}
	}
	sent, tried := map[LessonID]bool{}, map[FingeringID]bool{}
	for _, l := range e.Lessons {
		sent[l.ID] = true
		for _, a := range l.Assignments {
			tried[a.Ways[0].Own], tried[a.Ways[1].Own] = true, true
		}
	}
	e.Fingerings = slices.DeleteFunc(e.Fingerings, func(f OwnFingering) bool { return f.Held.IsZero() && !tried[f.ID] })
	e.Answers = slices.DeleteFunc(e.Answers, func(a Answer) bool { return !sent[a.Lesson] })
	e.Films = slices.DeleteFunc(e.Films, func(f Film) bool { return !sent[f.Lesson] })
	e.Letters = slices.DeleteFunc(e.Letters, func(l Letter) bool { return l.Sent.IsZero() })
	e.Media = slices.DeleteFunc(e.Media, func(m Media) bool { return m.Lesson != "" && !sent[m.Lesson] })
	return e, nil
}
