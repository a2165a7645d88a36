package storetest

import (
	"bytes"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// lessonFor sends a lesson with these tasks; a work is put in where a task needs one.
func (h *House) lessonFor(t *testing.T, f Founded, s studio.StudentID, as ...studio.Assignment) studio.Lesson {
	t.Helper()
	l := h.draftFor(t, f, s, as...)
	must(t, h.Desk.SendLesson(t.Context(), f.Teacher, l.ID, l.Version))
	l, err := h.Desk.Lesson(t.Context(), f.Teacher, l.ID)
	must(t, err)
	return l
}

func (h *House) draftFor(t *testing.T, f Founded, s studio.StudentID, as ...studio.Assignment) studio.Lesson {
	t.Helper()
	for i := range as {
		if as[i].Work == "" && as[i].Ask.NeedsWork() {
			w, err := h.Desk.AddWork(t.Context(), f.Teacher, studio.Work{Title: "Tallis's Canon", Rights: "traditional"})
			must(t, err)
			as[i].Work = w.ID
		}
	}
	l, err := h.Desk.SaveDraft(t.Context(), f.Teacher, studio.Lesson{Student: s, Date: h.Now.Format(time.DateOnly), Words: "Well done.", Assignments: as})
	must(t, err)
	return l
}

// tasks: every kind of task comes back as it was kept, and what is not there is refused.
func tasks(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	_, jon := h.Join(t, f, "Bartsch", "Jon")
	mine, theirs := h.Send(t, v, mira, "mine").Take, h.Send(t, f.Teacher, jon, "theirs").Take
	w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Ode to Joy", Rights: "traditional"})
	must(t, err)
	model, err := h.Desk.ReceiveModel(ctx, f.Teacher, w.ID, "audio/mp4", strings.NewReader("model"))
	must(t, err)
	full := studio.Assignment{Ask: studio.AskTogether, Work: w.ID, FromBar: "1", ToBar: "8", Do: "As a round.", Minutes: 6, Watch: "The thumb.", Coach: []string{"rest stroke"},
		Goals: studio.Goals{FromBpm: 60, TempoBpm: 72, CleanRun: 3, ContrastDb: 6, Tone: "warm"}, Like: studio.Clip{Take: model.ID, FromS: 1, ToS: 3, Say: "like a bell"},
		Unlike: studio.Clip{Take: mine.ID, FromS: 2, ToS: 4}, Ladder: studio.Ladder{FromBpm: 60, ToBpm: 72, StepBpm: 4, Clean: 3}, Model: model.ID,
		Question: &studio.Question{Say: "Who enters second?", Choices: []string{"parent", "child"}, Right: []string{"parent"}, Explain: "Two bars later."},
		Second:   studio.Second{Kind: studio.Round, AfterBars: 2, Who: studio.ByParent}, Ways: [2]studio.Way{{Say: "open strings"}, {Say: "fourth finger", Fingering: "m a"}}, Opens: "when it is calm", For: w.ID}
	var all []studio.Assignment
	for _, k := range studio.Asks() {
		a := studio.Assignment{Ask: k, Do: "Of this kind: " + string(k) + "."}
		if k.NeedsWork() {
			a.Work = w.ID
		}
		all = append(all, a)
	}
	all = append(all, full)
	sent := h.lessonFor(t, f, mira, all...)
	seen, err := h.Desk.Lesson(ctx, v, sent.ID)
	must(t, err)
	for i := range all {
		got := seen.Assignments[i]
		got.ID = ""
		if !reflect.DeepEqual(got, all[i]) {
			t.Errorf("task %d: %+v\nwant %+v", i, got, all[i])
		}
	}
	if c, err := h.Desk.Course(ctx, f.Teacher, mira); err != nil || len(c) != 1 || c[0].Work != w.ID {
		t.Errorf("what is of no work stands in the course: %+v, %v", c, err)
	}
	if ws, err := h.Desk.Works(ctx, f.Teacher); err != nil || len(ws) != 1 {
		t.Errorf("and in the library: %+v, %v", ws, err)
	}
	for what, a := range map[string]studio.Assignment{
		"no work":                   {Ask: studio.AskPlay},
		"another family's clip":     {Ask: studio.AskRest, Like: studio.Clip{Take: theirs.ID, ToS: 1}},
		"a clip of a take long ago": {Ask: studio.AskRest, Like: studio.Clip{Take: "zzzzzzzzzzzzzzzzzzzzzzzzzz", ToS: 1}},
	} { // may be written, and does not go out
		l, err := h.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: mira, Date: "2026-03-02", Assignments: []studio.Assignment{a}})
		must(t, err)
		refused(t, what, h.Desk.SendLesson(ctx, f.Teacher, l.ID, l.Version), studio.Invalid)
		must(t, h.Desk.DropDraft(ctx, f.Teacher, l.ID))
	}
	for what, a := range map[string]studio.Assignment{
		"a child's take as a model": {Ask: studio.AskListen, Model: mine.ID}, "a work that is none": {Ask: studio.AskRest, Work: studio.WorkID(f.Studio.ID)},
		"for a work that is none": {Ask: studio.AskRest, For: "zzzzzzzzzzzzzzzzzzzzzzzzzz"},
	} {
		_, err := h.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: mira, Date: "2026-03-02", Assignments: []studio.Assignment{a}})
		refused(t, what, err, studio.NotFound)
	}
}

