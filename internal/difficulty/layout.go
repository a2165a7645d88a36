package difficulty

import (
	"slices"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// note is one sounding note with its marks.
type note struct {
	music.Sounding
	place  guitar.Place
	placed bool
	finger int // -1 not marked
	stroke music.Stroke
	odd    bool // a harmonic
	onS    float64
	endS   float64
}

func (n *note) stopped() bool { return n.placed && n.finger > 0 && n.place.Fret > 0 }

// moment is what starts together.
type moment struct {
	atS, toS float64 // until the next moment, or the end of what sounds
	bar      int
	notes    []*note
}

type layout struct {
	in       guitar.Instrument
	hand     guitar.Hand
	moments  []moment
	barS     []float64 // length of each bar
	unmarked int
}

func layOut(s *music.Score, parts []int, sounding []music.Sounding, written [][]music.NoteRef, in guitar.Instrument, hand guitar.Hand, o Options) *layout {
	l := &layout{in: in, hand: hand, barS: make([]float64, len(s.Bars))}
	tempo := func(at music.Beats) float64 {
		if o.QuarterBpm > 0 {
			return o.QuarterBpm
		}
		if bpm, _ := s.TempoAt(at); bpm > 0 {
			return bpm
		}
		return music.DefaultQuarterBpm
	}
	barAt := make([]float64, len(s.Bars)+1) // a tempo that changes inside a bar counts from the next one
	for i, b := range s.Bars {
		l.barS[i] = b.Length.Q() * 60 / tempo(b.Start)
		barAt[i+1] = barAt[i] + l.barS[i]
	}
	var last *note
	for k, sd := range sounding {
		if len(written[k]) == 0 || !slices.Contains(parts, written[k][0].Part) || sd.Cue {
			continue
		}
		w := &s.Parts[written[k][0].Part].Notes[written[k][0].Note]
		perQ := 60 / tempo(s.Bars[sd.BarIndex].Start)
		n := &note{Sounding: sd, finger: -1, stroke: w.Stroke(), odd: w.Harmonic.Present}
		n.onS = barAt[sd.BarIndex] + sd.Onset.Sub(s.Bars[sd.BarIndex].Start).Q()*perQ
		n.endS = n.onS + sd.Duration.Q()*perQ
		if len(sd.Finger) == 1 {
			n.finger = int(sd.Finger[0] - '0')
		}
		n.place = guitar.Place{String: sd.String, Fret: sd.Fret}
		if sd.String > 0 && sd.Fret < 0 && in.Pitch(sd.String, 0) > 0 {
			n.place.Fret = sd.Midi - in.Pitch(sd.String, 0)
		}
		n.placed = sd.String > 0 && n.place.Fret >= 0 && in.Pitch(n.place.String, n.place.Fret) > 0
		if !n.placed || n.place.Fret > 0 && n.finger < 1 && !n.odd {
			l.unmarked++
		}
		together := last != nil && last.Onset == n.Onset && last.Grace == n.Grace && !n.Grace
		if together {
			mo := &l.moments[len(l.moments)-1]
			mo.notes = append(mo.notes, n)
		} else {
			l.moments = append(l.moments, moment{atS: n.onS, bar: sd.BarIndex, notes: []*note{n}})
		}
		last = n
	}
	l.joinTracks()
	for k := range l.moments {
		mo := &l.moments[k]
		for _, n := range mo.notes {
			mo.toS = max(mo.toS, n.endS)
		}
		if k+1 < len(l.moments) {
			mo.toS = l.moments[k+1].atS
		}
	}
	return l
}

// joinTracks brings together what starts together on several tracks of one player.
func (l *layout) joinTracks() {
	out := l.moments[:0]
	for _, mo := range l.moments {
		if k := len(out) - 1; k >= 0 && !mo.notes[0].Grace && !out[k].notes[0].Grace && out[k].notes[0].Onset == mo.notes[0].Onset {
			out[k].notes = append(out[k].notes, mo.notes...)
			continue
		}
		out = append(out, mo)
	}
	l.moments = out
}
