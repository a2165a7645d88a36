package week_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/webtest/chromium"
)

// moving is a short film with sound, as a browser records one.
func moving(t *testing.T) []byte {
	t.Helper()
	file := filepath.Join(t.TempDir(), "film.webm")
	out, err := exec.CommandContext(t.Context(), "ffmpeg", "-nostdin", "-v", "error", "-f", "lavfi", "-i", "testsrc=size=320x240:rate=10:duration=8",
		"-f", "lavfi", "-i", "sine=frequency=220:duration=8", "-c:v", "libvpx", "-b:v", "200k", "-c:a", "libopus", "-b:a", "32k", file).CombinedOutput()
	if err != nil {
		t.Fatalf("ffmpeg: %v %s", err, out)
	}
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestTheFilm: the answer is one film with a chapter for each thing, and each card plays its own stretch, with what is said
// as captions and in words. It is kept on the phone by choice, and then plays without a network, from the middle too.
func TestTheFilm(t *testing.T) {
	s, nils, _ := whole(t)
	ctx := t.Context()
	film := moving(t)
	works, err := s.Desk.Works(ctx, s.Teacher)
	if err != nil {
		t.Fatal(err)
	}
	l, err := s.Desk.SaveDraft(ctx, s.Teacher, studio.Lesson{Student: nils.ID, Date: "2026-11-04", Words: "Dear Nils,", Assignments: []studio.Assignment{{Work: works[0].ID, Do: "Slowly."}}})
	if err != nil {
		t.Fatal(err)
	}
	of := l.Assignments[0].ID
	for _, a := range []studio.AssignmentID{"", of} {
		if _, err := s.Desk.KeepAnswer(ctx, s.Teacher, l.ID, a, "video/webm", bytes.NewReader(film)); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Desk.CaptionAnswer(ctx, s.Teacher, l.ID, of, "WEBVTT\n\n00:01.000 --> 00:02.000\nLet the arm hang.\n"); err != nil {
		t.Fatal(err)
	}
	if err := s.Desk.SendLesson(ctx, s.Teacher, l.ID, l.Version); err != nil {
		t.Fatal(err)
	}
	at := "/week?child=" + string(nils.ID)
	if _, body := s.Get(t, s.Lindqvist.Device, at); strings.Contains(body, "<video") {
		t.Error("what is not clean yet is offered")
	}
	ear := studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
	reel := studio.Film{Lesson: l.ID, DurationS: 8, State: studio.FilmReady, Chapters: []studio.Chapter{{FromS: 0, ToS: 3}, {Assignment: of, FromS: 3, ToS: 8}}}
	if _, err := s.Desk.KeepFilm(ctx, ear, l.ID, reel, "video/webm", bytes.NewReader(film)); err != nil {
		t.Fatal(err)
	}
	s.Wait(time.Hour)
	_, body := s.Get(t, s.Lindqvist.Device, at)
	has(t, "the week", body, `data-island="film"`, "#t=3.00,8.00", "Let the arm hang.", "Hello", "0:03", "Keep the film on this phone (1 MB)")
	_, vtt := s.Get(t, s.Lindqvist.Device, "/week/captions/"+string(l.ID))
	has(t, "the captions of the film", vtt, "WEBVTT", "00:00:04.000 --> 00:00:05.000", "Let the arm hang.")
	if status, _ := s.Get(t, s.Okafor.Device, "/week/captions/"+string(l.ID)); status != 404 {
		t.Errorf("another family reads what is said: %d", status)
	}

	// The film's own route belongs to package arrive.
	line := chromium.LineTo(t, s.URL)
	b := chromium.Open(t, line.URL)
	b.Cookie("antiphon", s.Lindqvist.Device)
	b.Look(390, "light")
	b.Go(at)
	b.Wait(`document.querySelector(".film video").readyState >= 1`)
	look(t, b, "film")
	b.Wait(`document.querySelector("footer [data-kept]").checkVisibility()`)
	b.Click("[data-film-keep]")
	b.Wait(`document.querySelector("[data-film-here]").checkVisibility() && !document.querySelector("[data-film-keep]").checkVisibility()`)
	line.Cut(b)
	b.Go(at)
	b.Wait(`document.querySelector(".film video").readyState >= 1`)
	b.Click(`[data-at="3.00"]`)
	b.Wait(`document.querySelector(".film video").currentTime >= 3.2`)
	if got := chromium.Eval[string](b, fmt.Sprintf(`fetch("/media/%s", { headers: { Range: "bytes=100-199" } }).then((r) => r.arrayBuffer().then((b) => r.status + " " + b.byteLength + " " + r.headers.get("Content-Range")))`, filmOf(t, s.Desk, s.Lindqvist.Coach, l.ID))); got != fmt.Sprintf("206 100 bytes 100-199/%d", len(film)) {
		t.Errorf("a part of the kept film: %s", got)
	}
	b.Click("[data-film-drop]")
	b.Wait(`document.querySelector("[data-film-keep]").checkVisibility()`)
	if !chromium.Eval[bool](b, `document.querySelector(".film details").open`) {
		t.Error("the film is folded before it was watched")
	}
	// Watched to its end, it is folded the next time, and today's list stands first.
	chromium.Eval[bool](b, `(async () => { const v = document.querySelector(".film video"); v.currentTime = v.duration - 0.3; await v.play().catch(() => {}); return true })()`)
	b.Wait(`localStorage.getItem("antiphon-film-seen")`)
	b.Go(at)
	b.Wait(`!document.querySelector(".film details").open`)
	look(t, b, "film-folded")
}

func filmOf(t *testing.T, d *studio.Desk, v studio.Viewer, l studio.LessonID) studio.MediaID {
	t.Helper()
	f, err := d.Film(t.Context(), v, l)
	if err != nil {
		t.Fatal(err)
	}
	return f.Media
}
