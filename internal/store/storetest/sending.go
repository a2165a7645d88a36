package storetest

import (
	"bytes"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// cleanAll takes place and device out of what people recorded to say something; here it puts a word before it.
func (h *House) cleanAll(t *testing.T, f Founded) {
	t.Helper()
	ms, err := h.Desk.Unclean(t.Context(), f.Ear)
	must(t, err)
	for _, m := range ms {
		r, err := h.Desk.Bytes(t.Context(), f.Ear, m)
		must(t, err)
		_, err = h.Desk.ReplaceSpoken(t.Context(), f.Ear, m, m.Type, io.MultiReader(strings.NewReader("clean "), r))
		must(t, errors.Join(err, r.Close()))
	}
}

// played is what is in a file, as v hears it.
func (h *House) played(t *testing.T, v studio.Viewer, id studio.MediaID) string {
	t.Helper()
	_, r, err := h.Desk.Listen(t.Context(), v, id)
	must(t, err)
	b, err := io.ReadAll(r)
	must(t, errors.Join(err, r.Close()))
	return string(b)
}

// atAnHour: a lesson goes out at its hour with what was saved last, and not when the hour was moved.
func atAnHour(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	take := h.Send(t, v, mira, "la").Take
	l := h.draftFor(t, f, mira, studio.Assignment{Do: "One."})
	six := h.Now.Add(2 * time.Hour)
	refused(t, "an hour that is over", h.Desk.SendLater(ctx, f.Teacher, l.ID, l.Version, h.Now), studio.Invalid)
	refused(t, "next year", h.Desk.SendLater(ctx, f.Teacher, l.ID, l.Version, h.Now.AddDate(1, 0, 0)), studio.Invalid)
	refused(t, "an older draft", h.Desk.SendLater(ctx, f.Teacher, l.ID, l.Version+1, six), studio.Conflict)
	refused(t, "by a family", h.Desk.SendLater(ctx, v, l.ID, l.Version, six), studio.NotAllowed)
	empty, err := h.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: mira, Date: "2026-03-02"})
	must(t, err)
	refused(t, "an empty one", h.Desk.SendLater(ctx, f.Teacher, empty.ID, empty.Version, six), studio.Invalid)
	must(t, h.Desk.SendLater(ctx, f.Teacher, l.ID, l.Version, six))
	if want := (studio.Job{Kind: studio.JobSend, Studio: f.Studio.ID, Lesson: l.ID, At: six}); !slices.Contains(h.Jobs.All, want) {
		t.Errorf("jobs: %+v", h.Jobs.All)
	}
	l.Assignments[0].Do = "Two."
	l, err = h.Desk.SaveDraft(ctx, f.Teacher, l)
	must(t, err)
	if !l.SendAt.Equal(six) {
		t.Errorf("saved: the hour is %v", l.SendAt)
	}
	due := func() studio.Lesson {
		t.Helper()
		must(t, h.Desk.SendDue(ctx, f.Ear, l.ID))
		l, err := h.Desk.Lesson(ctx, f.Teacher, l.ID)
		must(t, err)
		return l
	}
	if l := due(); !l.Sent.IsZero() {
		t.Error("sent before its hour")
	}
	must(t, h.Desk.CancelSending(ctx, f.Teacher, l.ID))
	h.Now = six
	if l := due(); !l.Sent.IsZero() || !l.SendAt.IsZero() {
		t.Errorf("cancelled, and sent: %+v", l)
	}
	must(t, h.Desk.SendLater(ctx, f.Teacher, l.ID, l.Version, six.Add(time.Hour)))
	h.Now = h.Now.Add(time.Minute) // after the teacher went to bed
	late := h.Send(t, v, mira, "la la la").Take
	must(t, h.Desk.Tap(ctx, v, []studio.Tap{{ID: "night-0001", Student: mira, Kind: studio.TapHurt, At: h.Now, Text: "The wrist."}}))
	h.Now = six.AddDate(0, 0, 2) // the machine was off
	l = due()
	if r, err := h.Desk.ReviewTake(ctx, f.Teacher, late.ID); err != nil || !r.Take.Answered.IsZero() {
		t.Errorf("what came in the night was answered by a lesson that knows nothing of it: %+v, %v", r.Take, err)
	}
	if so, err := h.Desk.SoFarOf(ctx, f.Teacher, mira); err != nil || len(so.Hurts) != 1 {
		t.Errorf("a hurt in the night: %+v, %v", so.Hurts, err)
	}
	if !l.Sent.Equal(h.Now) || !l.SendAt.IsZero() || l.Assignments[0].Do != "Two." {
		t.Errorf("at its hour: %+v", l)
	}
	if seen, err := h.Desk.Lesson(ctx, v, l.ID); err != nil || seen.Words != "Well done." {
		t.Errorf("the family sees %+v, %v", seen, err)
	}
	if r, err := h.Desk.ReviewTake(ctx, f.Teacher, take.ID); err != nil || !r.Take.Answered.Equal(h.Now) {
		t.Errorf("the take: %+v, %v", r.Take, err)
	}
	// A clock that runs behind the one that wakes is asked again, and a half-written lesson misses its hour.
	next := h.draftFor(t, f, mira, studio.Assignment{Do: "Three."})
	eight := h.Now.Add(2 * time.Hour)
	must(t, h.Desk.SendLater(ctx, f.Teacher, next.ID, next.Version, eight))
	h.Now = eight.Add(-2 * time.Second)
	h.Jobs.All = nil
	must(t, h.Desk.SendDue(ctx, f.Ear, next.ID))
	if want := (studio.Job{Kind: studio.JobSend, Studio: f.Studio.ID, Lesson: next.ID, At: eight}); !slices.Contains(h.Jobs.All, want) {
		t.Errorf("woken two seconds early, and not again: %+v", h.Jobs.All)
	}
	next.Assignments[0].Ladder = studio.Ladder{FromBpm: 60, ToBpm: 1, StepBpm: 4, Clean: 3}
	next.Assignments[0].Half = map[string]string{"tempo": "6o"}
	next, err = h.Desk.SaveDraft(ctx, f.Teacher, next)
	must(t, err)
	h.Now = eight
	must(t, h.Desk.SendDue(ctx, f.Ear, next.ID))
	if l, err := h.Desk.Lesson(ctx, f.Teacher, next.ID); err != nil || !l.Sent.IsZero() || !l.SendAt.IsZero() || !l.Missed.Equal(eight) || l.Assignments[0].Half["tempo"] != "6o" || l.Assignments[0].Ladder.ToBpm != 1 {
		t.Errorf("half written at its hour: %+v, %v", l, err)
	}
	refused(t, "half written", h.Desk.SendLesson(ctx, f.Teacher, next.ID, next.Version), studio.Invalid)
	refused(t, "half written, later", h.Desk.SendLater(ctx, f.Teacher, next.ID, next.Version, h.Now.Add(time.Hour)), studio.Invalid)
	must(t, h.Desk.DropDraft(ctx, f.Teacher, next.ID))
	must(t, h.Desk.SendDue(ctx, f.Ear, next.ID))
	refused(t, "when it is sent", h.Desk.SendLater(ctx, f.Teacher, l.ID, l.Version, h.Now.Add(time.Hour)), studio.Conflict)
	refused(t, "by a family", h.Desk.SendDue(ctx, v, l.ID), studio.NotAllowed)
	first := h.Now
	if ls, err := h.Desk.Lessons(ctx, v, studio.LessonQuery{}); err != nil || len(ls) != 1 || !ls[0].Opened.IsZero() {
		t.Errorf("looked up, and opened by nobody: %+v, %v", ls, err)
	}
	must(t, h.Desk.SeeLesson(ctx, v, l.ID))
	if ls, err := h.Desk.Lessons(ctx, v, studio.LessonQuery{}); err != nil || len(ls) != 1 || !ls[0].Opened.Equal(first) {
		t.Errorf("the family opens it: %+v, %v", ls, err)
	}
	h.Now = h.Now.Add(time.Hour)
	must(t, h.Desk.SeeLesson(ctx, v, l.ID))
	if l = due(); !l.Opened.Equal(first) {
		t.Errorf("opened %v, want %v", l.Opened, first)
	}
}

