package storetest

import (
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// earlierScores: what stood in a score before, with its fingers, is kept and gone back to; the latest twenty of a work.
func earlierScores(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Three Blind Mice", Score: scored(t, "C4", "1"), Rights: "traditional"})
	must(t, err)
	h.lessonFor(t, f, mira, studio.Assignment{Work: w.ID, Do: "Play it."})
	stands := func(what, want string) {
		t.Helper()
		now, err := h.Desk.Work(ctx, f.Teacher, w.ID)
		must(t, err)
		if fingers, _ := fingersOf(t, now.Score); fingers != strings.Repeat(want, 6) {
			t.Errorf("%s: the fingers are %s", what, fingers)
		}
		w = now
	}
	kept := func(what string, want ...string) (all []studio.EarlierScore) {
		t.Helper()
		all, same, err := h.Desk.EarlierScores(ctx, f.Teacher, w)
		must(t, err)
		var got []string
		for _, e := range all {
			if e.Score != "" {
				t.Errorf("%s: a list brings whole scores", what)
			}
			one, err := h.Desk.EarlierScore(ctx, f.Teacher, w.ID, e.ID)
			must(t, err)
			fingers, last := fingersOf(t, one.Score)
			got = append(got, fmt.Sprintf("%c%c %v", fingers[0], last, same[e.ID]))
		}
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%s: kept are %q, want %q", what, got, want)
		}
		return all
	}
	kept("new")
	refinger := func(finger string) {
		t.Helper()
		h.Now = h.Now.Add(time.Hour)
		must(t, h.Desk.RefingerWork(ctx, f.Teacher, w.ID, scored(t, "C4", finger), w.Score))
	}
	refinger("2")
	must(t, h.Desk.RefingerWork(ctx, f.Teacher, w.ID, scored(t, "C4", "2"), w.Score)) // a form that is sent twice
	refused(t, "for a score that is gone", h.Desk.RefingerWork(ctx, f.Teacher, w.ID, scored(t, "C4", "3"), w.Score), studio.Conflict)
	stands("fingered", "2")
	kept("fingered", "1C true")
	old := w
	old.Title, old.Score = "Three Mice", "<an old page/>"
	must(t, h.Desk.DescribeWork(ctx, f.Teacher, old))
	stands("described by an old page", "2")
	kept("described", "1C true")
	if w.Title != "Three Mice" {
		t.Errorf("the title is %s", w.Title)
	}
	refinger("3")
	stands("fingered again", "3")
	all := kept("fingered again", "2C true", "1C true")
	h.Now = h.Now.Add(time.Hour)
	must(t, h.Desk.RestoreScore(ctx, f.Teacher, w.ID, all[1].ID))
	stands("gone back", "1")
	if all = kept("gone back", "3C true", "2C true"); !all[0].Ended.Equal(h.Now) {
		t.Errorf("it ended at %s", all[0].Ended)
	}
	h.Now = h.Now.Add(time.Hour)
	another := w
	another.Score = scored(t, "G,4", "4")
	must(t, h.Desk.ReviseWork(ctx, f.Teacher, another))
	stands("another score", "4")
	all = kept("another score", "1C false", "3C false", "2C false")
	for name, err := range map[string]error{
		"a family's list":    third(h.Desk.EarlierScores(ctx, v, w)),
		"a family goes back": h.Desk.RestoreScore(ctx, v, w.ID, all[0].ID),
		"a family looks":     second(h.Desk.EarlierScore(ctx, v, w.ID, all[0].ID)),
		"a family fingers":   h.Desk.RefingerWork(ctx, v, w.ID, "", w.Score),
		"a family describes": h.Desk.DescribeWork(ctx, v, w),
	} {
		refused(t, name, err, studio.NotAllowed)
	}
	other := h.Found(t, "Another")
	refused(t, "another studio's", h.Desk.RestoreScore(ctx, other.Teacher, w.ID, all[0].ID), studio.NotFound)
	refused(t, "of another studio's", second(h.Desk.EarlierScore(ctx, other.Teacher, w.ID, all[0].ID)), studio.NotFound)
	refused(t, "one that is not there", h.Desk.RestoreScore(ctx, f.Teacher, w.ID, "0"), studio.NotFound)
	for n := range 25 {
		h.Now = h.Now.Add(time.Minute)
		w.Score = strings.Replace(scored(t, "C4", "1"), "Three Blind Mice", fmt.Sprintf("No. %d", n), 1)
		must(t, h.Desk.ReviseWork(ctx, f.Teacher, w))
	}
	if all, _, err = h.Desk.EarlierScores(ctx, f.Teacher, w); err != nil || len(all) != 20 || !all[0].Ended.Equal(h.Now) {
		t.Errorf("after many: %d, %v", len(all), err)
	}
}

func second[T any](_ T, err error) error        { return err }
func third[T, U any](_ T, _ U, err error) error { return err }

// fingersBesideScores: a child's fingers are kept, gone back to and given up while the score is replaced, over and over. In
// the end whatever fits is in the score that stands there, and one at most holds.
func fingersBesideScores(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	_, mira := h.Join(t, f, "Abel", "Mira")
	for round := range 12 {
		w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Three Blind Mice", Score: scored(t, "C4", "1"), Rights: "traditional"})
		must(t, err)
		var all sync.WaitGroup
		for n := range 3 {
			again := w
			again.Score = strings.Replace(scored(t, "C4", "1"), "Three Blind Mice", fmt.Sprintf("No. %d of %d", n, round), 1)
			own := studio.OwnFingering{Student: mira, Work: w.ID, Score: scored(t, "C4", fmt.Sprint(2+n))}
			all.Go(func() {
				if err := h.Desk.ReviseWork(ctx, f.Teacher, again); err != nil {
					t.Error(err)
				}
			})
			all.Go(func() {
				if _, err := h.Desk.KeepFingering(ctx, f.Teacher, own, false); err != nil {
					t.Error(err)
				}
			})
		}
		all.Wait()
		now, err := h.Desk.Work(ctx, f.Teacher, w.ID)
		must(t, err)
		_, title, _ := strings.Cut(now.Score, "<work-title>")
		title, _, _ = strings.Cut(title, "<")
		kept, err := h.Store.FingeringsOf(ctx, f.Studio.ID, w.ID)
		must(t, err)
		holds := 0
		for _, k := range kept {
			if k.Holds() {
				holds++
			}
			if !k.Fits || !strings.Contains(k.Score, "<work-title>"+title+"<") {
				t.Errorf("round %d: fingers stand in another score than the one that stands there (%s)", round, title)
			}
		}
		if len(kept) != 3 || holds != 1 {
			t.Errorf("round %d: %d are kept, %d hold", round, len(kept), holds)
		}
	}
}
