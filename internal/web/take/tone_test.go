package take_test

import (
	"html"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"antiphon/internal/sound"
	"antiphon/internal/studio"
)

// TestAskedNearTheBridge: a lesson asks where to pluck; the take, plucked on strings of our own so many
// millimetres from the bridge, is answered on its page by what was heard.
func TestAskedNearTheBridge(t *testing.T) {
	h := open(t, "scale")
	for _, c := range []struct {
		date, goal string
		bridgeMm   float64
		want       string
	}{
		{"2026-11-02", "bridge", 55, "Asked near the bridge: heard near the bridge, "},
		{"2026-11-03", "near the bridge", 210, "Asked near the bridge: heard over the neck, "},
	} {
		a, err := sound.Render(t.Context(), h.score, sound.Options{Guitar: sound.Strings, BridgeMm: c.bridgeMm, Bpm: 72})
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "scale.wav")
		f, err := os.Create(file)
		if err != nil {
			t.Fatal(err)
		}
		if err := a.Write(t.Context(), f, sound.WAV); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
		asked := h.lesson(c.date, studio.Assignment{Work: h.work.ID, Do: "Play it.", Goals: studio.Goals{Tone: c.goal}})
		id := h.send(file, "audio/wav", studio.Announcement{Assignment: asked})
		h.hear()
		text := html.UnescapeString(h.page(id, ""))
		for _, want := range []string{c.want, "All of it, near the bridge."} {
			if !strings.Contains(text, want) {
				t.Errorf("%s, plucked at %v mm: the page does not say %q", c.goal, c.bridgeMm, want)
			}
		}
	}
}
