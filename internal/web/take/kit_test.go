package take_test

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"antiphon/internal/listen"
	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/rehearse"
	"antiphon/internal/studio"
	"antiphon/internal/web/arrive"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/take"
	"antiphon/internal/web/webtest"
)

// hall is a studio with a work, asked of Ada, and what the pages of takes need.
type hall struct {
	*webtest.Site
	t      testing.TB
	work   studio.Work
	score  *music.Score
	asked  studio.AssignmentID
	hands  *listen.Hands
	banks  *rehearse.Banks
	events *arrive.Arrivals
	n      int
}

// open opens the hall; the work is a tune from the engraver's samples.
func open(t testing.TB, tune string) *hall {
	t.Helper()
	s := webtest.Open(t)
	b, err := os.ReadFile("../../engrave/testdata/" + tune + ".musicxml")
	if err != nil {
		t.Fatal(err)
	}
	h := &hall{t: t, hands: listen.New(s.Desk, listen.Options{Dir: t.TempDir(), Now: s.Now}), banks: &rehearse.Banks{Cache: filepath.Join(os.TempDir(), "antiphon-test-notes")}}
	if h.score, _, err = notation.ReadFile("../../engrave/testdata/"+tune+".musicxml", notation.Limits{}); err != nil {
		t.Fatal(err)
	}
	ctx := t.Context()
	if h.work, err = s.Desk.AddWork(ctx, s.Teacher, studio.Work{Title: h.score.Title, Score: string(b)}); err != nil {
		t.Fatal(err)
	}
	sheets := sheet.New(webtest.Engraver(t), s.Frame)
	pages, err := take.New(s.Frame, sheets)
	if err != nil {
		t.Fatal(err)
	}
	if h.events, err = arrive.New(s.Frame, arrive.Options{Dir: t.TempDir(), Poll: 100 * time.Millisecond}); err != nil {
		t.Fatal(err)
	}
	h.Site = s.Serve(t, sheets.Routes, pages.Routes, h.events.Routes)
	h.asked = h.lesson("2026-11-01", studio.Assignment{Work: h.work.ID, Do: "Play it.", Goals: studio.Goals{TempoBpm: 100}})
	return h
}

// lesson sends Ada a lesson with one assignment.
func (h *hall) lesson(date string, a studio.Assignment) studio.AssignmentID {
	h.t.Helper()
	ctx := h.t.Context()
	l, err := h.Desk.SaveDraft(ctx, h.Teacher, studio.Lesson{Student: h.Okafor.Students[0].ID, Date: date, Words: "Good.", Assignments: []studio.Assignment{a}})
	if err != nil {
		h.t.Fatal(err)
	}
	if err := h.Desk.SendLesson(ctx, h.Teacher, l.ID, l.Version); err != nil {
		h.t.Fatal(err)
	}
	return l.Assignments[0].ID
}

// played renders a take of the work: bars from to, to (by index) and so on, one leg after the other.
func (h *hall) played(seed uint64, manner rehearse.Manner, legs ...[2]int) string {
	h.t.Helper()
	p, err := rehearse.FromScore("tune", h.score)
	if err != nil {
		h.t.Fatal(err)
	}
	h.n++
	s := rehearse.Spec{ID: fmt.Sprintf("take%d", h.n), Seed: seed, Piece: p, Sources: []string{"own-nylon"}, Manner: manner, Tuning: rehearse.Tuning{A4Hz: 440},
		Noises: rehearse.Noises{HissDb: -55, HumDb: -200, FanDb: -200}, Phone: rehearse.Phone{LowHz: 80, HighHz: 12000, Peak: 0.6, SecondChannelDb: -200},
		Codec: rehearse.Codec{Ext: "wav", Args: []string{"-c:a", "pcm_s16le"}}}
	for i, l := range legs {
		leg := rehearse.Leg{FromTick: p.Bars[l[0]].At, ToTick: p.Bars[l[1]].At + p.Bars[l[1]].Ticks, Ratio: 1}
		if i > 0 {
			leg.Jump, leg.GapS = "restart", 1.2
		}
		s.Legs = append(s.Legs, leg)
	}
	dir := h.t.TempDir()
	truth, err := rehearse.Render(s, h.banks, dir)
	if err != nil {
		h.t.Fatal(err)
	}
	return filepath.Join(dir, "takes", truth.Audio)
}

// learner plays with faults; sure plays with few.
func learner() rehearse.Manner {
	return rehearse.Manner{Tempo: 0.82, Drift: 0.03, JitterS: 0.02, SpreadDb: 2.5, LeadInS: 0.8, RollS: [2]float64{0.004, 0.02}, Wrong: 0.05, Missed: 0.04, Extra: 0.03}
}

func sure() rehearse.Manner {
	return rehearse.Manner{Tempo: 1, Drift: 0.005, JitterS: 0.008, SpreadDb: 1, LeadInS: 0.6, RollS: [2]float64{0.004, 0.02}}
}

// filmed puts a moving picture to a sound.
func (h *hall) filmed(sound string) string {
	h.t.Helper()
	out := sound + ".mp4"
	args := []string{"-v", "error", "-f", "lavfi", "-i", "testsrc2=size=640x360:rate=15", "-i", sound, "-shortest", "-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p", "-c:a", "aac", "-y", out}
	if b, err := exec.CommandContext(h.t.Context(), "ffmpeg", args...).CombinedOutput(); err != nil {
		h.t.Fatalf("ffmpeg: %v %s", err, b)
	}
	return out
}

// send has Ada's family send a take.
func (h *hall) send(file, mediaType string, a studio.Announcement) studio.TakeID {
	h.t.Helper()
	ctx := h.t.Context()
	a.Student = h.Okafor.Students[0].ID
	if a.FileName == "" {
		a.FileName = filepath.Base(file)
	}
	t, err := h.Desk.Announce(ctx, h.Okafor.Coach, a)
	if err != nil {
		h.t.Fatal(err)
	}
	f, err := os.Open(file)
	if err != nil {
		h.t.Fatal(err)
	}
	defer f.Close()
	if _, err := h.Desk.Receive(ctx, h.Okafor.Coach, t.ID, mediaType, f); err != nil {
		h.t.Fatal(err)
	}
	return t.ID
}

// hear does the jobs that wait, as the program does in the background.
func (h *hall) hear() {
	h.t.Helper()
	for range 4 {
		for _, j := range h.Jobs.Take() {
			if err := h.hands.Do(context.WithoutCancel(h.t.Context()), j, true); err != nil {
				h.t.Fatal(err)
			}
		}
	}
}

// ticking lets the studio's clock go on until the function it gives is called.
func (h *hall) ticking() (stop func()) {
	over, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		for {
			select {
			case <-over:
				return
			case <-time.After(10 * time.Millisecond):
				h.Wait(10 * time.Millisecond)
			}
		}
	}()
	return func() {
		close(over)
		<-ended
	}
}

// model keeps a take of the teacher's own.
func (h *hall) model(file, mediaType string) {
	h.t.Helper()
	f, err := os.Open(file)
	if err != nil {
		h.t.Fatal(err)
	}
	defer f.Close()
	if _, err := h.Desk.ReceiveModel(h.t.Context(), h.Teacher, h.work.ID, mediaType, f); err != nil {
		h.t.Fatal(err)
	}
}

func (h *hall) page(id studio.TakeID, more string) string {
	h.t.Helper()
	status, text := h.Get(h.t, h.TeacherDevice, "/takes/"+string(id)+more)
	if status != http.StatusOK {
		h.t.Fatalf("%s: %d %s", more, status, text)
	}
	return text
}
