package storetest

import (
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// pages: lists come a page at a time, without a gap and without anything twice, and narrowed as asked.
func pages(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	a, mira := h.Join(t, f, "Abel", "Mira")
	b, jon := h.Join(t, f, "Bartsch", "Jon")
	w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Ode to Joy"})
	must(t, err)
	var newest []studio.TakeID
	for i := range 7 {
		h.Now = h.Now.Add(time.Duration(i%2) * time.Minute) // two at each moment
		newest = append([]studio.TakeID{h.Send(t, a, mira, fmt.Sprint("take ", i)).Take.ID}, newest...)
	}
	must(t, h.Desk.Assign(ctx, f.Teacher, newest[2], "", w.ID))
	theirs := h.Send(t, b, jon, "of another family").Take
	for _, v := range []studio.Viewer{a, f.Teacher} {
		var got []studio.TakeID
		q := studio.TakeQuery{Student: mira, Limit: 3}
		for {
			ts, err := h.Desk.TakesBy(ctx, v, q)
			must(t, err)
			if len(ts) > 3 {
				t.Fatalf("a page of %d", len(ts))
			}
			if len(ts) == 0 {
				break
			}
			for i, x := range ts {
				got = append(got, x.ID)
				if i > 0 && ts[i-1].Announced.Before(x.Announced) {
					t.Error("an older take stands before a newer one")
				}
			}
			q.Before = ts[len(ts)-1]
		}
		seen := map[studio.TakeID]bool{}
		for _, id := range got {
			seen[id] = true
		}
		if len(got) != 7 || len(seen) != 7 || seen[theirs.ID] {
			t.Errorf("pages for the %s: %v", v.Role, got)
		}
	}
	must(t, h.Desk.Answer(ctx, f.Teacher, newest[0]))
	for _, c := range []struct {
		name string
		v    studio.Viewer
		q    studio.TakeQuery
		want int
	}{
		{"all", f.Teacher, studio.TakeQuery{}, 8},
		{"a family's", b, studio.TakeQuery{}, 1},
		{"another family's student", b, studio.TakeQuery{Student: mira}, 0},
		{"of a work", f.Teacher, studio.TakeQuery{Work: w.ID}, 1},
		{"of a work and another student", f.Teacher, studio.TakeQuery{Work: w.ID, Student: jon}, 0},
		{"unanswered", f.Teacher, studio.TakeQuery{Unanswered: true}, 7},
		{"being heard", f.Teacher, studio.TakeQuery{State: studio.BeingHeard}, 0},
		{"waiting", f.Teacher, studio.TakeQuery{State: studio.Waiting}, 8},
		{"since now", a, studio.TakeQuery{Since: h.Now.Add(time.Second)}, 0},
		{"models", f.Teacher, studio.TakeQuery{Models: true}, 0},
		{"of an assignment", f.Teacher, studio.TakeQuery{Assignment: "zzzzzzzzzzzzzzzzzzzzzzzzzz"}, 0},
	} {
		ts, err := h.Desk.TakesBy(ctx, c.v, c.q)
		must(t, err)
		if len(ts) != c.want {
			t.Errorf("%s: %d takes, want %d", c.name, len(ts), c.want)
		}
	}
	var draft studio.LessonID
	for i := range 5 {
		h.Now = h.Now.Add(time.Second)
		l, err := h.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: mira, Date: fmt.Sprintf("2026-03-0%d", 1+i/2), Assignments: []studio.Assignment{{Work: w.ID, Do: fmt.Sprint(i)}, {Work: w.ID}}})
		must(t, err)
		if draft = l.ID; i < 4 {
			must(t, h.Desk.SendLesson(ctx, f.Teacher, l.ID, l.Version))
		}
	}
	_, err = h.Desk.Lesson(ctx, a, draft)
	refused(t, "a draft to the family", err, studio.NotFound)
	for _, c := range []struct {
		v    studio.Viewer
		want string // of one day, what was sent last comes first, and before it what was not sent yet
	}{{a, "3210"}, {b, ""}, {f.Teacher, "43210"}} {
		v, want, order := c.v, c.want, ""
		q, seen := studio.LessonQuery{Student: mira, Drafts: true, Limit: 2}, map[studio.LessonID]bool{}
		for {
			ls, err := h.Desk.Lessons(ctx, v, q)
			must(t, err)
			if len(ls) == 0 {
				break
			}
			for _, l := range ls {
				seen[l.ID] = true
				order += l.Assignments[0].Do
				if len(l.Assignments) != 2 || q.Before.Date != "" && l.Date > q.Before.Date {
					t.Errorf("lesson %+v", l)
				}
				if one, err := h.Desk.Lesson(ctx, v, l.ID); err != nil || !reflect.DeepEqual(one, l) {
					t.Errorf("one lesson is %+v, in the list %+v, %v", one, l, err)
				}
				_, err := h.Desk.Lesson(ctx, b, l.ID)
				refused(t, "another family's lesson", err, studio.NotFound)
				switch err := h.Desk.DropDraft(ctx, v, l.ID); {
				case v.Role != studio.Teacher:
					refused(t, "dropping by the family", err, studio.NotAllowed)
				case !l.Sent.IsZero():
					refused(t, "dropping what was sent", err, studio.Conflict)
				default:
					must(t, err)
				}
			}
			q.Before = ls[len(ls)-1]
		}
		if order != want || len(seen) != len(want) {
			t.Errorf("the %s gets the lessons %s, want %s", v.Role, order, want)
		}
		if v.Role == studio.Teacher {
			continue
		}
		if ls, err := h.Desk.Lessons(ctx, v, studio.LessonQuery{Student: mira, Before: studio.Lesson{Date: "2026-03-02"}}); err != nil || len(ls) != len(want)/2 {
			t.Errorf("%d lessons before a day, want %d: %v", len(ls), len(want)/2, err)
		}
	}
}