// takingBack: for ten minutes a lesson can be a draft again, and the family is told of nothing before.
func takingBack(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	_, err := h.Desk.AddPush(ctx, v, []byte(`{"endpoint":"https://push.example.org/1"}`))
	must(t, err)
	take := h.Send(t, v, mira, "la").Take
	h.Jobs.All = nil
	l := h.lessonFor(t, f, mira, studio.Assignment{Do: "One."})
	told := func() (jobs []studio.Job) {
		for _, j := range h.Jobs.All {
			if j.Kind == studio.JobNotify {
				jobs = append(jobs, j)
			}
		}
		return jobs
	}
	if got := told(); len(got) != 1 || !got[0].At.Equal(h.Now.Add(studio.UnsendFor)) {
		t.Fatalf("told: %+v", got)
	}
	x, err := h.Desk.ToTell(ctx, f.Ear, told()[0].Notice)
	must(t, err)
	if x.Notice.Kind != studio.OfLesson || x.Person.ID != v.Person || len(x.Push) != 1 || x.Studio.ID != f.Studio.ID || x.Notice.About != string(l.ID) {
		t.Errorf("to tell: %+v", x)
	}
	must(t, h.Desk.SeeLesson(ctx, v, l.ID))
	sent := h.Now
	h.Now = sent.Add(studio.UnsendFor)
	_, err = h.Desk.TakeBack(ctx, f.Teacher, l.ID)
	refused(t, "at the moment at which the family is told", err, studio.Conflict)
	h.Now = sent.Add(studio.UnsendFor - time.Second)
	must(t, h.Desk.Tap(ctx, v, []studio.Tap{{ID: "tap-ask-1", Student: mira, Assignment: l.Assignments[0].ID, Kind: studio.TapQuestion, Text: "Which finger?", At: h.Now},
		{ID: "tap-try-1", Student: mira, Assignment: l.Assignments[0].ID, Kind: studio.TapTry, Clean: true, Bpm: 60, At: h.Now}}))
	back, err := h.Desk.TakeBack(ctx, f.Teacher, l.ID)
	must(t, err)
	if !back.Sent.IsZero() || !back.Opened.IsZero() || back.Version <= l.Version || len(back.Assignments) != 1 {
		t.Errorf("taken back: %+v", back)
	}
	_, err = h.Desk.Lesson(ctx, v, l.ID)
	refused(t, "a draft for the family", err, studio.NotFound)
	_, err = h.Desk.ToTell(ctx, f.Ear, told()[0].Notice)
	refused(t, "telling of it", err, studio.NotFound)
	if r, err := h.Desk.ReviewTake(ctx, f.Teacher, take.ID); err != nil || !r.Take.Answered.IsZero() {
		t.Errorf("the take waits again: %+v, %v", r.Take, err)
	}
	_, err = h.Desk.TakeBack(ctx, f.Teacher, l.ID)
	refused(t, "a draft", err, studio.Conflict)
	_, err = h.Desk.TakeBack(ctx, v, l.ID)
	refused(t, "by the family", err, studio.NotAllowed)

	// What was tapped of it stays, also where its task is taken out, and what comes late of that is kept without it.
	gone := back.Assignments[0].ID
	back.Assignments[0].ID = ""
	back, err = h.Desk.SaveDraft(ctx, f.Teacher, back)
	must(t, err)
	must(t, h.Desk.Tap(ctx, v, []studio.Tap{{ID: "tap-late-1", Student: mira, Assignment: gone, Kind: studio.TapDone, At: h.Now}}))
	if ts, err := h.Desk.Taps(ctx, f.Teacher, studio.TapQuery{Student: mira}); err != nil || len(ts) != 3 {
		t.Errorf("tapped: %+v, %v", ts, err)
	}
	if x, err := h.Desk.SoFarOf(ctx, f.Teacher, mira); err != nil || len(x.Questions) != 1 || x.Questions[0].Text != "Which finger?" {
		t.Errorf("what was asked: %+v, %v", x, err)
	}

	back.Assignments[0].Do = "Better."
	back, err = h.Desk.SaveDraft(ctx, f.Teacher, back)
	must(t, err)
	must(t, h.Desk.SendLesson(ctx, f.Teacher, back.ID, back.Version))
	if n := len(told()); n != 2 {
		t.Errorf("told %d times", n)
	}
	a, err := h.Desk.Announce(ctx, v, studio.Announcement{Student: mira, Assignment: back.Assignments[0].ID})
	must(t, err)
	_, err = h.Desk.TakeBack(ctx, f.Teacher, l.ID)
	refused(t, "where a take is coming", err, studio.Conflict)
	must(t, h.Desk.GiveUp(ctx, v, a.ID))
	must(t, h.Desk.Tap(ctx, v, []studio.Tap{{ID: "tap-hurt-1", Student: mira, Assignment: back.Assignments[0].ID, Kind: studio.TapHurt, Text: "the wrist", At: h.Now}}))
	_, err = h.Desk.TakeBack(ctx, f.Teacher, l.ID)
	refused(t, "where something hurt", err, studio.Conflict)
	h.Now = h.Now.Add(studio.UnsendFor + time.Second)
	_, err = h.Desk.TakeBack(ctx, f.Teacher, l.ID)
	refused(t, "after ten minutes", err, studio.Conflict)
}

