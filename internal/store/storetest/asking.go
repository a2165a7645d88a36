package storetest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// desk: who waits, in the order that keeps the promise.
func desk(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	a, mira := h.Join(t, f, "Abel", "Mira")
	b, jon := h.Join(t, f, "Bartsch", "Jon")
	c, lu := h.Join(t, f, "Clemens", "Lu")
	_, still := h.Join(t, f, "Dorn", "Pia")
	h.Now = time.Date(2026, 3, 9, 23, 0, 0, 0, time.UTC) // a Monday, late
	first := h.Send(t, b, jon, "jon one").Take
	h.Now = h.Now.AddDate(0, 0, 1)
	h.Send(t, a, mira, "mira one")
	h.Now = h.Now.AddDate(0, 0, 1)
	h.Send(t, b, jon, "jon two")
	x, err := h.Desk.Announce(ctx, c, studio.Announcement{Student: lu, Hurt: true, Note: " My hand\x00 hurts. \n"})
	must(t, err)
	look := func() studio.DeskView {
		t.Helper()
		v, err := h.Desk.Look(ctx, f.Teacher)
		must(t, err)
		return v
	}
	if v := look(); len(v.Waiting) != 2 || len(v.Arriving) != 1 || v.Arriving[0].Note != "My hand hurts." {
		t.Errorf("arriving: %+v", v.Arriving)
	}
	_, err = h.Desk.Receive(ctx, c, x.ID, "audio/mp4", strings.NewReader("ow"))
	must(t, err)
	v := look()
	var order []string
	for _, b := range v.Waiting {
		order = append(order, fmt.Sprintf("%s %s %d: %s", b.Student.Name, b.Family.Name, len(b.Takes), b.Why))
	}
	// Pain first, whoever came later; then the nearest promise: three days from the first take that waits.
	want := []string{
		"Lu Clemens 1: Something hurt: look at this first; the answer is promised for Saturday.",
		"Jon Bartsch 2: The answer is promised for tomorrow.",
		"Mira Abel 1: The answer is promised for Friday.",
	}
	if !reflect.DeepEqual(order, want) {
		t.Errorf("the desk:\n%s\nwant\n%s", strings.Join(order, "\n"), strings.Join(want, "\n"))
	}
	jons := v.Waiting[1]
	if !jons.Due.Equal(first.Arrived.AddDate(0, 0, 3)) || jons.SilentDays != -1 || jons.Minutes != 2*(2+1) || v.PromisedToday != 0 {
		t.Errorf("bundle %+v, promised today %d", jons, v.PromisedToday)
	}
	m, err := h.Desk.BeginHearing(ctx, f.Ear, first.ID)
	must(t, err)
	must(t, h.Desk.SetAside(ctx, f.Ear, first.ID, "Too quiet.", studio.Heard{DurationS: 120, Turn: m.Turn}))
	h.Now = h.Now.AddDate(0, 0, 2)
	v = look()
	if len(v.NeedsLook) != 1 || v.Waiting[1].Minutes != (1.5*2+1)+(2+1) || v.PromisedToday != 2 || v.Waiting[1].Why != "The answer was promised 1 day ago." {
		t.Errorf("two days later: %+v, promised today %d", v.Waiting[1], v.PromisedToday)
	}
	// A lesson answers all that is there; Pia has been quiet since she came.
	l, err := h.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: jon, Date: "2026-03-13", Words: "Well done."})
	must(t, err)
	must(t, h.Desk.SendLesson(ctx, f.Teacher, l.ID, l.Version))
	must(t, h.Desk.Answer(ctx, f.Teacher, x.ID))
	h.Now = h.Now.AddDate(0, 0, 5)
	v = look()
	if len(v.Waiting) != 1 || v.Waiting[0].Student.ID != mira || len(v.NeedsLook) != 0 {
		t.Errorf("after the answers: %+v", v.Waiting)
	}
	if len(v.Quiet) != 1 || v.Quiet[0].Student.ID != still || v.Quiet[0].Days != 16 || !v.Quiet[0].Last.IsZero() {
		t.Errorf("quiet: %+v", v.Quiet)
	}
	h.Send(t, b, jon, "jon three")
	for _, b := range look().Waiting {
		if b.Student.ID == jon && (b.SilentDays != 5 || len(b.Takes) != 1) {
			t.Errorf("after the answer: %+v", b)
		}
	}
}

