package listen

import (
	"bytes"
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"antiphon/internal/media"
	"antiphon/internal/studio"
)

// read is a file of the test's.
func (r *room) read(path string) []byte {
	r.t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		r.t.Fatal(err)
	}
	return b
}

// decoded is a kept file as the ear hears it, with what it is.
func (r *room) decoded(b []byte) (media.PCM, media.Tracks) {
	r.t.Helper()
	path := filepath.Join(r.t.TempDir(), "kept")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		r.t.Fatal(err)
	}
	t, err := media.Examine(r.t.Context(), path, media.Options{})
	if err != nil {
		r.t.Fatal(err)
	}
	return r.pcm(path), t
}

func (r *room) heardBy(v studio.Viewer, id studio.MediaID) (studio.Media, []byte) {
	r.t.Helper()
	m, f, err := r.desk.Listen(r.t.Context(), v, id)
	if err != nil {
		r.t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		r.t.Fatal(err)
	}
	return m, r.bytes(m)
}

// TestALessonIsFilmedAndItsClipsAreCut: a lesson with two recorded items and two clips of the child's take goes
// out; its film and its clips are there, tell no place, and the family may hear them.
func TestALessonIsFilmedAndItsClipsAreCut(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	ctx := t.Context()
	lane := r.named("lane")
	w, of := r.ask(lane, "", "")
	wav := r.take(lane, "own-nylon", 3, usual)
	video := r.filmed(wav, "640x480")
	take := r.send(video, "video/quicktime", of)
	draft, err := r.desk.SaveDraft(ctx, r.teacher, studio.Lesson{Student: r.child.ID, Date: "2026-11-28", Words: "Well begun.",
		Assignments: []studio.Assignment{{Work: w.ID, Do: "Play it again.", Like: studio.Clip{Take: take, FromS: 1.2, ToS: 3.7}, Best: studio.Clip{Take: take, FromS: 2, ToS: 4}}}})
	if err != nil {
		t.Fatal(err)
	}
	a := draft.Assignments[0].ID
	if _, err := r.desk.KeepAnswer(ctx, r.teacher, draft.ID, a, "audio/webm", bytes.NewReader(r.read(r.encoded(wav, "opus")))); err != nil {
		t.Fatal(err)
	}
	if _, err := r.desk.KeepAnswer(ctx, r.teacher, draft.ID, "", "video/quicktime", bytes.NewReader(r.read(video))); err != nil {
		t.Fatal(err)
	}
	r.work()
	r.wait(take, studio.Ready, studio.NeedsALook)
	if draft, err = r.desk.Lesson(ctx, r.teacher, draft.ID); err != nil {
		t.Fatal(err)
	}
	if err := r.desk.SendLesson(ctx, r.teacher, draft.ID, draft.Version); err != nil {
		t.Fatal(err)
	}
	var f studio.Film
	poll(t, func() bool {
		if f, err = r.desk.Film(ctx, r.coach, draft.ID); err != nil {
			t.Fatal(err)
		}
		return f.State == studio.FilmReady || f.State == studio.FilmFailed
	})
	if f.State != studio.FilmReady || len(f.Chapters) != 2 || f.Chapters[0].Assignment != "" || f.Chapters[1].Assignment != a || f.Chapters[0].ToS != f.Chapters[1].FromS || f.Chapters[1].ToS != f.DurationS {
		t.Fatalf("%+v", f)
	}
	m, b := r.heardBy(r.coach, f.Media)
	pcm, tracks := r.decoded(b)
	if m.Type != "video/mp4" || tracks.Video != "h264" || tracks.Sound != "aac" || math.Abs(pcm.Seconds()-f.DurationS) > 0.05 || bytes.Contains(b, []byte(place)) {
		t.Errorf("%+v, %+v, %v s of %v", m, tracks, pcm.Seconds(), f.DurationS)
	}
	as, err := r.desk.Answers(ctx, r.coach, draft.ID)
	if err != nil || len(as) != 2 {
		t.Fatal(as, err)
	}
	for i, x := range as {
		_, b := r.heardBy(r.coach, x.Media)
		pcm, tracks := r.decoded(b)
		if bytes.Contains(b, []byte(place)) || tracks.Video == "" && !tracks.PlaysEverywhere() || x.DurationS < pcm.Seconds()-0.1 || x.DurationS > pcm.Seconds()+0.7 { // its picture may end later
			t.Errorf("answer %d: %+v, %v s of %v", i, tracks, pcm.Seconds(), x.DurationS)
		}
	}
	var sent studio.Lesson
	poll(t, func() bool {
		if sent, err = r.desk.Lesson(ctx, r.coach, draft.ID); err != nil {
			t.Fatal(err)
		}
		return sent.Assignments[0].Like.Media != "" && sent.Assignments[0].Best.Media != ""
	})
	for _, c := range []studio.Clip{sent.Assignments[0].Like, sent.Assignments[0].Best} {
		m, b := r.heardBy(r.coach, c.Media)
		pcm, tracks := r.decoded(b)
		if m.Type != "video/mp4" || tracks.Video != "h264" || math.Abs(pcm.Seconds()-(c.ToS-c.FromS)) > 0.001 || bytes.Contains(b, []byte(place)) {
			t.Errorf("%s: %+v, %+v, %v s", c.Key(), m, tracks, pcm.Seconds())
		}
	}
	poll(t, func() bool { return len(r.copies()) == 0 })
}

