package scenario

import (
	"testing"

	"antiphon/internal/music"
	"antiphon/internal/rehearse"
)

// TestAuClairIsWhole: every bar of the tune is full in both voices, on strings and frets that give its
// pitches.
func TestAuClairIsWhole(t *testing.T) {
	p := auClair()
	full := map[[2]int]int{}
	for _, n := range p.Notes {
		full[[2]int{n.Bar, n.Voice}] += n.Ticks
		if open := []int{64, 59, 55, 50, 45, 40}[n.String-1]; open+n.Fret != n.Midi || n.Fret < 0 || n.Fret > 4 {
			t.Errorf("bar %d: string %d, fret %d for pitch %d", n.Bar+1, n.String, n.Fret, n.Midi)
		}
	}
	if len(p.Bars) != 16 || len(full) != 32 {
		t.Errorf("%d bars, %d filled voices", len(p.Bars), len(full))
	}
	for at, ticks := range full {
		if ticks != 4*rehearse.TicksPerQuarter {
			t.Errorf("bar %d, voice %d: %d ticks", at[0]+1, at[1], ticks)
		}
	}
}

// TestPlantedMistakesAreThere: the score shows what the recording lacks.
func TestPlantedMistakesAreThere(t *testing.T) {
	s := plantedTake("tilda")
	if len(s.Shown.Notes) != len(s.Piece.Notes)+1 {
		t.Errorf("%d notes shown, %d played", len(s.Shown.Notes), len(s.Piece.Notes))
	}
	wrong := 0
	for _, n := range s.Piece.Notes {
		for _, w := range s.Shown.Notes {
			if n.At == w.At && n.Voice == w.Voice && n.Midi != w.Midi {
				wrong++
				if w.Midi != (music.Pitch{Step: 'E', Octave: 4}).Midi() || n.Midi != (music.Pitch{Step: 'F', Octave: 4}).Midi() {
					t.Errorf("%d for %d", n.Midi, w.Midi)
				}
			}
		}
	}
	if wrong != 1 {
		t.Errorf("%d wrong notes, want 1", wrong)
	}
}