// said: the same point three lessons running is seen; remarks are changed and taken back.
func said(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	a, mira := h.Join(t, f, "Abel", "Mira")
	b, jon := h.Join(t, f, "Bartsch", "Jon")
	for i := range 4 {
		h.Now = h.Now.AddDate(0, 0, 7)
		take := h.Send(t, a, mira, fmt.Sprint("take ", i)).Take
		remedy := "late-thumb"
		if i == 1 {
			remedy = "rushing"
		}
		_, err := h.Desk.Remark(ctx, f.Teacher, take.ID, studio.Anchor{AtS: 1}, fmt.Sprint("remark ", i), remedy)
		must(t, err)
		if i == 3 {
			break
		}
		h.Now = h.Now.Add(time.Minute)
		l, err := h.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: mira, Date: h.Now.Format(time.DateOnly), Words: "Well done."})
		must(t, err)
		must(t, h.Desk.SendLesson(ctx, f.Teacher, l.ID, l.Version))
	}
	theirs := h.Send(t, b, jon, "theirs").Take
	_, err := h.Desk.Remark(ctx, f.Teacher, theirs.ID, studio.Anchor{}, "to another", "late-thumb")
	must(t, err)
	_, err = h.Desk.Remark(ctx, f.Teacher, theirs.ID, studio.Anchor{}, "x", "Not An Id")
	refused(t, "no entry", err, studio.Invalid)
	all, err := h.Desk.SaidBefore(ctx, f.Teacher, mira, "late-thumb")
	must(t, err)
	var got []string
	for _, s := range all {
		got = append(got, fmt.Sprintf("%s %d %q", s.Text, s.Ago, s.Lesson))
	}
	if want := []string{`remark 3 0 ""`, `remark 2 1 "2026-03-23"`, `remark 0 3 "2026-03-09"`}; !reflect.DeepEqual(got, want) {
		t.Errorf("said %q, want %q", got, want)
	}
	rs, err := h.Desk.RemarksOf(ctx, f.Teacher, mira, 2)
	must(t, err)
	if len(rs) != 2 || rs[0].Text != "remark 3" || rs[0].Student != mira {
		t.Errorf("remarks: %+v", rs)
	}
	r, err := h.Desk.ChangeRemark(ctx, f.Teacher, rs[0].ID, " better words ")
	must(t, err)
	_, err = h.Desk.ChangeRemark(ctx, f.Teacher, rs[0].ID, " ")
	refused(t, "no words", err, studio.Invalid)
	_, err = h.Desk.ChangeRemark(ctx, a, rs[0].ID, "mine")
	refused(t, "by the family", err, studio.NotAllowed)
	w, err := h.Desk.ReviewTake(ctx, a, r.Take)
	must(t, err)
	if len(w.Remarks) != 1 || w.Remarks[0].Text != "better words" || w.Remarks[0].Remedy != "late-thumb" {
		t.Errorf("changed: %+v", w.Remarks)
	}
	must(t, h.Desk.RemoveRemark(ctx, f.Teacher, r.ID))
	refused(t, "removing twice", h.Desk.RemoveRemark(ctx, f.Teacher, r.ID), studio.NotFound)
	aloud, err := h.Desk.RemarkAloud(ctx, f.Teacher, r.Take, studio.Anchor{}, "", "", studio.Recording{Type: "audio/webm", Body: strings.NewReader("hello")})
	must(t, err)
	files := h.files(t, f)
	must(t, h.Desk.RemoveRemark(ctx, f.Teacher, aloud.ID))
	must(t, h.Desk.Sweep(ctx, f.Ear))
	if h.files(t, f) != files-1 {
		t.Error("a spoken remark's file stays")
	}
}

