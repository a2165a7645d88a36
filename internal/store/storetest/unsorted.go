package storetest

import (
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// unsorted: files without a name are safe, guessed at, sorted or discarded, and go when their time is over.
func unsorted(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	a, mira := h.Join(t, f, "Abel", "Mira")
	w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Three Blind Mice", Score: "<score/>"})
	must(t, err)
	u, err := h.Desk.Drop(ctx, f.Teacher, `C:\Videos\..\Mira week 3.mp4`, "video/mp4", strings.NewReader("mice"))
	must(t, err)
	if u.FileName != "Mira week 3.mp4" || u.State != studio.Waiting || u.Bytes != 4 {
		t.Errorf("dropped: %+v", u)
	}
	if again, err := h.Desk.Drop(ctx, f.Ear, "inbox.mp4", "video/mp4", strings.NewReader("mice")); err != nil || again.ID != u.ID {
		t.Errorf("the same bytes again: %+v, %v", again, err)
	}
	_, err = h.Desk.Drop(ctx, f.Teacher, "x", "video/mp4", strings.NewReader(""))
	refused(t, "nothing", err, studio.Invalid)
	_, err = h.Desk.Drop(ctx, f.Teacher, "x", "text/html", strings.NewReader("x"))
	refused(t, "no recording", err, studio.Invalid)
	_, err = h.Desk.Drop(ctx, f.Teacher, "x", "video/mp4", strings.NewReader(strings.Repeat("x", 1<<16+1)))
	refused(t, "too large", err, studio.TooLarge)
	if n := h.files(t, f); n != 1 {
		t.Errorf("%d files of one drop", n)
	}
	if want := (studio.Job{Kind: studio.JobGuess, Studio: f.Studio.ID, Unsorted: u.ID}); len(h.Jobs.All) != 1 || h.Jobs.All[0] != want {
		t.Errorf("jobs: %+v", h.Jobs.All)
	}
	c, err := h.Desk.BeginGuess(ctx, f.Ear, u.ID)
	must(t, err)
	if len(c.Students) != 1 || len(c.Families) != 1 || len(c.Works) != 1 || c.Works[0].Score == "" || c.Unsorted.State != studio.BeingHeard {
		t.Errorf("clues: %+v", c)
	}
	must(t, h.Desk.PutAside(ctx, f.Ear, u.ID, "Too quiet."))
	must(t, h.Desk.KeepGuesses(ctx, f.Ear, u.ID, []studio.Guess{{Student: mira, Work: w.ID, Confidence: 0.9, Why: "The file is called Mira."}}))
	all, err := h.Desk.Unsorted(ctx, f.Teacher)
	must(t, err)
	if len(all) != 1 || all[0].State != studio.Ready || all[0].Why != "" || len(all[0].Guesses) != 1 || all[0].Guesses[0].Student != mira {
		t.Errorf("unsorted: %+v", all)
	}
	_, file, err := h.Desk.OpenUnsorted(ctx, f.Teacher, u.ID)
	must(t, err)
	got, err := io.ReadAll(file)
	must(t, errors.Join(err, file.Close()))
	if string(got) != "mice" {
		t.Errorf("the file is %q", got)
	}
	h.Now = h.Now.Add(time.Hour)
	_, err = h.Desk.Sort(ctx, f.Teacher, u.ID, studio.Announcement{Student: "zzzzzzzzzzzzzzzzzzzzzzzzzz"})
	refused(t, "sorted to nobody", err, studio.NotFound)
	take, err := h.Desk.Sort(ctx, f.Teacher, u.ID, studio.Announcement{Student: mira, Work: w.ID})
	must(t, err)
	stored, err := h.Store.Take(ctx, studio.OneFamily(a.Studio, a.Family), take.ID)
	must(t, err)
	if stored.State != studio.Waiting || !stored.Arrived.Equal(u.Arrived) || stored.Work != w.ID || stored.FileName != "Mira week 3.mp4" || stored.Bytes != 4 {
		t.Errorf("sorted: %+v", stored)
	}
	h.heard(t, f.Ear, take.ID, hearing)
	// The family sends the same itself, then the teacher sorts it once more: it is one take.
	if again := h.Send(t, a, mira, "mice"); !again.Duplicate || again.Take.ID != take.ID {
		t.Errorf("sent again: %+v", again)
	}
	twice, err := h.Desk.Drop(ctx, f.Teacher, "again.mp4", "video/mp4", strings.NewReader("mice"))
	must(t, err)
	if same, err := h.Desk.Sort(ctx, f.Teacher, twice.ID, studio.Announcement{Student: mira}); err != nil || same.ID != take.ID {
		t.Errorf("sorted again: %+v, %v", same, err)
	}
	other, err := h.Desk.Drop(ctx, f.Teacher, "other.mp4", "video/mp4", strings.NewReader("other"))
	must(t, err)
	must(t, h.Desk.Discard(ctx, f.Teacher, other.ID))
	refused(t, "discarding twice", h.Desk.Discard(ctx, f.Teacher, other.ID), studio.NotFound)
	late, err := h.Desk.Drop(ctx, f.Teacher, "late.mp4", "video/mp4", strings.NewReader("late"))
	must(t, err)
	must(t, h.Desk.Sweep(ctx, f.Ear))
	if n := h.files(t, f); n != 2 { // the take's, and the one that waits
		t.Errorf("%d files are left", n)
	}
	h.Now = late.Arrived.AddDate(0, 0, 30).Add(-time.Second)
	h.keepTheClock(t, h.Desk, f)
	if all, err := h.Desk.Unsorted(ctx, f.Teacher); err != nil || len(all) != 1 {
		t.Errorf("too early: %+v, %v", all, err)
	}
	h.Now = h.Now.Add(time.Second)
	r := h.keepTheClock(t, h.Desk, f)
	must(t, h.Desk.Sweep(ctx, f.Ear))
	if all, err := h.Desk.Unsorted(ctx, f.Teacher); err != nil || len(all) != 0 || r.Files != 1 || r.Takes != 0 || h.files(t, f) != 1 {
		t.Errorf("after its time: %+v, %+v, %v", all, r, err)
	}
}

// files of a studio on the disk.
func (h *House) files(t *testing.T, f Founded) (n int) {
	t.Helper()
	must(t, h.Blobs.Each(t.Context(), f.Studio.ID, func(studio.BlobKey, time.Time) error { n++; return nil }))
	return n
}

// models: the teacher's own take is heard like any, stands in no list, and a family hears it only of a
// work that it was asked to play.
func models(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	a, mira := h.Join(t, f, "Abel", "Mira")
	b, _ := h.Join(t, f, "Bartsch", "Jon")
	w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Tallis's Canon", Score: "<score/>"})
	must(t, err)
	_, err = h.Desk.ReceiveModel(ctx, f.Teacher, w.ID, "text/plain", strings.NewReader("no"))
	refused(t, "no recording", err, studio.Invalid)
	m, err := h.Desk.ReceiveModel(ctx, f.Teacher, w.ID, "video/mp4", strings.NewReader("how it goes"))
	must(t, err)
	if m.State != studio.Waiting || m.Work != w.ID {
		t.Errorf("model: %+v", m)
	}
	material, err := h.Desk.BeginHearing(ctx, f.Ear, m.ID)
	must(t, err)
	if material.Work == nil || material.Work.Score != "<score/>" || !material.Take.Model() {
		t.Errorf("material: %+v", material)
	}
	h.clean(t, f.Ear, material)
	_, err = h.Desk.KeepRendition(ctx, f.Ear, m.ID, studio.Playable, "video/mp4", strings.NewReader("playable"))
	must(t, err)
	_, err = h.Desk.KeepHearing(ctx, f.Ear, m.ID, studio.Heard{Doc: []byte(hearing), DurationS: 60, Turn: material.Turn})
	must(t, err)
	for _, v := range []studio.Viewer{f.Teacher, a} {
		fs, err := h.Desk.Families(ctx, v)
		must(t, err)
		ss, err := h.Desk.Students(ctx, v)
		must(t, err)
		for _, x := range fs {
			if x.ID == studio.Shelf(f.Studio.ID) {
				t.Errorf("the shelf is a family to %s", v.Role)
			}
		}
		for _, x := range ss {
			if x.Family == studio.Shelf(f.Studio.ID) {
				t.Errorf("the shelf is a student to %s", v.Role)
			}
		}
		ts, err := h.Desk.TakesBy(ctx, v, studio.TakeQuery{})
		must(t, err)
		if len(ts) != 0 {
			t.Errorf("takes of %s: %+v", v.Role, ts)
		}
	}
	if look, err := h.Desk.Look(ctx, f.Teacher); err != nil || len(look.Waiting) != 0 || len(look.Arriving) != 0 {
		t.Errorf("the desk: %+v, %v", look, err)
	}
	_, err = h.Desk.EraseFamily(ctx, f.Teacher, studio.Shelf(f.Studio.ID))
	refused(t, "erasing the shelf", err, studio.NotFound)

	ms, err := h.Desk.ModelTakes(ctx, f.Teacher, w.ID)
	must(t, err)
	if len(ms) != 1 || ms[0].State != studio.Ready || len(ms[0].Media) != 2 || ms[0].DurationS != 60 {
		t.Fatalf("models: %+v", ms)
	}
	play := ms[0].Media[1].ID
	_, _, err = h.Desk.Listen(ctx, a, play)
	refused(t, "a family that was not asked", err, studio.NotFound)
	l, err := h.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: mira, Date: "2026-03-02", Assignments: []studio.Assignment{{Work: w.ID}}})
	must(t, err)
	_, _, err = h.Desk.Listen(ctx, a, play)
	refused(t, "a draft", err, studio.NotFound)
	must(t, h.Desk.SendLesson(ctx, f.Teacher, l.ID, l.Version))
	_, file, err := h.Desk.Listen(ctx, a, play)
	must(t, err)
	must(t, file.Close())
	if ms, err := h.Desk.ModelTakes(ctx, a, w.ID); err != nil || len(ms) != 1 {
		t.Errorf("models of the family: %+v, %v", ms, err)
	}
	for _, v := range []studio.Viewer{b, {}, {Studio: f.Studio.ID, Role: "guest"}} {
		_, _, err = h.Desk.Listen(ctx, v, play)
		refused(t, "another family", err, studio.NotFound)
		_, err = h.Desk.ModelTakes(ctx, v, w.ID)
		refused(t, "another family's models", err, studio.NotFound)
	}
	for _, v := range []studio.Viewer{a, b} {
		_, err = h.Desk.ReviewTake(ctx, v, m.ID)
		refused(t, "reviewing the teacher", err, studio.NotFound)
	}
	take := h.Send(t, a, mira, "mira's")
	must(t, h.Desk.Assign(ctx, f.Teacher, take.Take.ID, l.Assignments[0].ID, ""))
	h.heard(t, f.Ear, take.Take.ID, hearing)
	r, err := h.Desk.ReviewTake(ctx, f.Teacher, take.Take.ID)
	must(t, err)
	if r.Model == nil || r.Model.ID != m.ID || r.Model.Hearing == nil || len(r.Model.Media) != 2 || r.Work == nil || r.Work.Score == "" || r.Assignment == nil || r.LessonDate != "2026-03-02" {
		t.Errorf("review: %+v", r)
	}
	h.Now = h.Now.AddDate(20, 0, 0)
	rc := h.keepTheClock(t, h.Desk, f)
	if ms, err := h.Desk.ModelTakes(ctx, f.Teacher, w.ID); err != nil || len(ms) != 1 || rc.Takes != 1 {
		t.Errorf("after 20 years: %+v, %+v, %v", ms, rc, err)
	}
	_, err = h.Desk.DeleteTake(ctx, f.Teacher, m.ID)
	must(t, err)
	must(t, h.Desk.Sweep(ctx, f.Ear))
	if n := h.files(t, f); n != 0 {
		t.Errorf("%d files are left", n)
	}
}

