package hands

import (
	"errors"
	"fmt"
	"slices"
	"strconv"

	"antiphon/internal/guitar"
	"antiphon/internal/hands/grip"
	"antiphon/internal/music"
)

var (
	// ErrNoNotes: the score, or the passage, has no note that could be fingered.
	ErrNoNotes = errors.New("no pitched notes")
	// ErrWish: a wish that makes no sense, whatever the music.
	ErrWish = errors.New("wish")
	// ErrTooLong: more notes than are fingered at once.
	ErrTooLong = errors.New("too many notes")
	// ErrPassage: there is no such passage.
	ErrPassage = errors.New("passage")
)

// mostNotes are fingered at once: memory grows by about 50 kB a note.
const mostNotes = 10_000

// Finger chooses places and fingers. It does not change the score; Write does.
func Finger(s *music.Score, o Options) (*Fingering, error) {
	if err := o.Instrument.Check(); err != nil {
		return nil, err
	}
	sounding, written := s.Sounding(), s.Written()
	if len(sounding) == 0 {
		return nil, ErrNoNotes
	}
	first, last, err := passage(s, o.From, o.To)
	if err != nil {
		return nil, err
	}
	asks, err := asksOf(sounding, o)
	if err != nil {
		return nil, err
	}
	f := &Fingering{Instrument: o.Instrument}
	place := make([]int, len(sounding)) // 1 + index into f.Notes
	for i, n := range sounding {
		if !n.Cue && n.BarIndex >= first && n.BarIndex <= last {
			f.Notes = append(f.Notes, Placed{Sounding: n, Finger: -1})
			place[i] = len(f.Notes)
		}
	}
	if len(f.Notes) == 0 {
		return nil, ErrNoNotes
	}
	if len(f.Notes) > mostNotes {
		return nil, fmt.Errorf("%w: %d notes; at most %d are fingered at once, so finger it passage by passage", ErrTooLong, len(f.Notes), mostNotes)
	}
	for _, w := range slices.Concat(o.Fix, o.Forbid) {
		if !slices.ContainsFunc(f.Notes, func(p Placed) bool { return p.ID == w.Note }) {
			return nil, fmt.Errorf("%w: note %s is not fingered here: it lies outside the passage, or is a cue", ErrWish, w.Note)
		}
	}
	model := grip.Learned()
	var all []*solved
	for _, parts := range s.Players() {
		var pick []int
		lowest := 1000
		for i := range sounding {
			if place[i] == 0 || !slices.Contains(parts, written[i][0].Part) {
				continue
			}
			if w := written[i][0]; s.Parts[w.Part].Notes[w.Note].Harmonic.Present {
				f.Told = append(f.Told, Told{Assumed, sounding[i].Bar, []string{sounding[i].ID}, fmt.Sprintf("Bar %s: the harmonic %s is left as it is marked.", sounding[i].Bar, sounding[i].Name)})
				continue
			}
			pick = append(pick, i)
			lowest = min(lowest, sounding[i].Midi)
		}
		if len(pick) == 0 {
			continue
		}
		in, note := instrumentOf(s, parts, lowest, o.Instrument)
		if err := in.Check(); err != nil {
			return nil, err
		}
		if note != "" {
			f.Told = append(f.Told, Told{Kind: Assumed, Text: note})
		}
		f.Instrument = in
		j := lay(s, sounding, written, pick, in, asks)
		all = append(all, solveChecked(s, j, model, o, sounding, written))
	}
	for _, v := range all {
		v.fill(f, sounding, place)
		v.tell(f, sounding, asks)
	}
	f.alternatives(all, place, o.K)
	for _, v := range all {
		for _, x := range v.faults {
			f.pass(x)
		}
	}
	return f, nil
}

// passage gives the indices of its first and last bar.
func passage(s *music.Score, from, to string) (first, last int, err error) {
	find := func(number string) (int, error) {
		for i, b := range s.Bars {
			if b.Number == number {
				return i, nil
			}
		}
		return 0, fmt.Errorf("%w: there is no bar %q in this score; it has %d bars", ErrPassage, number, len(s.Bars))
	}
	last = len(s.Bars) - 1
	if from != "" {
		if first, err = find(from); err != nil {
			return 0, 0, err
		}
	}
	if to != "" {
		if last, err = find(to); err != nil {
			return 0, 0, err
		}
	}
	if last < first {
		return 0, 0, fmt.Errorf("%w: bar %s comes after bar %s; name the earlier one first", ErrPassage, from, to)
	}
	return first, last, nil
}

// Write puts the best answer's marks into the score: string, fret and finger of every note that was
// fingered. Marks of other notes stay.
func (f *Fingering) Write(s *music.Score) {
	refs := map[string][]music.NoteRef{}
	written := s.Written()
	for i, n := range s.Sounding() {
		refs[n.ID] = written[i]
	}
	for _, p := range f.Notes {
		if p.Finger < 0 || len(refs[p.ID]) == 0 {
			continue
		}
		for k, r := range refs[p.ID] {
			mark(&s.Parts[r.Part].Notes[r.Note], p.Place, p.Finger, k == 0)
		}
	}
}

// mark writes a place. What is only tied on is not fingered again.
func mark(n *music.Note, place guitar.Place, finger int, struck bool) {
	n.String, n.Fret, n.HasFret = place.String, place.Fret, true
	if struck {
		n.Fingers = []music.Fingering{{Text: strconv.Itoa(finger)}}
	}
}