// atHome: what a phone tells once counts once, within reason, and nothing of it is lost.
func atHome(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	b, jon := h.Join(t, f, "Bartsch", "Jon")
	l := h.lessonFor(t, f, mira, studio.Assignment{Do: "Ladder."},
		studio.Assignment{Ask: studio.AskListen, Question: &studio.Question{Say: "How many voices?", Right: []string{"4", "four"}}},
		studio.Assignment{Do: "Carefully."}, studio.Assignment{Ask: studio.AskChoose, Do: "Choose."})
	ladder, listen, careful, choose := l.Assignments[0].ID, l.Assignments[1].ID, l.Assignments[2].ID, l.Assignments[3].ID
	sent := h.Now
	at := func(days int, hour time.Duration) time.Time { return sent.AddDate(0, 0, days).Add(hour * time.Hour) }
	h.Now = at(3, 0)
	n := 0
	tap := func(kind studio.TapKind, a studio.AssignmentID, at time.Time, more func(*studio.Tap)) studio.Tap {
		n++
		x := studio.Tap{ID: fmt.Sprintf("0d9c3a1e-%04d", n), Student: mira, Assignment: a, Kind: kind, At: at}
		if more != nil {
			more(&x)
		}
		return x
	}
	taps := []studio.Tap{
		tap(studio.TapTry, ladder, at(1, 1), func(x *studio.Tap) { x.Clean, x.Bpm, x.Seconds = true, 60, 21 }),
		tap(studio.TapTry, ladder, at(1, 1), func(x *studio.Tap) { x.Bpm = 66 }),
		tap(studio.TapRung, ladder, at(1, 2), func(x *studio.Tap) { x.Bpm = 64 }),
		tap(studio.TapDone, ladder, at(1, 2), nil),
		tap(studio.TapDone, ladder, at(2, 2), nil),
		tap(studio.TapUndone, ladder, at(2, 3), nil), // a slip: no day of practice
		tap(studio.TapHeard, listen, at(-400, 0), nil),
		tap(studio.TapAnswer, listen, at(0, 2), func(x *studio.Tap) { x.Text, x.Right = "three", true }),
		tap(studio.TapAnswer, listen, at(4000, 0), func(x *studio.Tap) { x.Text = " Four!" }),
		tap(studio.TapChose, choose, at(1, 0), func(x *studio.Tap) { x.Text = "open strings" }),
		tap(studio.TapDone, "zzzzzzzzzzzzzzzzzzzzzzzzzz", at(2, 5), func(x *studio.Tap) { x.Bpm, x.Seconds = -1e9, -7 }),
		tap(studio.TapQuestion, "", at(1, 0), func(x *studio.Tap) { x.Text = " Which\x00 finger? " }),
		tap(studio.TapHurt, careful, at(1, 0), func(x *studio.Tap) { x.Text = "The wrist." }),
	}
	must(t, h.Desk.Tap(ctx, v, taps))
	must(t, h.Desk.Tap(ctx, v, taps)) // the answer was lost on the way
	kept, err := h.Desk.Taps(ctx, v, studio.TapQuery{Student: mira})
	must(t, err)
	if len(kept) != len(taps) {
		t.Fatalf("%d taps of %d", len(kept), len(taps))
	}
	by := map[string]studio.Tap{}
	for _, x := range kept {
		by[x.ID] = x
	}
	if early, late, lost := by[taps[6].ID], by[taps[8].ID], by[taps[10].ID]; !early.At.Equal(sent) || !late.At.Equal(h.Now) || lost.Assignment != "" || lost.Bpm != 0 || lost.Seconds != 0 {
		t.Errorf("within reason: %+v, %+v, %+v", early, late, lost)
	}
	got, err := h.Desk.SoFarOf(ctx, v, mira)
	must(t, err)
	if got.Lesson != l.ID || got.Day != l.Date || !got.Opened.IsZero() || !slices.Equal(got.Days, []string{"2026-03-02", "2026-03-03", "2026-03-04", "2026-03-05"}) {
		t.Errorf("so far: %+v", got)
	}
	i := got.Items
	if len(i) != 4 || i[0].Done != 1 || i[0].Tries != 2 || i[0].Clean != 1 || i[0].TopBpm != 64 || i[0].Stopped ||
		!i[1].Heard || i[1].Answer != "Four!" || !i[1].Right || !i[2].Stopped || i[3].Chose != "open strings" {
		t.Errorf("items: %+v", i)
	}
	if len(got.Questions) != 1 || got.Questions[0].Text != "Which finger?" || len(got.Hurts) != 1 {
		t.Errorf("questions %+v, hurts %+v", got.Questions, got.Hurts)
	}
	desk, err := h.Desk.Look(ctx, f.Teacher)
	must(t, err)
	if len(desk.Waiting) != 1 || !desk.Waiting[0].Hurt || len(desk.Waiting[0].Takes) != 1 || desk.Waiting[0].Takes[0].Assignment != careful {
		t.Errorf("the desk: %+v", desk.Waiting)
	}
	all, err := h.Desk.SoFar(ctx, f.Teacher)
	must(t, err)
	if len(all) == 2 && all[0].Student.ID == jon { // they came at the same moment
		all[0], all[1] = all[1], all[0]
	}
	if len(all) != 2 || !reflect.DeepEqual(all[0], got) || all[1].Student.ID != jon || all[1].Family.Name != "Bartsch" || len(all[1].Items) != 0 {
		t.Errorf("of everybody: %+v", all)
	}

	for what, bad := range map[string][]studio.Tap{
		"no id":             {{Student: mira, Kind: studio.TapDone}},
		"an id of signs":    {{ID: "../../../etc", Student: mira, Kind: studio.TapDone}},
		"no kind":           {{ID: "12345678-a", Student: mira, Kind: "won"}},
		"a silent question": {{ID: "12345678-b", Student: mira, Kind: studio.TapQuestion, Text: " "}},
		"a voice unheard":   {{ID: "12345678-c", Student: mira, Kind: studio.TapVoice}},
		"too many":          make([]studio.Tap, 501),
	} {
		refused(t, what, h.Desk.Tap(ctx, v, bad), studio.Invalid)
	}
	one := []studio.Tap{tap(studio.TapDone, ladder, h.Now, nil)}
	refused(t, "by the teacher", h.Desk.Tap(ctx, f.Teacher, one), studio.NotAllowed)
	refused(t, "by another family", h.Desk.Tap(ctx, b, one), studio.NotFound)
	_, err = h.Desk.SoFarOf(ctx, b, mira)
	refused(t, "another family's week", err, studio.NotFound)
	_, err = h.Desk.SoFar(ctx, v)
	refused(t, "everybody's week for a family", err, studio.NotAllowed)
	if xs, err := h.Desk.Taps(ctx, b, studio.TapQuery{}); err != nil || len(xs) != 0 {
		t.Errorf("another family's taps: %+v, %v", xs, err)
	}
	// The same id from another phone of another family is another tap.
	must(t, h.Desk.Tap(ctx, b, []studio.Tap{{ID: taps[0].ID, Student: jon, Kind: studio.TapDone, At: h.Now}}))

	// The teacher answers one; the next lesson answers the rest, and the new week begins empty.
	must(t, h.Desk.AnswerTap(ctx, f.Teacher, mira, taps[12].ID))
	refused(t, "answered by the family", h.Desk.AnswerTap(ctx, v, mira, taps[11].ID), studio.NotAllowed)
	if got, err = h.Desk.SoFarOf(ctx, f.Teacher, mira); err != nil || got.Items[2].Stopped || got.Hurts[0].Answered.IsZero() {
		t.Errorf("answered: %+v, %v", got.Hurts, err)
	}
	h.Now = at(5, 0)
	must(t, h.Desk.Tap(ctx, v, []studio.Tap{tap(studio.TapQuestion, ladder, h.Now, func(x *studio.Tap) { x.Text = "And now?" })}))
	h.Now = at(7, 0)
	next := h.lessonFor(t, f, mira, studio.Assignment{Do: "On."})
	if got, err = h.Desk.SoFarOf(ctx, f.Teacher, mira); err != nil || got.Lesson != next.ID || len(got.Questions) != 0 || len(got.Days) != 0 {
		t.Errorf("the next week: %+v, %v", got, err)
	}
	if _, err := h.Desk.TakeBack(ctx, f.Teacher, next.ID); err != nil {
		t.Error(err)
	}
	if got, err = h.Desk.SoFarOf(ctx, f.Teacher, mira); err != nil || got.Lesson != l.ID || len(got.Questions) != 2 || !got.Questions[1].Answered.IsZero() || got.Hurts[0].Answered.IsZero() {
		t.Errorf("taken back, what was answered with it waits again: %+v, %v", got.Questions, err)
	}
	// When their time is over they go.
	h.Now = kept[0].KeepUntil.AddDate(0, 0, 8)
	h.keepTheClock(t, h.Desk, f)
	if xs, err := h.Desk.Taps(ctx, v, studio.TapQuery{}); err != nil || len(xs) != 0 {
		t.Errorf("kept too long: %+v, %v", xs, err)
	}
}

