package storetest

import (
	"archive/zip"
	"bytes"
	"io"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/studio"
)

// tune is the beginning of "Three Blind Mice" (England, printed in 1609).
const tune = "X:1\nT:Three Blind Mice\nC:Traditional\nM:4/4\nL:1/4\nK:C\nE2 D2|C4|E2 D2|%s|]\n"

// scored is the tune as MusicXML with a left-hand finger on every note; last is its last bar.
func scored(t *testing.T, last, finger string) string {
	t.Helper()
	s, _, err := notation.Read(strings.NewReader(strings.Replace(tune, "%s", last, 1)), "tune.abc", notation.Limits{})
	must(t, err)
	for i := range s.Parts[0].Notes {
		s.Parts[0].Notes[i].Fingers = []music.Fingering{{Text: finger}}
		s.Parts[0].Notes[i].String = 1
	}
	var b bytes.Buffer
	must(t, notation.WriteMusicXML(&b, s))
	return b.String()
}

// fingersOf are the fingers of a score, one after the other, and the pitch of its last note.
func fingersOf(t *testing.T, xml string) (fingers string, last byte) {
	t.Helper()
	s, _, err := notation.Read(strings.NewReader(xml), "score.musicxml", notation.Limits{})
	must(t, err)
	for _, n := range s.Parts[0].Notes {
		for _, f := range n.Fingers {
			fingers += f.Text
		}
		last = n.Pitch.Step
	}
	return fingers, last
}

