package sound

import (
	"io"
	"math"
	"slices"

	"antiphon/internal/music"
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

// writeMIDI writes a Standard MIDI File. Music alone is written in bars, with its tempos and keys, as
// other programs want to read it; with clicks, several players, tempos or a loop the file is what is
// heard, to half a millisecond, at a nominal tempo of 120.
func (a *Audio) writeMIDI(w io.Writer) error {
	write := a.heardMIDI
	if o := a.opt; len(a.Clicks) == 0 && len(a.Rungs) == 1 && o.players() == 1 && !a.Looped && !a.held && o.Repeats == Written {
		write = a.barsMIDI
	}
	if err := write(w); err != nil {
		return problem(Format, err, "this cannot be written as MIDI (%v): choose .wav", err)
	}
	return nil
}

// barsMIDI writes the score at its new tempo, without what is muted.
func (a *Audio) barsMIDI(w io.Writer) error {
	s := *a.score
	r, err := newRoute(&s, a.opt)
	if err != nil {
		return err
	}
	beat, marked, isMarked := r.opening()
	scale := a.Rungs[0].Bpm / marked
	s.Tempos = slices.Clone(s.Tempos)
	for i := range s.Tempos {
		s.Tempos[i].Bpm *= scale
	}
	if !isMarked {
		s.Tempos = []music.TempoMark{{Bpm: a.Rungs[0].Bpm, Unit: beat}}
	}
	s.Parts = slices.Clone(s.Parts)
	for i := range s.Parts {
		p := &s.Parts[i]
		p.Notes = slices.Clone(p.Notes)
		for j := range p.Notes {
			if slices.ContainsFunc(a.muted, func(l line) bool { return l.holds(p.ID, p.Notes[j].Voice) }) {
				p.Notes[j].Rest = true
			}
		}
	}
	return notation.WriteMIDI(w, &s)
}

func (a *Audio) heardMIDI(w io.Writer) error {
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
	return notation.WriteMIDINotes(w, notes, a.score.Title)
}