// voices: a voice note is safe, clean before it is heard, in the child's log, counted, exported and in time gone.
func voices(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	b, _ := h.Join(t, f, "Bartsch", "Jon")
	note := studio.Tap{ID: "a-voice-note", Student: mira, At: h.Now}
	must(t, h.Desk.SayVoice(ctx, v, note, "audio/webm", strings.NewReader("how do I")))
	must(t, h.Desk.SayVoice(ctx, v, note, "audio/webm", strings.NewReader("how do I")))
	refused(t, "a film", h.Desk.SayVoice(ctx, v, studio.Tap{ID: "another-note", Student: mira}, "video/webm", strings.NewReader("x")), studio.Invalid)
	refused(t, "nothing", h.Desk.SayVoice(ctx, v, studio.Tap{ID: "another-note", Student: mira}, "audio/webm", strings.NewReader("")), studio.Invalid)
	refused(t, "of another child", h.Desk.SayVoice(ctx, b, note, "audio/webm", strings.NewReader("x")), studio.NotFound)
	refused(t, "by the teacher", h.Desk.SayVoice(ctx, f.Teacher, note, "audio/webm", strings.NewReader("x")), studio.NotAllowed)
	if n := h.files(t, f); n != 1 {
		t.Errorf("%d files", n)
	}
	so, err := h.Desk.SoFarOf(ctx, f.Teacher, mira)
	must(t, err)
	if len(so.Questions) != 1 || so.Questions[0].Kind != studio.TapVoice || so.Questions[0].Media == "" {
		t.Fatalf("questions: %+v", so.Questions)
	}
	id := so.Questions[0].Media
	_, _, err = h.Desk.Listen(ctx, f.Teacher, id)
	refused(t, "before it is clean", err, studio.Conflict)
	if want := (studio.Job{Kind: studio.JobClean, Studio: f.Studio.ID}); !slices.Contains(h.Jobs.All, want) {
		t.Errorf("jobs: %+v", h.Jobs.All)
	}
	h.cleanAll(t, f)
	so, err = h.Desk.SoFarOf(ctx, f.Teacher, mira)
	must(t, err)
	id = so.Questions[0].Media
	if got := h.played(t, f.Teacher, id); got != "clean how do I" {
		t.Errorf("heard %q", got)
	}
	if got := h.played(t, v, id); got != "clean how do I" {
		t.Errorf("the family hears %q", got)
	}
	_, _, err = h.Desk.Listen(ctx, b, id)
	refused(t, "by another family", err, studio.NotFound)
	log, err := h.Desk.AccessLog(ctx, v, mira)
	must(t, err)
	if len(log) != 2 || log[0].What != "played" {
		t.Errorf("the child's log: %+v", log)
	}
	var zipped bytes.Buffer
	must(t, h.Desk.ExportFamily(ctx, v, v.Family, &zipped))
	if !bytes.Contains(zipped.Bytes(), []byte("clean how do I")) { // recordings are not packed tighter
		t.Error("the voice note is not in the export")
	}
	small := h.desk(studio.DeskOptions{FamilyBytes: 20})
	refused(t, "more than is kept", small.SayVoice(ctx, v, studio.Tap{ID: "another-note", Student: mira}, "audio/webm", strings.NewReader("much more to say")), studio.TooLarge)
	small = h.desk(studio.DeskOptions{FamilyDayBytes: 20})
	refused(t, "more than in a day", small.SayVoice(ctx, v, studio.Tap{ID: "another-note", Student: mira}, "audio/webm", strings.NewReader("much more to say")), studio.TooLarge)
	must(t, h.Desk.Sweep(ctx, f.Ear))
	if n := h.files(t, f); n != 1 {
		t.Errorf("%d files after refusals", n)
	}
	// One that nobody can play goes, and its tap stays.
	must(t, h.Desk.SayVoice(ctx, v, studio.Tap{ID: "a-broken-note", Student: mira}, "audio/webm", strings.NewReader("zzz")))
	ms, err := h.Desk.Unclean(ctx, f.Ear)
	must(t, err)
	if len(ms) != 1 {
		t.Fatalf("unclean: %+v", ms)
	}
	must(t, h.Desk.LoseSpoken(ctx, f.Ear, ms[0]))
	if so, err = h.Desk.SoFarOf(ctx, f.Teacher, mira); err != nil || len(so.Questions) != 2 || so.Questions[0].Media != "" && so.Questions[1].Media != "" {
		t.Errorf("after the loss: %+v, %v", so.Questions, err)
	}
	h.Now = h.Now.AddDate(0, 0, studio.DefaultKeepDays+1)
	if r := h.keepTheClock(t, h.Desk, f); r.Files != 1 {
		t.Errorf("when its time is over: %+v", r)
	}
	must(t, h.Desk.Sweep(ctx, f.Ear))
	if n := h.files(t, f); n != 0 {
		t.Errorf("%d files are left", n)
	}
}