// ownFingers: two children of one family take the same work each in an own way, a third as everybody does. What was
// kept is gone back to, follows the score where it has the same notes, and is nobody else's.
func ownFingers(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	b, jon := h.Join(t, f, "Bartsch", "Jon")
	s, err := h.Desk.AddStudent(ctx, f.Teacher, v.Family, studio.NewStudent{Name: "Tove", Media: studio.FullVideo})
	must(t, err)
	tove := s.ID
	w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Three Blind Mice", Score: scored(t, "C4", "1"), Rights: "traditional"})
	must(t, err)
	l := h.lessonFor(t, f, mira, studio.Assignment{Work: w.ID, Do: "Play it."})
	h.lessonFor(t, f, tove, studio.Assignment{Work: w.ID, Do: "Play it."})
	h.lessonFor(t, f, jon, studio.Assignment{Work: w.ID, Do: "Play it."})
	is := func(what string, v studio.Viewer, s studio.StudentID, want string) {
		t.Helper()
		got, err := h.Desk.WorkFor(ctx, v, s, w.ID)
		must(t, err)
		if fingers, _ := fingersOf(t, got.Score); fingers != want || (got.Own == "") != (want == "111111") {
			t.Errorf("%s: %s (%s), want %s", what, fingers, got.Own, want)
		}
	}
	keep := func(s studio.StudentID, finger, why string, try bool) studio.OwnFingering {
		t.Helper()
		h.Now = h.Now.Add(time.Hour)
		k, err := h.Desk.KeepFingering(ctx, f.Teacher, studio.OwnFingering{Student: s, Work: w.ID, Score: scored(t, "C4", finger), Asked: "no-barre=yes", Why: why}, try)
		must(t, err)
		return k
	}
	is("nobody's own", v, mira, "111111")
	two := keep(mira, "2", "small hand", false)
	three := keep(tove, "3", "", false)
	is("Mira's", v, mira, "222222")
	is("Mira's, to the teacher", f.Teacher, mira, "222222")
	is("her sister's", v, tove, "333333")
	is("another family's child's", b, jon, "111111")
	if own, err := h.Desk.Work(ctx, v, w.ID); err != nil || own.Score != w.Score {
		t.Errorf("everybody's: %v", err)
	}
	// A family asks for its own children only, and for what was asked of them.
	_, err = h.Desk.WorkFor(ctx, b, mira, w.ID)
	refused(t, "another family's child", err, studio.NotFound)
	_, err = h.Desk.WorkIn(ctx, b, jon, w.ID, two.ID)
	refused(t, "another family's fingering", err, studio.NotFound)
	_, err = h.Desk.WorkIn(ctx, v, tove, w.ID, two.ID)
	refused(t, "the sister's", err, studio.NotFound)
	_, err = h.Desk.Fingerings(ctx, v, mira, w.ID)
	refused(t, "the list to a family", err, studio.NotAllowed)
	_, err = h.Desk.HoldFingering(ctx, v, two.ID)
	refused(t, "chosen by a family", err, studio.NotAllowed)
	refused(t, "dropped by a family", h.Desk.DropFingering(ctx, v, mira, w.ID), studio.NotAllowed)
	_, err = h.Desk.KeepFingering(ctx, v, studio.OwnFingering{Student: mira, Work: w.ID, Score: w.Score}, false)
	refused(t, "kept by a family", err, studio.NotAllowed)
	_, err = h.Desk.KeepFingering(ctx, f.Teacher, studio.OwnFingering{Student: mira, Work: w.ID, Score: scored(t, "G,4", "2")}, false)
	refused(t, "of other notes", err, studio.Conflict)
	_, err = h.Desk.KeepFingering(ctx, f.Teacher, studio.OwnFingering{Student: jon, Work: w.ID, Score: w.Score, Lesson: l.ID}, false)
	refused(t, "by another child's lesson", err, studio.NotFound)
	mine, err := h.Desk.WorkFor(ctx, f.Teacher, mira, w.ID)
	must(t, err)
	refused(t, "one child's for everybody", h.Desk.ReviseWork(ctx, f.Teacher, mine), studio.Invalid)
	// One that is to be tried does not hold, and is asked of nobody else.
	four := keep(mira, "4", "with the little finger", true)
	is("while four is tried", v, mira, "222222")
	if tried, err := h.Desk.WorkIn(ctx, v, mira, w.ID, four.ID); err != nil || tried.Own != four.ID {
		t.Errorf("tried: %+v, %v", tried.Own, err)
	}
	_, err = h.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: tove, Date: "2026-03-02", Assignments: []studio.Assignment{{Ask: studio.AskChoose, Work: w.ID, Ways: [2]studio.Way{{Say: "so", Own: four.ID}}}}})
	refused(t, "asked of the sister", err, studio.NotFound)
	// Two ways are settled when the lesson goes out: they are two still once one of them is the child's own.
	way := func(own studio.FingeringID) [2]studio.Way {
		return [2]studio.Way{{Say: "as now"}, {Say: "with the little finger", Own: own}}
	}
	choose := h.lessonFor(t, f, mira, studio.Assignment{Ask: studio.AskChoose, Work: w.ID, Ways: way(four.ID)}, studio.Assignment{Ask: studio.AskChoose, Work: w.ID, Ways: [2]studio.Way{{Own: four.ID}}})
	bees := h.lessonFor(t, f, tove, studio.Assignment{Ask: studio.AskChoose, Work: w.ID, Ways: way(studio.AsEverybody)})
	for i, want := range []studio.FingeringID{two.ID, four.ID, four.ID, "", three.ID, studio.AsEverybody} {
		l, err := h.Desk.Lesson(ctx, f.Teacher, []studio.LessonID{choose.ID, bees.ID}[i/4])
		must(t, err)
		if got := l.Assignments[i%4/2].Ways[i%2].Own; got != want || l.Sent.IsZero() {
			t.Errorf("way %d of those that were sent is %q, want %q", i+1, got, want)
		}
	}
	if all, err := h.Desk.WorkIn(ctx, v, mira, w.ID, studio.AsEverybody); err != nil || all.Score != w.Score || all.Own != "" {
		t.Errorf("as everybody: %s, %v", all.Own, err)
	}
	_, err = h.Desk.WorkIn(ctx, b, mira, w.ID, studio.AsEverybody)
	refused(t, "as everybody, for another family's child", err, studio.NotFound)
	h.Now = h.Now.Add(time.Hour)
	_, err = h.Desk.HoldFingering(ctx, f.Teacher, four.ID)
	must(t, err)
	is("four is chosen", v, mira, "444444")
	if again := keep(mira, "4", "sent twice", false); again.ID != four.ID {
		t.Errorf("the same fingers are kept twice: %+v", again)
	}
	h.Now = h.Now.Add(time.Hour)
	_, err = h.Desk.HoldFingering(ctx, f.Teacher, two.ID)
	must(t, err)
	if again := keep(mira, "4", "chosen anew", false); again.ID != four.ID || !again.Holds() || !again.Held.Equal(h.Now) {
		t.Errorf("fingers that were kept before are kept beside themselves: %+v", again)
	}
	h.Now = h.Now.Add(time.Hour)
	_, err = h.Desk.HoldFingering(ctx, f.Teacher, two.ID)
	must(t, err)
	is("gone back to", v, mira, "222222")
	all, err := h.Desk.Fingerings(ctx, f.Teacher, mira, w.ID)
	must(t, err)
	if len(all) != 2 || all[0].Score+all[1].Score != "" || all[0].ID != four.ID || all[0].Holds() || !all[0].Ended.Equal(h.Now) || all[1].ID != two.ID || !all[1].Holds() || !all[1].Held.Equal(h.Now) || all[1].Why != "small hand" {
		t.Errorf("kept: %+v", all)
	}
	// A score with the same notes and other fingers leaves a child's own alone; other notes set it aside until they are there again.
	w.Score = scored(t, "C4", "0")
	must(t, h.Desk.ReviseWork(ctx, f.Teacher, w))
	is("the studio's changed", v, mira, "222222")
	w.Score = scored(t, "G,4", "1")
	must(t, h.Desk.ReviseWork(ctx, f.Teacher, w))
	is("other notes", v, mira, "111111")
	_, err = h.Desk.HoldFingering(ctx, f.Teacher, four.ID)
	refused(t, "of notes that are not there", err, studio.Conflict)
	w.Score = strings.Replace(scored(t, "C4", "1"), "Three Blind Mice", "Three Blind Mice, again", 1)
	must(t, h.Desk.ReviseWork(ctx, f.Teacher, w))
	is("the notes are there again", v, mira, "222222")
	if got, err := h.Desk.WorkFor(ctx, v, mira, w.ID); err != nil || !strings.Contains(got.Score, "again") {
		t.Errorf("what else is new in the score does not come: %v", err)
	}
	must(t, h.Desk.DropFingering(ctx, f.Teacher, mira, w.ID))
	is("as everybody", v, mira, "111111")
	is("her sister's is hers still", v, tove, "333333")
	// A take is shown and heard against the fingers of who plays it.
	for s, want := range map[studio.StudentID]studio.FingeringID{tove: three.ID, mira: ""} {
		take := h.Send(t, v, s, "of "+string(s)).Take
		must(t, h.Desk.Assign(ctx, f.Teacher, take.ID, "", w.ID))
		r, err := h.Desk.ReviewTake(ctx, f.Teacher, take.ID)
		must(t, err)
		m, err := h.Desk.BeginHearing(ctx, f.Ear, take.ID)
		must(t, err)
		if r.Work.Own != want || m.Work.Own != want {
			t.Errorf("a take: %s and %s, want %s", r.Work.Own, m.Work.Own, want)
		}
	}
	// An export has what holds or held, and not what the teacher only thinks of.
	six := keep(mira, "6", "a thought", true)
	var zipped bytes.Buffer
	must(t, h.Desk.ExportFamily(ctx, v, v.Family, &zipped))
	z, err := zip.NewReader(bytes.NewReader(zipped.Bytes()), int64(zipped.Len()))
	must(t, err)
	file, err := z.File[0].Open()
	must(t, err)
	doc, err := io.ReadAll(file)
	must(t, err)
	for _, id := range []studio.FingeringID{two.ID, three.ID, four.ID} {
		if !strings.Contains(string(doc), string(id)) {
			t.Errorf("the export lacks %s", id)
		}
	}
	if strings.Contains(string(doc), string(six.ID)) {
		t.Error("the export has what was never sent")
	}
	before, err := h.Store.FingeringsOf(ctx, f.Studio.ID, w.ID)
	must(t, err)
	_, err = h.Desk.EraseFamily(ctx, v, v.Family)
	must(t, err)
	if left, err := h.Store.FingeringsOf(ctx, f.Studio.ID, w.ID); err != nil || len(before) != 4 || !reflect.DeepEqual(left, []studio.OwnFingering(nil)) {
		t.Errorf("%d before, after erasing %+v, %v", len(before), left, err)
	}
}

