package exercise

import (
	"antiphon/internal/guitar"
	"antiphon/internal/music"
	"antiphon/internal/playable"
)

// checked refuses a composed score that breaks a rule of its own, or that hands cannot play at its
// tempo and at its goal.
func checked(s *music.Score, in guitar.Instrument, goalBpm float64) error {
	for _, n := range s.Parts[0].Notes {
		if n.Pitched() && n.String > 0 && n.HasFret && !n.Harmonic.Present && in.Pitch(n.String, n.Fret) != sounding(s, n) {
			return unplayable("", "bar %s: string %d, fret %d does not give %s", s.Bars[n.Bar].Number, n.String, n.Fret, n.Pitch.Name())
		}
	}
	for _, b := range s.Bars {
		if b.Length.Cmp(b.Time.Length()) != 0 {
			return unplayable("", "bar %s is not full", b.Number)
		}
	}
	fast := *s
	if goalBpm > 0 {
		fast.Tempos = nil
		unit := beatOf(s.Bars[0].Time)
		fast.Tempos = append(fast.Tempos, music.TempoMark{Bpm: goalBpm, Unit: unit})
	}
	for _, f := range playable.Check(&fast, in, guitar.AdultHand()) {
		if f.Level == playable.Impossible {
			return unplayable("", "bar %s: %s; choose another position, pattern or rhythm", f.Bar, f.Text)
		}
	}
	return nil
}

// sounding is the pitch that a written note has on the instrument.
func sounding(s *music.Score, n music.Note) int {
	p := n.Pitch
	for _, a := range s.Parts[0].Attributes {
		if t := a.Transpose; t != nil {
			p = n.Pitch.Transposed(t.Diatonic+7*t.Octave, t.Chromatic+12*t.Octave)
		}
	}
	return p.Midi()
}