// changes: what happened to takes is told once, in order, and not twice to somebody who asks on.
func changes(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	a, mira := h.Join(t, f, "Abel", "Mira")
	b, _ := h.Join(t, f, "Bartsch", "Jon")
	tick := func() { h.Now = h.Now.Add(time.Second) }
	since := h.Now
	told := func(v studio.Viewer) (said []string) {
		t.Helper()
		ts, err := h.Desk.Changes(ctx, v, since)
		must(t, err)
		for _, x := range ts {
			said = append(said, string(x.State))
		}
		if len(ts) > 0 && v == a {
			since = ts[len(ts)-1].Changed
		}
		return said
	}
	tick()
	x, err := h.Desk.Announce(ctx, a, studio.Announcement{Student: mira})
	must(t, err)
	expect := func(want ...string) {
		t.Helper()
		if got := told(b); len(got) != 0 {
			t.Errorf("another family is told %v", got)
		}
		if got := told(a); !reflect.DeepEqual(got, want) {
			t.Errorf("told %v, want %v", got, want)
		}
	}
	expect("arriving")
	expect()
	tick()
	_, err = h.Desk.Receive(ctx, a, x.ID, "audio/mp4", strings.NewReader("la"))
	must(t, err)
	expect("waiting")
	tick()
	m, err := h.Desk.BeginHearing(ctx, f.Ear, x.ID)
	must(t, err)
	expect("being-heard")
	tick()
	_, err = h.Desk.KeepHearing(ctx, f.Ear, x.ID, studio.Heard{Doc: []byte(hearing), Turn: m.Turn})
	must(t, err)
	tick()
	y, err := h.Desk.Announce(ctx, a, studio.Announcement{Student: mira})
	must(t, err)
	expect("ready", "arriving")
	tick()
	must(t, h.Desk.Answer(ctx, f.Teacher, x.ID))
	expect("ready")
	refused(t, "answering what is not here", h.Desk.Answer(ctx, f.Teacher, y.ID), studio.Invalid)

	// Many at one moment are not broken off between two of them.
	tick()
	in := studio.OneFamily(a.Studio, a.Family)
	must(t, h.Store.Within(ctx, func(tx studio.Records) error {
		for i := range 12 {
			id := studio.TakeID(fmt.Sprintf("%026d", i))
			if err := tx.AddTake(ctx, studio.Take{ID: id, Studio: a.Studio, Family: a.Family, Student: mira, State: studio.Waiting, Announced: h.Now, Arrived: h.Now, Changed: h.Now}); err != nil {
				return err
			}
		}
		return nil
	}))
	if ts, err := h.Store.TakesChanged(ctx, in, since, 5); err != nil || len(ts) != 12 {
		t.Errorf("%d of 12 changes of one moment, %v", len(ts), err)
	}
}