// itemByItem: the answer is recorded in pieces, each can be made anew, and a family hears what was sent.
func itemByItem(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	b, _ := h.Join(t, f, "Bartsch", "Jon")
	l := h.draftFor(t, f, mira, studio.Assignment{Do: "One."}, studio.Assignment{Ask: studio.AskListen, Do: "Two."})
	one, two := l.Assignments[0].ID, l.Assignments[1].ID
	keep := func(a studio.AssignmentID, said string) {
		t.Helper()
		_, err := h.Desk.KeepAnswer(ctx, f.Teacher, l.ID, a, "video/webm", strings.NewReader(said))
		must(t, err)
	}
	keep(two, "two")
	keep(one, "one")
	keep(one, "one anew")
	keep("", "hello")
	_, err := h.Desk.KeepRecording(ctx, f.Teacher, l.ID, two, "audio/mp4", strings.NewReader("listen"))
	must(t, err)
	must(t, h.Desk.CaptionAnswer(ctx, f.Teacher, l.ID, one, "WEBVTT\r\n\r\n00:00.000 --> 00:02.000\r\nOne."))
	_, err = h.Desk.KeepAnswer(ctx, v, l.ID, one, "video/webm", strings.NewReader("x"))
	refused(t, "by the family", err, studio.NotAllowed)
	_, err = h.Desk.KeepAnswer(ctx, f.Teacher, l.ID, "zzzzzzzzzzzzzzzzzzzzzzzzzz", "video/webm", strings.NewReader("x"))
	refused(t, "to no item", err, studio.Invalid)
	_, err = h.Desk.KeepAnswer(ctx, f.Teacher, l.ID, one, "text/html", strings.NewReader("x"))
	refused(t, "no recording", err, studio.Invalid)
	_, err = h.Desk.KeepAnswer(ctx, f.Teacher, l.ID, one, "video/webm", strings.NewReader(""))
	refused(t, "nothing", err, studio.Invalid)
	_, err = h.desk(studio.DeskOptions{FamilyBytes: 12}).KeepAnswer(ctx, f.Teacher, l.ID, one, "video/webm", strings.NewReader("more than fits"))
	refused(t, "more than is kept", err, studio.TooLarge)
	must(t, h.Desk.Sweep(ctx, f.Ear))
	if n := h.files(t, f); n != 4 {
		t.Errorf("%d files", n)
	}
	h.cleanAll(t, f)
	must(t, h.Desk.MeasureAnswer(ctx, f.Ear, l.ID, one, 2.5))
	as, err := h.Desk.Answers(ctx, f.Teacher, l.ID)
	must(t, err)
	if len(as) != 3 || as[0].Assignment != "" || as[1].Assignment != one || as[2].Assignment != two || as[1].DurationS != 2.5 || !strings.HasPrefix(as[1].Captions, "WEBVTT\n\n00") || as[1].Type != "video/webm" {
		t.Errorf("answers: %+v", as)
	}
	if got := h.played(t, f.Teacher, as[1].Media); got != "clean one anew" {
		t.Errorf("heard %q", got)
	}
	_, err = h.Desk.Answers(ctx, v, l.ID)
	refused(t, "a draft's, by the family", err, studio.NotFound)
	_, _, err = h.Desk.Listen(ctx, v, as[1].Media)
	refused(t, "hearing a draft's", err, studio.NotFound)

	// A film goes with what was recorded anew or taken out of it: nobody hears what is not said any more.
	filmed := func() studio.MediaID {
		t.Helper()
		x, err := h.Desk.KeepFilm(ctx, f.Ear, l.ID, studio.Film{DurationS: 3, Chapters: []studio.Chapter{{ToS: 3}}}, "video/mp4", strings.NewReader("film"))
		must(t, err)
		return x.Media
	}
	for what, change := range map[string]func(){"recorded anew": func() { keep("", "hello again") }, "taken out": func() { must(t, h.Desk.RemoveAnswer(ctx, f.Teacher, l.ID, "")) }} {
		keep("", "hello")
		old := filmed()
		change()
		if x, err := h.Desk.Film(ctx, f.Teacher, l.ID); err != nil || x.State != studio.NoFilm || x.Media != "" {
			t.Errorf("%s: the film is %+v, %v", what, x, err)
		}
		_, _, err := h.Desk.Listen(ctx, f.Teacher, old)
		refused(t, what+", and heard in the film", err, studio.NotFound)
	}
	keep("", "hello")
	h.cleanAll(t, f)
	must(t, h.Desk.Sweep(ctx, f.Ear))

	// The first item is thrown out: what was recorded for it goes when the lesson goes out, and not before.
	l, err = h.Desk.Lesson(ctx, f.Teacher, l.ID)
	must(t, err)
	if l.Assignments[1].Recording == "" {
		t.Error("the recording to hear is not found")
	}
	l.Assignments = l.Assignments[1:]
	l, err = h.Desk.SaveDraft(ctx, f.Teacher, l)
	must(t, err)
	h.Jobs.All = nil
	must(t, h.Desk.SendLesson(ctx, f.Teacher, l.ID, l.Version))
	must(t, h.Desk.Sweep(ctx, f.Ear))
	if n := h.files(t, f); n != 3 {
		t.Errorf("%d files after sending", n)
	}
	if want := (studio.Job{Kind: studio.JobFilm, Studio: f.Studio.ID, Lesson: l.ID}); !slices.Contains(h.Jobs.All, want) {
		t.Errorf("no film is made: %+v", h.Jobs.All)
	}
	as, err = h.Desk.Answers(ctx, v, l.ID)
	must(t, err)
	if len(as) != 2 || h.played(t, v, as[1].Media) != "clean two" || h.played(t, v, l.Assignments[0].Recording) != "clean listen" {
		t.Errorf("the family's: %+v", as)
	}
	if log, err := h.Desk.AccessLog(ctx, v, mira); err != nil || len(log) != 0 {
		t.Errorf("the teacher's voice stands in the child's log: %+v, %v", log, err)
	}
	_, _, err = h.Desk.Listen(ctx, b, as[1].Media)
	refused(t, "by another family", err, studio.NotFound)
	_, err = h.Desk.KeepAnswer(ctx, f.Teacher, l.ID, two, "video/webm", strings.NewReader("late"))
	refused(t, "when it is sent", err, studio.Conflict)

	film := studio.Film{DurationS: 9, Chapters: []studio.Chapter{{ToS: 4}, {Assignment: two, FromS: 4, ToS: 9}}}
	if x, err := h.Desk.Film(ctx, v, l.ID); err != nil || x.State != studio.FilmMaking {
		t.Errorf("while it is made: %+v, %v", x, err)
	}
	_, err = h.Desk.KeepFilm(ctx, f.Ear, l.ID, studio.Film{State: studio.FilmFailed, Why: "No sound."}, "", nil)
	must(t, err)
	for _, body := range []string{"first", "second"} {
		_, err = h.Desk.KeepFilm(ctx, f.Ear, l.ID, film, "video/mp4", strings.NewReader(body))
		must(t, err)
	}
	x, err := h.Desk.Film(ctx, v, l.ID)
	must(t, err)
	if x.State != studio.FilmReady || x.Why != "" || len(x.Chapters) != 2 || x.Chapters[1] != film.Chapters[1] || h.played(t, v, x.Media) != "second" {
		t.Errorf("the film: %+v", x)
	}
	if log, err := h.Desk.AccessLog(ctx, v, mira); err != nil || len(log) != 0 {
		t.Errorf("the teacher's film stands in the child's log: %+v, %v", log, err)
	}
	_, err = h.Desk.KeepFilm(ctx, f.Teacher, l.ID, film, "video/mp4", strings.NewReader("x"))
	refused(t, "by the teacher", err, studio.NotAllowed)

	// A draft that is dropped takes its recordings along; until then they are the teacher's alone.
	l = h.draftFor(t, f, mira, studio.Assignment{Ask: studio.AskRest})
	keep("", "for nothing")
	h.cleanAll(t, f)
	var zipped bytes.Buffer
	must(t, h.Desk.ExportFamily(ctx, v, v.Family, &zipped))
	for what, want := range map[string]bool{"clean two": true, "clean listen": true, "second": true, "for nothing": false} {
		if bytes.Contains(zipped.Bytes(), []byte(what)) != want {
			t.Errorf("in the export %q: %v", what, !want)
		}
	}
	if err := h.Desk.DropDraft(ctx, f.Teacher, l.ID); err != nil {
		t.Error(err)
	}
	must(t, h.Desk.Sweep(ctx, f.Ear))
	if n := h.files(t, f); n != 4 {
		t.Errorf("%d files at the end", n)
	}
	// When their time is over the files go, and the lesson stays.
	h.Now = h.Now.AddDate(0, 0, studio.DefaultKeepDays)
	if r := h.keepTheClock(t, h.Desk, f); r.Files != 4 {
		t.Errorf("when their time is over: %+v", r)
	}
	must(t, h.Desk.Sweep(ctx, f.Ear))
	if n := h.files(t, f); n != 0 {
		t.Errorf("%d files are left", n)
	}
	ls, err := h.Desk.Lessons(ctx, v, studio.LessonQuery{})
	must(t, err)
	as, err = h.Desk.Answers(ctx, v, ls[0].ID)
	if x, err2 := h.Desk.Film(ctx, v, ls[0].ID); err != nil || err2 != nil || len(as) != 0 || x.State != studio.NoFilm || len(ls) != 1 {
		t.Errorf("what stays: %+v, %+v, %+v, %v, %v", ls, as, x, err, err2)
	}
}