// book: own words for entries, and corrections that name no child.
func book(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	h.Live(t, f, "Abelone", "Miranda")
	var out bytes.Buffer
	must(t, h.Desk.ExportCorrections(ctx, f.Teacher, &out))
	var line struct {
		Kind, Made, Work string
		Hearing          map[string]any
	}
	must(t, json.Unmarshal(out.Bytes(), &line))
	if line.Kind != "note-right" || line.Work != "Frère Jacques" || line.Made != "2026-03-02" || line.Hearing["schema"] != "antiphon.hearing/1" {
		t.Errorf("exported: %+v", line)
	}
	if s := out.String(); strings.Contains(s, "Abelone") || strings.Contains(s, "Miranda.mp4") || strings.Count(s, "\n") != 1 {
		t.Errorf("exported: %s", s)
	}
	must(t, h.Desk.KeepRemedy(ctx, f.Teacher, "late-thumb", json.RawMessage(`{"do": "count aloud"}`)))
	must(t, h.Desk.KeepRemedy(ctx, f.Teacher, "late-thumb", json.RawMessage(`{"do": "sing"}`)))
	must(t, h.Desk.KeepRemedy(ctx, f.Teacher, "rushing", json.RawMessage(`{}`)))
	must(t, h.Desk.KeepRemedy(ctx, f.Teacher, "rushing", nil))
	refused(t, "half an entry", h.Desk.KeepRemedy(ctx, f.Teacher, "buzz", json.RawMessage(`{"`)), studio.Invalid)
	refused(t, "a path", h.Desk.KeepRemedy(ctx, f.Teacher, "../x", json.RawMessage(`{}`)), studio.Invalid)
	own, err := h.Desk.OwnRemedies(ctx, f.Teacher)
	must(t, err)
	if len(own) != 1 || string(own["late-thumb"]) != `{"do": "sing"}` {
		t.Errorf("own: %s", own)
	}
}

