package sound

import (
	"io"
	"math"

	"antiphon/internal/notation"
)

// MIDI of what is heard: a track for each player and part, and one for the clicks.
const (
	clickChannel   = 10 // percussion
	clickLengthS   = 0.05
	softestVel     = 12
	loudestVel     = 127
	midiTrackClick = 1000
)

// clickKeys are General MIDI's percussion keys: side stick, low and high wood block.
func clickKey(a Accent) int { return [3]int{77, 77, 76}[a] }
func clickVel(a Accent) int { return [3]int{64, 78, 96}[a] }

// writeMIDI writes what is heard as a Standard MIDI File, to half a millisecond.
func (a *Audio) writeMIDI(w io.Writer) error {
	var notes []notation.MIDINote
	seconds := func(n int) float64 { return float64(n) / RateHz }
	for _, n := range a.Notes {
		at, until := seconds(n.At), seconds(n.Until)
		if n.Midi < 0 || n.Midi > 127 {
			continue
		}
		track := (n.Player-1)*len(a.score.Parts) + n.Part
		channel := 1 + track%15
		if channel >= clickChannel {
			channel++
		}
		v := int(math.Round(softVel * math.Pow(10, n.Db/40)))
		notes = append(notes, notation.MIDINote{OnsetS: at, OffsetS: until, Midi: n.Midi, Velocity: min(max(v, softestVel), loudestVel), Channel: channel, Track: track})
	}
	for _, c := range a.Clicks {
		at := seconds(c.At)
		notes = append(notes, notation.MIDINote{OnsetS: at, OffsetS: at + clickLengthS, Midi: clickKey(c.Accent), Velocity: clickVel(c.Accent), Channel: clickChannel, Track: midiTrackClick})
	}
	if err := notation.WriteMIDINotes(w, notes, a.score.Title); err != nil {
		return problem(Format, err, "this cannot be written as MIDI (%v): choose .wav", err)
	}
	return nil
}
