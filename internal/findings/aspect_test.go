package findings

import (
	"slices"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/music"
)

// TestAspects: the finer sorts, by what the pitches say.
func TestAspects(t *testing.T) {
	k := newTake(8, 4)
	k.score.Parts[0].Attributes = append(k.score.Parts[0].Attributes, music.Attributes{Key: &music.Key{Fifths: 1}})
	for i := range k.h.Score { // the third note of each bar becomes an F sharp on the first string, second fret
		if i%4 == 3 {
			k.h.Score[i].Midi, k.h.Score[i].Name, k.h.Score[i].String = 66, "F#4", 1
		}
	}
	for _, c := range []struct {
		name string
		midi int
		want string
	}{
		{"F in place of F sharp in G major", 65, "key-sign"},
		{"G in place of F sharp", 67, "next-fret"},
		{"an octave lower", 54, "octave"},
		{"the second fret of the second string: C sharp, five semitones lower", 61, "other-string"},
		{"something else", 75, ""},
	} {
		n := &k.h.Played[19]
		n.Midi, n.Verdict, n.Confidence = c.midi, ear.Wrong, 0.9
		if got := k.one(t, Wrong); got.Aspect != c.want {
			t.Errorf("%s: %q, want %q", c.name, got.Aspect, c.want)
		}
	}
	k = newTake(8, 4)
	k.h.Played = append(k.h.Played, ear.Played{Note: -1, Pass: 1, OnsetS: 1 + 8.25, Midi: k.h.Played[16].Midi, Verdict: ear.Extra, Confidence: 0.8})
	if got := k.one(t, Extra); got.Aspect != "again" {
		t.Errorf("the note before once more: %q", got.Aspect)
	}
	k = newTake(8, 4)
	k.h.Played = append(k.h.Played, ear.Played{Note: -1, Pass: 1, OnsetS: 1 + 8.25, Midi: 45, Verdict: ear.Extra, Confidence: 0.8})
	if got := k.one(t, Extra); got.Aspect != "open-string" {
		t.Errorf("an open fifth string: %q", got.Aspect)
	}
}

// TestKinds: every kind has words of its own, every aspect too, and no aspect is one of another kind's.
func TestKinds(t *testing.T) {
	seen := map[string]bool{}
	for _, k := range Kinds() {
		for _, a := range append([]string{""}, k.Aspects()...) {
			w := Finding{Kind: k, Aspect: a}.InWords()
			if w == "" || seen[w] {
				t.Errorf("%s/%s is told as %q", k, a, w)
			}
			seen[w] = true
		}
	}
	for _, k := range troubles {
		if !slices.Contains(Kinds(), k) {
			t.Errorf("%s is missing among the kinds", k)
		}
	}
}

func TestPacesThatReadAlikeAreOne(t *testing.T) {
	if got := betweenPaces(59.6, 60.4); got != ", at about 60 a minute" {
		t.Error(got)
	}
	if got := betweenPaces(58, 66); got != ", from 58 to 66 a minute" {
		t.Error(got)
	}
}