// TestAFilmThatCannotBeMade says which recording is to blame, and what was recorded stays.
func TestAFilmThatCannotBeMade(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	ctx := t.Context()
	w, _ := r.ask(r.named("onebar"), "", "")
	draft, err := r.desk.SaveDraft(ctx, r.teacher, studio.Lesson{Student: r.child.ID, Date: "2026-11-28", Assignments: []studio.Assignment{{Work: w.ID}}})
	if err != nil {
		t.Fatal(err)
	}
	film := studio.Job{Kind: studio.JobFilm, Studio: r.teacher.Studio, Lesson: draft.ID}
	if err := r.hands.Do(ctx, film, true); err != nil {
		t.Errorf("a film of nothing: %v", err)
	}
	if _, err := r.desk.KeepAnswer(ctx, r.teacher, draft.ID, draft.Assignments[0].ID, "audio/mp4", strings.NewReader("torn")); err != nil {
		t.Fatal(err)
	}
	if err := r.hands.Do(ctx, film, true); err != nil {
		t.Error(err)
	}
	if as, err := r.desk.Answers(ctx, r.teacher, draft.ID); err != nil || len(as) != 0 {
		t.Errorf("what nobody can play is still an answer: %+v, %v", as, err)
	}
	for _, c := range []struct {
		err  error
		says string
	}{
		{&media.Error{Kind: media.TooLong, Path: "b"}, "Recording 2 of this lesson is longer"}, {&media.Error{Kind: media.TooLong}, "The items together"},
		{&media.Error{Kind: media.Broken, Path: "a"}, "Recording 1 of this lesson cannot be played"}, {&media.Error{Kind: media.NoTool, Path: "a"}, ""}, {errors.New("x"), ""}, {nil, ""},
	} {
		if got := unfilmed(c.err, []media.FilmItem{{Path: "a"}, {Path: "b"}}); !strings.HasPrefix(got, c.says) || (c.says == "") != (got == "") {
			t.Errorf("%v: %q", c.err, got)
		}
	}
	// Given up on our side: the lesson says so.
	if _, err := r.desk.KeepAnswer(ctx, r.teacher, draft.ID, "", "audio/wav", bytes.NewReader(r.read(r.take(r.named("onebar"), "own-nylon", 1, usual)))); err != nil {
		t.Fatal(err)
	}
	broken := New(r.desk, Options{Dir: filepath.Join(r.folder, "no such folder")})
	if err := broken.Do(ctx, film, true); err == nil {
		t.Error("a film is made without room")
	}
	if f, err := r.desk.Film(ctx, r.teacher, draft.ID); err != nil || f.State != studio.FilmFailed || !strings.Contains(f.Why, "on our side") {
		t.Errorf("%+v, %v", f, err)
	}
}

