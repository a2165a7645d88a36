package hands

import (
	"errors"
	"math/rand/v2"
	"strconv"
	"testing"

	"antiphon/internal/music"
)

// odd is a score that no hand wrote: clusters, pitches off every guitar, lengths of nothing, grace
// notes, cues, slurs from nowhere, marks at random.
func odd(seed uint64) *music.Score {
	rng := rand.New(rand.NewPCG(seed, 3))
	s := &music.Score{Parts: []music.Part{{ID: "P1", Staves: 1}, {ID: "P2", Staves: 1}}}
	for b := range 4 {
		s.Bars = append(s.Bars, music.Bar{Number: strconv.Itoa(b + 1), Start: music.Quarters(int64(4*b), 1), Length: music.Quarters(4, 1)})
	}
	for p := range s.Parts {
		for range 40 {
			at := int64(rng.IntN(32))
			for range 1 + rng.IntN(12)*rng.IntN(2) {
				n := music.Note{Bar: int(at / 8), Start: music.Quarters(at, 2), Duration: music.Quarters(int64(rng.IntN(9)), 2), Voice: strconv.Itoa(rng.IntN(3)), Staff: 1,
					Pitch: music.SpellMidi(20+rng.IntN(80), 0), Grace: rng.IntN(12) == 0, Cue: rng.IntN(15) == 0}
				if rng.IntN(6) == 0 {
					n.String = rng.IntN(9)
				}
				if rng.IntN(6) == 0 {
					n.Fingers = []music.Fingering{{Text: strconv.Itoa(rng.IntN(5))}}
				}
				if rng.IntN(8) == 0 {
					n.Spans = []music.Span{{Kind: "hammer-on", Role: []string{"start", "stop"}[rng.IntN(2)]}}
				}
				n.Harmonic.Present = rng.IntN(20) == 0
				s.Parts[p].Notes = append(s.Parts[p].Notes, n)
			}
		}
	}
	return s
}

// TestOddScores: whatever comes in, every note is either placed at its pitch or told of.
func TestOddScores(t *testing.T) {
	for seed := range uint64(12) {
		f := finger(t, odd(seed), Options{K: 3, Skills: Skills{NoBarre: seed%2 == 0, NoStretch: seed%3 == 0}})
		told := map[string]bool{}
		for _, x := range f.Told {
			for _, id := range x.Notes {
				told[id] = true
			}
		}
		for _, n := range f.Notes {
			if n.Finger < 0 && !told[n.ID] {
				t.Errorf("seed %d: %s is left out in silence", seed, n.ID)
			}
			if n.Finger >= 0 && f.Instrument.Pitch(n.Place.String, n.Place.Fret) != n.Midi {
				t.Errorf("seed %d: %s is placed at another pitch", seed, n.ID)
			}
		}
	}
}

func TestTooLong(t *testing.T) {
	if _, err := Finger(invented(mostNotes+1, 1), Options{}); !errors.Is(err, ErrTooLong) {
		t.Errorf("got %v", err)
	}
}
