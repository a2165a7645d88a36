package notation_test

import (
	"cmp"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/music"
)

type sound struct {
	on, length float64
	midi       int
}

func sounds(s *music.Score) []sound {
	var out []sound
	for _, n := range s.Sounding() {
		out = append(out, sound{n.Onset.Q(), n.Duration.Q(), n.Midi})
	}
	return out
}

func sortSounds(l []sound) {
	slices.SortFunc(l, func(a, b sound) int {
		return cmp.Or(cmp.Compare(math.Round(a.on*1e6), math.Round(b.on*1e6)), a.midi-b.midi, cmp.Compare(a.length, b.length))
	})
}

// differentSounds names the first difference; lengths may differ by the slack.
func differentSounds(got, want []sound, slack float64) string {
	if len(got) != len(want) {
		return fmt.Sprintf("%d notes, want %d", len(got), len(want))
	}
	for i, w := range want {
		g := got[i]
		if math.Abs(g.on-w.on) > 1e-6 || g.midi != w.midi || math.Abs(g.length-w.length) > slack {
			return fmt.Sprintf("note %d is %+v, want %+v", i, g, w)
		}
	}
	return ""
}

// sharedScores are the development scores without their extensions; none where they are not at hand.
func sharedScores(t *testing.T) []string {
	t.Helper()
	root := os.Getenv("ANTIPHON_SHARED")
	if root == "" {
		t.Log("ANTIPHON_SHARED is not set: the same is tested on our own scores")
		return nil
	}
	files, err := filepath.Glob(filepath.Join(root, "takes", "scores", "*.musicxml"))
	if err != nil || len(files) == 0 {
		t.Fatal("ANTIPHON_SHARED leads to no development takes", err)
	}
	for i, f := range files {
		files[i] = strings.TrimSuffix(f, ".musicxml")
	}
	return files
}

// bars lists the bars of stretches one by one, from 1.
func bars(stretches []music.Stretch) []int {
	var out []int
	for _, st := range stretches {
		for b := st.From; b <= st.To; b++ {
			out = append(out, b+1)
		}
	}
	return out
}
