package playable

import (
	"fmt"
	"slices"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// graceS is the time a grace note is given before the note it leads to. Common practice, no source.
const graceS = 0.08

// mark is one sounding note of the player with what its marks say.
type mark struct {
	music.Sounding
	place  guitar.Place
	placed bool // string and fret are known
	finger int  // 1 to 4; 0 an open string; -1 not marked
	stroke music.Stroke
	ring   bool // let ring
	slid   bool // the end of a slide, which may be plucked again
	spans  []music.Span
	slice  int
	odd    bool // a harmonic: the fret does not give the pitch
	endS   float64
	cutAt  int // slice in which it is let go before its written end; 0 never
}

// fretted reports whether a known finger stops the note at a known place.
func (m *mark) fretted() bool { return m.placed && m.finger > 0 && m.place.Fret > 0 }

// downAt reports whether the note, begun before slice k, is still held when k begins.
func (m *mark) downAt(k int, sl *slice) bool {
	return m.endS > sl.atS+1e-9 && (m.cutAt == 0 || m.cutAt > k)
}

// slice is the notes of one part that start at one moment. A grace note is a moment of its own.
type slice struct {
	at    music.Beats
	atS   float64
	notes []*mark
	sure  bool // the tempo here is the score's own
}

// sheet is one part under check.
type sheet struct {
	score  *music.Score
	in     guitar.Instrument
	hand   guitar.Hand
	marks  []*mark // in order
	slices []slice
	faults []Fault
}

func newSheet(s *music.Score, parts []int, sounding []music.Sounding, written [][]music.NoteRef, in guitar.Instrument, hand guitar.Hand) *sheet {
	sh := &sheet{score: s, in: in, hand: hand}
	clock := newClock(s)
	for i, n := range sounding {
		refs := written[i]
		if len(refs) == 0 || !slices.Contains(parts, refs[0].Part) || n.Cue { // a cue is read, not played
			continue
		}
		sh.marks = append(sh.marks, sh.mark(n, refs))
	}
	slices.SortStableFunc(sh.marks, func(a, b *mark) int {
		if c := a.Onset.Cmp(b.Onset); c != 0 || a.Grace == b.Grace {
			return c
		}
		if a.Grace { // of any part before the main notes of all
			return -1
		}
		return 1
	})
	for i := 0; i < len(sh.marks); {
		at := sh.marks[i].Onset
		end := i
		for end < len(sh.marks) && sh.marks[end].Onset == at {
			end++
		}
		graces := i
		for graces < end && sh.marks[graces].Grace {
			graces++
		}
		onS, sure := clock.at(at)
		for k := i; k < graces; k++ {
			sh.slices = append(sh.slices, slice{at, onS - graceS*float64(graces-k), sh.marks[k : k+1], sure})
		}
		if graces < end {
			sh.slices = append(sh.slices, slice{at, onS, sh.marks[graces:end], sure})
		}
		i = end
	}
	for k := range sh.slices {
		for _, m := range sh.slices[k].notes {
			m.slice = k
			m.endS, _ = clock.at(m.Onset.Add(m.Duration))
			if m.Grace && k+1 < len(sh.slices) {
				m.endS = sh.slices[k+1].atS
			}
		}
	}
	return sh
}

func (sh *sheet) mark(n music.Sounding, refs []music.NoteRef) *mark {
	m := &mark{Sounding: n, finger: -1}
	first := &sh.score.Parts[refs[0].Part].Notes[refs[0].Note]
	m.stroke, m.odd = first.Stroke(), first.Harmonic.Present
	for _, r := range refs {
		w := &sh.score.Parts[r.Part].Notes[r.Note]
		m.ring = m.ring || w.LetRing
		m.spans = append(m.spans, w.Spans...)
	}
	for _, sp := range first.Spans {
		m.slid = m.slid || sp.Kind == "slide" && sp.Role == "stop"
	}
	if len(n.Finger) == 1 && n.Finger[0] >= '0' && n.Finger[0] <= '4' {
		m.finger = int(n.Finger[0] - '0')
	}
	m.place = guitar.Place{String: n.String, Fret: n.Fret}
	if m.place.String > 0 && m.place.Fret < 0 && !m.odd { // a string and a pitch make a fret
		if open := sh.in.Pitch(m.place.String, 0); open > 0 {
			m.place.Fret = n.Midi - open
		}
	}
	for str := 1; m.place.String == 0 && m.finger == 0 && str <= sh.in.Strings(); str++ { // a 0 names an open string
		if sh.in.Pitch(str, 0) == n.Midi {
			m.place = guitar.Place{String: str}
		}
	}
	m.placed = m.place.String > 0 && m.place.Fret >= 0
	return m
}

// add notes a fault at the first of its notes.
func (sh *sheet) add(k Kind, l Level, size float64, unit string, notes []*mark, format string, args ...any) {
	first := notes[0]
	f := Fault{Kind: k, Level: l, Part: first.Part, Bar: first.Bar, BarIndex: first.BarIndex, At: first.Onset, Size: size, Unit: unit,
		Text: "Bar " + first.Bar + ": " + fmt.Sprintf(format, args...) + "."}
	for _, n := range notes {
		f.Notes = append(f.Notes, n.ID)
	}
	sh.faults = append(sh.faults, f)
}

// where names a place in words.
func where(p guitar.Place) string {
	if p.Fret == 0 {
		return fmt.Sprintf("string %d open", p.String)
	}
	return fmt.Sprintf("string %d fret %d", p.String, p.Fret)
}

// clock turns places of the written score into seconds, by the tempo in force.
type clock struct {
	score *music.Score
	marks []music.TempoMark
	atS   []float64 // of each mark
}

func newClock(s *music.Score) *clock {
	c := &clock{score: s, marks: s.Tempos, atS: make([]float64, len(s.Tempos))}
	for i := range c.marks {
		if i == 0 {
			c.atS[0] = secondsFor(c.marks[0].At.Q(), tempoOf(s, music.Beats{}))
			continue
		}
		gap := c.marks[i].At.Sub(c.marks[i-1].At).Q()
		c.atS[i] = c.atS[i-1] + secondsFor(gap, tempoOf(s, c.marks[i-1].At))
	}
	return c
}

func (c *clock) at(b music.Beats) (s float64, sure bool) {
	i := -1
	for lo, hi := 0, len(c.marks); lo < hi; { // the last mark at or before b
		mid := (lo + hi) / 2
		if b.Less(c.marks[mid].At) {
			hi = mid
		} else {
			i, lo = mid, mid+1
		}
	}
	if i < 0 {
		return secondsFor(b.Q(), tempoOf(c.score, music.Beats{})), len(c.marks) > 0
	}
	return c.atS[i] + secondsFor(b.Sub(c.marks[i].At).Q(), tempoOf(c.score, b)), true
}

func tempoOf(s *music.Score, at music.Beats) float64 {
	bpm, _ := s.TempoAt(at)
	return bpm
}

func secondsFor(quarters, bpm float64) float64 {
	if bpm <= 0 {
		bpm = music.DefaultQuarterBpm
	}
	return quarters * 60 / bpm
}