// TestAnItemThatGoesWhileItIsFilmed is no reason to end without a word: the film is asked for again, and given up aloud.
func TestAnItemThatGoesWhileItIsFilmed(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	ctx := t.Context()
	draft, err := r.desk.SaveDraft(ctx, r.teacher, studio.Lesson{Student: r.child.ID, Date: "2026-11-28", Words: "Well begun."})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.desk.KeepAnswer(ctx, r.teacher, draft.ID, "", "audio/wav", bytes.NewReader(r.read(r.take(r.named("onebar"), "own-nylon", 1, usual)))); err != nil {
		t.Fatal(err)
	}
	if err := r.hands.Do(ctx, studio.Job{Kind: studio.JobClean, Studio: r.teacher.Studio}, false); err != nil {
		t.Fatal(err)
	}
	if err := r.desk.MakeFilm(ctx, r.teacher, draft.ID); err != nil {
		t.Fatal(err)
	}
	err = filepath.WalkDir(filepath.Join(r.folder, "files"), func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			err = os.Remove(path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	film := studio.Job{Kind: studio.JobFilm, Studio: r.teacher.Studio, Lesson: draft.ID}
	if err := r.hands.Do(ctx, film, false); !errors.Is(err, errRetaken) {
		t.Errorf("it is not tried again: %v", err)
	}
	if err := r.hands.Do(ctx, film, true); err == nil {
		t.Error("it is made of nothing")
	}
	if f, err := r.desk.Film(ctx, r.teacher, draft.ID); err != nil || f.State != studio.FilmFailed {
		t.Errorf("it waits for ever: %+v, %v", f, err)
	}
}

// TestAVoiceNote plays everywhere and tells no place.
func TestAVoiceNote(t *testing.T) {
	r := openRoom(t, studio.SoundOnly)
	ctx := t.Context()
	_, of := r.ask(r.named("onebar"), "", "")
	said := r.encoded(r.take(r.named("onebar"), "own-nylon", 1, usual), "opus")
	if err := r.desk.SayVoice(ctx, r.coach, studio.Tap{ID: "7b1f5f0e-1111-4222-8333-444455556666", Student: r.child.ID, Assignment: of, At: time.Now(), Kind: studio.TapVoice}, "audio/webm", bytes.NewReader(r.read(said))); err != nil {
		t.Fatal(err)
	}
	if err := r.hands.Do(ctx, studio.Job{Kind: studio.JobClean, Studio: r.teacher.Studio}, false); err != nil {
		t.Fatal(err)
	}
	taps, err := r.desk.Taps(ctx, r.teacher, studio.TapQuery{Student: r.child.ID})
	if err != nil || len(taps) != 1 || taps[0].Media == "" {
		t.Fatal(taps, err)
	}
	m, b := r.heardBy(r.teacher, taps[0].Media)
	if _, tracks := r.decoded(b); m.Type != "audio/mp4" || !m.Clean || !tracks.PlaysEverywhere() {
		t.Errorf("%+v, %+v", m, tracks)
	}
}

// TestNoticesAreHandedOn to whoever tells.
func TestNoticesAreHandedOn(t *testing.T) {
	r := openRoom(t, studio.SoundOnly)
	away := errors.New("the post is closed")
	var told studio.NoticeID
	hands := New(r.desk, Options{Tell: func(_ context.Context, v studio.Viewer, id studio.NoticeID) error {
		told = id
		if v.Role != studio.Ear {
			t.Errorf("told as %v", v.Role)
		}
		return away
	}})
	job := studio.Job{Kind: studio.JobNotify, Studio: r.teacher.Studio, Notice: "n-1"}
	if err := hands.Do(t.Context(), job, false); !errors.Is(err, away) || told != "n-1" {
		t.Errorf("%v, told %q", err, told)
	}
	if err := r.hands.Do(t.Context(), job, false); err != nil {
		t.Errorf("where nobody is told: %v", err)
	}
}
