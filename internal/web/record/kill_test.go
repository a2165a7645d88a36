package record_test

import (
	"testing"

	"antiphon/internal/studio"
	"antiphon/internal/web/record"
	"antiphon/internal/web/webtest/chromium"
)

// TestKilledWhileRecording: the browser is killed in the middle of a recording, of sound and of a film. When it
// is opened again, the recording is there with at most two seconds lost, can be sent, and is heard.
func TestKilledWhileRecording(t *testing.T) {
	s := open(t, record.Options{})
	wav := guitar(t)
	for _, c := range []struct {
		name  string
		child studio.Student
		of    studio.AssignmentID
	}{{"sound", s.nils, s.round}, {"hands", s.runa, ""}} {
		t.Run(c.name, func(t *testing.T) {
			profile := t.TempDir()
			b := chromium.Open(t, s.URL, chromium.Hearing(wav), chromium.Profile(profile))
			b.Cookie("antiphon", s.Lindqvist.Device)
			b.Look(390, "light")
			b.Go(record.Card{Student: c.child.ID, Assignment: c.of}.Address())
			s.record(t, b, 7)
			was := chromium.Eval[float64](b, `performance.now() - window.began`) / 1000
			b.Kill()

			b = chromium.Open(t, s.URL, chromium.Hearing(wav), chromium.Profile(profile))
			b.Cookie("antiphon", s.Lindqvist.Device)
			b.Look(390, "light")
			b.Go("/week?child=" + string(c.child.ID))
			b.Wait(`document.querySelector(".pending")?.textContent.includes("was not finished")`)
			look(t, b, "pending-cut-"+c.name)
			b.Click(`.pending a`)
			b.Wait(`document.querySelector("[data-unfinished]")?.textContent.includes("A recording from today was not finished")`)
			look(t, b, "cut-"+c.name)
			b.Click("[data-tries] button.main")
			take, file := s.arrived(t, b)
			if take.Assignment != c.of || take.Student != c.child.ID {
				t.Errorf("%+v", take)
			}
			is := decoded(t, file).Seconds()
			t.Logf("recorded for %.2f s until the kill, %.2f s are there: %.2f s lost", was, is, was-is)
			if is < was-2 || is > was+0.5 {
				t.Errorf("%.2f s of %.2f s are there", is, was)
			}
		})
	}
}
