package exercise_test

import (
	"strings"
	"testing"

	"antiphon/internal/exercise"
)

// TestFreeScaleIsCalm: a scale of two octaves leaves its position once on the way up and once on the way
// down, and no finger slides up fret by fret (common practice, no source).
func TestFreeScaleIsCalm(t *testing.T) {
	s, err := exercise.Compose(exercise.Recipe{Pattern: "scale", Key: "Bb major", Octaves: 2, Position: "free"})
	if err != nil {
		t.Fatal(err)
	}
	slides, last := 0, s.Sounding()[0]
	for _, n := range s.Sounding()[1:] {
		if n.Finger != "0" && n.Finger == last.Finger && n.String == last.String && n.Fret != last.Fret {
			slides++
		}
		last = n
	}
	if made := exercise.Describe(s, "", 0); strings.Join(made.Positions, " ") != "I III" || slides > 2 {
		t.Errorf("positions %v, %d slides of one finger", made.Positions, slides)
	}
}

// TestVariantsAreFingeredAlike: an echo and a variant have the fingers of the first time.
func TestVariantsAreFingeredAlike(t *testing.T) {
	s, err := exercise.Compose(exercise.Recipe{Pattern: "scale", Key: "Bb major", Octaves: 2, Position: "free", Variants: []string{"plain", "slow-fast"}, Rounds: 2})
	if err != nil {
		t.Fatal(err)
	}
	first := map[string]bool{}
	notes := s.Sounding()
	for i, n := range notes {
		if i < 29 { // up and down two octaves
			first[n.Name+" "+n.Finger] = true
		} else if !first[n.Name+" "+n.Finger] {
			t.Errorf("%s in bar %s has finger %s, which it has nowhere in the first round", n.Name, n.Bar, n.Finger)
		}
	}
	if len(notes) < 3*29 {
		t.Errorf("%d notes", len(notes))
	}
}