// clips: what is cut of a take for a lesson is heard by its family, and goes with the take.
func clips(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	b, _ := h.Join(t, f, "Bartsch", "Jon")
	take := h.Send(t, v, mira, "la la la").Take
	h.heard(t, f.Ear, take.ID, hearing)
	w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Ode to Joy"})
	must(t, err)
	model, err := h.Desk.ReceiveModel(ctx, f.Teacher, w.ID, "audio/mp4", strings.NewReader("model"))
	must(t, err)
	h.heard(t, f.Ear, model.ID, hearing)
	h.Jobs.All = nil
	unlike := studio.Clip{Take: take.ID, FromS: 1, ToS: 2, Say: "hurried"}
	l := h.draftFor(t, f, mira, studio.Assignment{Ask: studio.AskListen, Model: model.ID, Like: studio.Clip{Take: model.ID, FromS: 0, ToS: 2}, Unlike: unlike, Last: unlike})
	if want := (studio.Job{Kind: studio.JobClip, Studio: f.Studio.ID, Lesson: l.ID}); !slices.Contains(h.Jobs.All, want) {
		t.Errorf("nobody cuts: %+v", h.Jobs.All)
	}
	cut, err := h.Desk.ClipsToCut(ctx, f.Ear, l.ID)
	must(t, err)
	if len(cut) != 2 {
		t.Fatalf("to cut: %+v", cut)
	}
	for range 2 {
		for _, c := range cut {
			_, err := h.Desk.KeepClip(ctx, f.Ear, l.ID, c, "audio/mp4", strings.NewReader("of "+string(c.Take)))
			must(t, err)
		}
	}
	must(t, h.Desk.Sweep(ctx, f.Ear))
	l, err = h.Desk.Lesson(ctx, f.Teacher, l.ID)
	must(t, err)
	a := l.Assignments[0]
	if a.Like.Media == "" || a.Unlike.Media == "" || a.Last.Media != a.Unlike.Media || a.Unlike.Say != "hurried" {
		t.Fatalf("cut: %+v", a)
	}
	_, _, err = h.Desk.Listen(ctx, v, a.Like.Media)
	refused(t, "of a draft", err, studio.NotFound)
	l, err = h.Desk.SaveDraft(ctx, f.Teacher, l) // saved again, it is not cut again
	must(t, err)
	if cut, err := h.Desk.ClipsToCut(ctx, f.Ear, l.ID); err != nil || len(cut) != 0 {
		t.Errorf("to cut again: %+v, %v", cut, err)
	}
	must(t, h.Desk.SendLesson(ctx, f.Teacher, l.ID, l.Version))
	if got := h.played(t, v, a.Unlike.Media); got != "of "+string(take.ID) {
		t.Errorf("heard %q", got)
	}
	if got := h.played(t, v, a.Like.Media); got != "of "+string(model.ID) {
		t.Errorf("heard %q", got)
	}
	ms, err := h.Store.Media(ctx, studio.OneFamily(v.Studio, studio.Shelf(v.Studio)), model.ID)
	must(t, err)
	if got := h.played(t, v, ms[0].ID); got != "model" { // asked to be heard, though never to be played
		t.Errorf("the model: %q", got)
	}
	for _, id := range []studio.MediaID{a.Unlike.Media, a.Like.Media, ms[0].ID} {
		_, _, err := h.Desk.Listen(ctx, b, id)
		refused(t, "by another family", err, studio.NotFound)
	}
	if log, err := h.Desk.AccessLog(ctx, v, mira); err != nil || len(log) != 1 || log[0].Take != take.ID {
		t.Errorf("the log: %+v, %v", log, err)
	}
	before := h.files(t, f)
	_, err = h.Desk.DeleteTake(ctx, v, take.ID)
	must(t, err)
	must(t, h.Desk.Sweep(ctx, f.Ear))
	if n := h.files(t, f); n != before-2 {
		t.Errorf("%d files of %d: the clip of a deleted take is still there", n, before)
	}
	if l, err = h.Desk.Lesson(ctx, v, l.ID); err != nil || l.Assignments[0].Unlike.Media != "" || l.Assignments[0].Like.Media == "" {
		t.Errorf("the lesson: %+v, %v", l.Assignments[0], err)
	}
	// The teacher's own take goes too: what is being written can be saved still, and does not go out without a word.
	next := h.draftFor(t, f, mira, studio.Assignment{Ask: studio.AskListen, Model: model.ID})
	must(t, h.Desk.SendLater(ctx, f.Teacher, next.ID, next.Version, h.Now.Add(time.Hour)))
	_, err = h.Desk.DeleteTake(ctx, f.Teacher, model.ID)
	must(t, err)
	next, err = h.Desk.SaveDraft(ctx, f.Teacher, next)
	must(t, err)
	h.Now = h.Now.Add(time.Hour)
	must(t, h.Desk.SendDue(ctx, f.Ear, next.ID))
	if l, err := h.Desk.Lesson(ctx, f.Teacher, next.ID); err != nil || !l.Sent.IsZero() || !l.Missed.Equal(h.Now) {
		t.Errorf("at its hour without its take: %+v, %v", l, err)
	}
	refused(t, "without its take", h.Desk.SendLesson(ctx, f.Teacher, next.ID, next.Version), studio.Invalid)
}