// quotas: what is more than agreed is refused before its bytes, and what never comes is forgotten.
func quotas(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	a, mira := h.Join(t, f, "Abel", "Mira")
	b, jon := h.Join(t, f, "Bartsch", "Jon")
	d := h.desk(studio.DeskOptions{MaxTakeBytes: 1000, FamilyDayBytes: 1500, FamilyBytes: 4000, FamilyArriving: 3, Arriving: 4})
	_, err := d.Announce(ctx, a, studio.Announcement{Student: mira, Bytes: 10 << 30})
	refused(t, "ten gigabytes", err, studio.TooLarge)
	_, err = d.Announce(ctx, a, studio.Announcement{Student: mira, Bytes: -1})
	refused(t, "less than nothing", err, studio.Invalid)
	var coming []studio.Take
	for range 3 {
		x, err := d.Announce(ctx, a, studio.Announcement{Student: mira})
		must(t, err)
		coming = append(coming, x)
	}
	_, err = d.Announce(ctx, a, studio.Announcement{Student: mira})
	refused(t, "a fourth on its way", err, studio.TooMany)
	_, err = d.Announce(ctx, b, studio.Announcement{Student: jon})
	must(t, err)
	_, err = d.Announce(ctx, b, studio.Announcement{Student: jon})
	refused(t, "a fifth in the studio", err, studio.TooMany)
	must(t, d.GiveUp(ctx, a, coming[2].ID))
	refused(t, "giving up twice", d.GiveUp(ctx, a, coming[2].ID), studio.NotFound)
	refused(t, "giving up another's", d.GiveUp(ctx, b, coming[1].ID), studio.NotFound)

	_, err = d.Receive(ctx, a, coming[0].ID, "audio/mp4", strings.NewReader(strings.Repeat("a", 900)))
	must(t, err)
	_, err = d.Receive(ctx, a, coming[1].ID, "audio/mp4", strings.NewReader(strings.Repeat("b", 900)))
	refused(t, "more than a day's", err, studio.TooLarge)
	_, err = d.Announce(ctx, a, studio.Announcement{Student: mira, Bytes: 700})
	refused(t, "more than a day's, announced", err, studio.TooLarge)
	_, err = d.Announce(ctx, f.Teacher, studio.Announcement{Student: mira, Bytes: 700}) // the teacher may
	must(t, err)
	if n := h.files(t, f); n != 1 {
		t.Errorf("%d files of one take", n)
	}
	h.Now = h.Now.AddDate(0, 0, 3)
	rc := h.keepTheClock(t, d, f)
	ts, err := d.TakesBy(ctx, f.Teacher, studio.TakeQuery{})
	must(t, err)
	if len(ts) != 1 || ts[0].State != studio.Waiting || rc.Takes != 0 || rc.Files != 0 {
		t.Errorf("after three days: %+v, %+v", ts, rc)
	}
	if rs, err := d.Receipts(ctx, f.Teacher); err != nil || len(rs) != 0 {
		t.Errorf("a receipt for what never came: %+v, %v", rs, err)
	}
	for day := range 3 {
		h.Now = h.Now.AddDate(0, 0, 1)
		x, err := d.Announce(ctx, a, studio.Announcement{Student: mira, Bytes: 1000})
		must(t, err)
		_, err = d.Receive(ctx, a, x.ID, "audio/mp4", strings.NewReader(strings.Repeat(string(rune('c'+day)), 1000)))
		must(t, err)
	}
	h.Now = h.Now.AddDate(0, 0, 1)
	_, err = d.Announce(ctx, a, studio.Announcement{Student: mira, Bytes: 200})
	refused(t, "more than is kept", err, studio.TooLarge)
	_, err = d.Announce(ctx, f.Teacher, studio.Announcement{Student: mira, Bytes: 200})
	refused(t, "more than is kept, by the teacher", err, studio.TooLarge)
}
