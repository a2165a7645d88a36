package notation_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// truthNotes is a score as whoever made the development takes wrote it down, apart from our readers.
type truthNotes struct {
	Bars     [][2]float64 `json:"bars"`
	Bpm      float64      `json:"bpm"`
	Unrolled []int        `json:"unrolled_bars"`
	Notes    []struct {
		OnsetQ    float64 `json:"onset_q"`
		DurationQ float64 `json:"duration_q"`
		Midi      int     `json:"midi"`
		Bar       int     `json:"bar"`
		Part      int     `json:"part"`
		Voice     int     `json:"voice"`
		String    int     `json:"string"`
		Fret      int     `json:"fret"`
		Finger    string  `json:"finger"`
	} `json:"notes"`
}

// TestSharedScores reads the development scores, where they are at hand, and compares with the notes
// that their maker put beside them. Source: the takes' own *.notes.json.
func TestSharedScores(t *testing.T) {
	root := os.Getenv("ANTIPHON_SHARED")
	files, err := filepath.Glob(filepath.Join(root, "takes", "scores", "*.notes.json"))
	if err != nil {
		t.Fatal(err)
	}
	if root == "" || len(files) == 0 {
		t.Log("ANTIPHON_SHARED does not lead to the development takes: the same is tested on our own scores")
		return
	}
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		var truth truthNotes
		if err := json.Unmarshal(data, &truth); err != nil {
			t.Fatal(err)
		}
		s, forgiven, err := notation.ReadFile(strings.TrimSuffix(f, ".notes.json")+".musicxml", notation.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		if len(forgiven) > 0 {
			t.Errorf("%s: forgave %v", f, forgiven)
		}
		compareTruth(t, filepath.Base(f), s, truth)
	}
}

func compareTruth(t *testing.T, name string, s *music.Score, truth truthNotes) {
	t.Helper()
	got := s.Sounding()
	if len(got) != len(truth.Notes) {
		t.Fatalf("%s: %d notes, want %d", name, len(got), len(truth.Notes))
	}
	parts := map[string]int{}
	for i, p := range s.Parts {
		parts[p.ID] = i + 1
	}
	for i, w := range truth.Notes {
		g := got[i]
		if math.Abs(g.Onset.Q()-w.OnsetQ) > 1e-6 || math.Abs(g.Duration.Q()-w.DurationQ) > 1e-6 || g.Midi != w.Midi ||
			g.BarIndex+1 != w.Bar || parts[g.Part] != w.Part || g.String != w.String || g.Fret != w.Fret || g.Pluck != w.Finger {
			t.Errorf("%s: note %d is %+v, want %+v", name, i, g, w)
			return
		}
	}
	for i, b := range truth.Bars {
		if math.Abs(s.Bars[i].Start.Q()-b[0]) > 1e-9 || math.Abs(s.Bars[i].Length.Q()-b[1]) > 1e-9 {
			t.Errorf("%s: bar %d is %v+%v, want %v", name, i, s.Bars[i].Start, s.Bars[i].Length, b)
		}
	}
	if q, marked := s.TempoAt(music.Beats{}); !marked || math.Abs(q-truth.Bpm) > 1e-9 {
		t.Errorf("%s: tempo %v, want %v", name, q, truth.Bpm)
	}
	var order []int
	for _, st := range s.Performed() {
		for b := st.From; b <= st.To; b++ {
			order = append(order, b+1)
		}
	}
	if len(order) != len(truth.Unrolled) {
		t.Fatalf("%s: performed %v, want %v", name, order, truth.Unrolled)
	}
	for i := range order {
		if order[i] != truth.Unrolled[i] {
			t.Fatalf("%s: performed %v, want %v", name, order, truth.Unrolled)
		}
	}
}
