package report

import (
	"io"
	"math"

	"antiphon/internal/ear"
	"antiphon/internal/notation"
)

// shortestS is the length given to a note whose end was not heard.
const shortestS = 0.05

// MIDI writes what was heard, as it was heard, as a Standard MIDI File: one track for each part of the
// score, added notes in the first, loudness as velocity.
func (r Report) MIDI(w io.Writer) error {
	track := map[string]int{}
	for i, p := range r.Score.Parts {
		track[p.ID] = i
	}
	notes := make([]notation.MIDINote, 0, len(r.Hearing.Played))
	for _, n := range r.Hearing.Played {
		if n.Midi < 0 || n.Midi > 127 {
			continue
		}
		m := notation.MIDINote{Midi: n.Midi, OnsetS: max(0, finite(n.OnsetS)), Velocity: velocity(n)}
		m.OffsetS = max(finite(n.OffsetS), m.OnsetS+shortestS)
		if n.Note >= 0 {
			m.Track = track[r.Hearing.Score[n.Note].Part]
		}
		notes = append(notes, m)
	}
	return notation.WriteMIDINotes(w, notes, plain(r.title()))
}

// velocity of a note: the take's median note is 80. General MIDI players commonly take amplitude as
// the square of velocity (40·log10(v/127) dB, the recommended curve of DLS level 1); so do we.
func velocity(n ear.Played) int {
	return int(min(127, max(1, math.Round(80*math.Pow(10, finite(n.LevelDb)/40)))))
}