// ownDemands: what a work asks in a child's plan follows the fingers that this child has, and is worked out anew when
// they change; the plan of another child follows the studio's.
func ownDemands(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	_, mira := h.Join(t, f, "Abel", "Mira")
	_, jon := h.Join(t, f, "Bartsch", "Jon")
	drill, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Barre drill", Score: scored(t, "G4", "1"), Rights: "own", Exercise: true})
	must(t, err)
	w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Three Blind Mice", Score: scored(t, "C4", "1"), Rights: "traditional"})
	must(t, err)
	shelf, err := h.Desk.Shelve(ctx, f.Teacher, studio.Collection{Name: "First tunes", Items: []studio.CollectionItem{{Work: w.ID}}})
	must(t, err)
	for _, s := range []studio.StudentID{mira, jon} {
		_, err := h.Desk.SettlePlan(ctx, f.Teacher, s, studio.PlanSettings{Minutes: [7]int{20, 20, 20, 20, 20, 20, 20}, MostNew: 1, Collection: shelf.ID})
		must(t, err)
	}
	// look works out what is to be worked out; fingers of child i ask for a barre where barre says so.
	look := func(barre map[studio.FingeringID]bool) (worked []studio.FingeringID) {
		t.Helper()
		unread, err := h.Desk.Unprofiled(ctx, f.Ear)
		must(t, err)
		for _, one := range unread {
			dm := studio.Demand{Load: 1, Bars: 4, LastBar: "4"}
			if one.ID == drill.ID || barre[one.Own] {
				dm.Skills = []string{"small barre"}
			}
			must(t, h.Desk.KeepDemand(ctx, f.Ear, one, dm))
			worked = append(worked, one.Own)
		}
		return worked
	}
	stands := func(s studio.StudentID) (barre bool, unread int) {
		t.Helper()
		p, err := h.Desk.PlanOf(ctx, f.Teacher, s)
		must(t, err)
		if len(p.Ways) != 1 {
			t.Fatalf("ways: %+v", p.Ways)
		}
		return slices.Contains(p.Ways[0].Missing, "small barre"), p.Unread
	}
	is := func(what string, s studio.StudentID, barre bool, unread int) {
		t.Helper()
		if b, n := stands(s); b != barre || n != unread {
			t.Errorf("%s: a barre stands before it: %v, %d not looked at; want %v, %d", what, b, n, barre, unread)
		}
	}
	if n := len(look(map[studio.FingeringID]bool{"": true})); n != 2 {
		t.Fatalf("%d scores were worked out", n)
	}
	is("as everybody", mira, true, 0)
	keep := func(finger string, try bool) studio.OwnFingering {
		t.Helper()
		k, err := h.Desk.KeepFingering(ctx, f.Teacher, studio.OwnFingering{Student: mira, Work: w.ID, Score: scored(t, "C4", finger)}, try)
		must(t, err)
		return k
	}
	easy := keep("2", false)
	is("her own, not looked at yet", mira, true, 1)
	if got := look(nil); !slices.Equal(got, []studio.FingeringID{easy.ID}) {
		t.Errorf("worked out: %q", got)
	}
	is("her own", mira, false, 0)
	is("another child", jon, true, 0)
	tried := keep("3", true)
	if got := look(nil); len(got) != 0 {
		t.Errorf("what is only to be tried is worked out: %q", got)
	}
	_, err = h.Desk.HoldFingering(ctx, f.Teacher, tried.ID)
	must(t, err)
	is("others, not looked at yet", mira, true, 1)
	old := studio.Work{ID: w.ID, Own: tried.ID, Score: "<score/>"}
	must(t, h.Desk.KeepDemand(ctx, f.Ear, old, studio.Demand{Load: 9})) // of the fingers before: it comes too late
	if got := look(map[studio.FingeringID]bool{tried.ID: true}); !slices.Equal(got, []studio.FingeringID{tried.ID}) {
		t.Errorf("worked out: %q", got)
	}
	is("others, with a barre", mira, true, 0)
	_, err = h.Desk.HoldFingering(ctx, f.Teacher, easy.ID)
	must(t, err)
	is("gone back: known already", mira, false, 0)
	w.Score = strings.Replace(scored(t, "C4", "1"), "Three Blind Mice", "Three Blind Mice, again", 1)
	must(t, h.Desk.ReviseWork(ctx, f.Teacher, w))
	if got := look(map[studio.FingeringID]bool{"": true}); !slices.Equal(got, []studio.FingeringID{"", easy.ID}) {
		t.Errorf("after another score there are worked out %q", got)
	}
	is("in another score", mira, false, 0)
	must(t, h.Desk.DropFingering(ctx, f.Teacher, mira, w.ID))
	is("as everybody again", mira, true, 0)
}