// studentFile: what stands on a student's page, and how far a collection is.
func studentFile(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	a, mira := h.Join(t, f, "Abel", "Mira")
	b, _ := h.Join(t, f, "Bartsch", "Jon")
	var ids []studio.WorkID
	for _, title := range []string{"One", "Two", "Three"} {
		w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: title, Score: "<score/>"})
		must(t, err)
		ids = append(ids, w.ID)
	}
	_, err := h.Desk.Shelve(ctx, f.Teacher, studio.Collection{Name: "First book", Items: []studio.CollectionItem{{Work: ids[0]}, {Work: ids[1]}}})
	must(t, err)
	_, err = h.Desk.Shelve(ctx, f.Teacher, studio.Collection{Name: "Untouched", Items: []studio.CollectionItem{{Work: ids[2]}}})
	must(t, err)
	l, err := h.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: mira, Date: "2026-03-02", Assignments: []studio.Assignment{{Work: ids[1], FromBar: "2", ToBar: "4", Goals: studio.Goals{TempoBpm: 60}}}})
	must(t, err)
	must(t, h.Desk.SendLesson(ctx, f.Teacher, l.ID, l.Version))
	x, err := h.Desk.Announce(ctx, a, studio.Announcement{Student: mira, Assignment: l.Assignments[0].ID})
	must(t, err)
	_, err = h.Desk.Receive(ctx, a, x.ID, "audio/mp4", strings.NewReader("la"))
	must(t, err)
	m, err := h.Desk.BeginHearing(ctx, f.Ear, x.ID)
	must(t, err)
	if m.FromBar != "2" || m.ToBar != "4" || m.Goals.TempoBpm != 60 || m.Work == nil || m.Work.ID != ids[1] || len(m.Candidates) != 3 || len(m.Asked) != 1 || m.Asked[0] != ids[1] || m.Student.Name != "Mira" {
		t.Errorf("material: %+v", m)
	}
	found := studio.Heard{Doc: []byte(hearing), Turn: m.Turn, DurationS: 61.5, Summary: studio.Summary{Bpm: 58, RightShare: 0.9, Notes: 40, Wrong: 2, FromBar: "2", ToBar: "4"},
		Concerns:   []studio.Concern{{Kind: "string-out-of-tune", Say: "The third string is flat.", AtS: 3}},
		SoundsLike: []studio.Likeness{{Work: ids[1], Confidence: 0.97}}}
	_, err = h.Desk.KeepHearing(ctx, f.Ear, x.ID, found)
	must(t, err)
	p, err := h.Desk.Student(ctx, a, mira)
	must(t, err)
	if p.Student.Name != "Mira" || p.Family.Name != "Abel" || len(p.People) != 1 || len(p.Lessons) != 1 || len(p.Takes) != 1 {
		t.Errorf("file: %+v", p)
	}
	if got := p.Takes[0]; !reflect.DeepEqual(got.Summary, &found.Summary) || !reflect.DeepEqual(got.Concerns, found.Concerns) || !reflect.DeepEqual(got.SoundsLike, found.SoundsLike) || got.DurationS != 61.5 || got.Work != ids[1] {
		t.Errorf("take: %+v", got)
	}
	if len(p.Progress) != 1 || len(p.Progress[0].Steps) != 2 {
		t.Fatalf("progress: %+v", p.Progress)
	}
	done := p.Progress[0].Steps[1]
	if done.Work.Title != "Two" || done.Work.Score != "" || done.Line.Asked != 1 || done.Line.Last != "2026-03-02" || done.Line.Takes != 1 || done.Line.Summary == nil || done.Line.Summary.Bpm != 58 || p.Progress[0].Steps[0].Line.Asked != 0 {
		t.Errorf("steps: %+v", p.Progress[0].Steps)
	}
	_, err = h.Desk.Student(ctx, b, mira)
	refused(t, "another family's student", err, studio.NotFound)
	// Another work is another hearing.
	must(t, h.Desk.Assign(ctx, f.Teacher, x.ID, "", ids[0]))
	again, err := h.Desk.BeginHearing(ctx, f.Ear, x.ID)
	must(t, err)
	if again.Work.ID != ids[0] || again.FromBar != "" || again.Take.Summary != nil || again.Turn != m.Turn+1 {
		t.Errorf("again: %+v", again)
	}
	refused(t, "an assignment of nobody", h.Desk.Assign(ctx, f.Teacher, x.ID, "zzzzzzzzzzzzzzzzzzzzzzzzzz", ""), studio.Invalid)
	pg, err := h.Desk.AddPassage(ctx, f.Teacher, studio.Passage{Work: ids[0], Name: "middle", FromBar: "5", ToBar: "8"})
	must(t, err)
	_, err = h.Desk.AddPassage(ctx, f.Teacher, studio.Passage{Work: "zzzzzzzzzzzzzzzzzzzzzzzzzz", Name: "middle"})
	refused(t, "a passage of nothing", err, studio.NotFound)
	if ps, err := h.Desk.Passages(ctx, f.Teacher, ids[0]); err != nil || len(ps) != 1 || ps[0] != pg {
		t.Errorf("passages: %+v, %v", ps, err)
	}
	must(t, h.Desk.RemovePassage(ctx, f.Teacher, pg.ID))
	must(t, h.Desk.ReviseWork(ctx, f.Teacher, studio.Work{ID: ids[0], Title: "Une", Score: "<s/>", Rights: "own"}))
	if w, err := h.Desk.Work(ctx, f.Teacher, ids[0]); err != nil || w.Title != "Une" || w.Added.IsZero() || w.Score != "<s/>" {
		t.Errorf("revised: %+v, %v", w, err)
	}
	if _, err := h.Desk.Work(ctx, a, ids[1]); err != nil {
		t.Errorf("a work that was asked: %v", err)
	}
}
