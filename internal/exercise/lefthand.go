package exercise

import (
	"slices"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// leastShift is how many frets the first finger's place moves before a shift is more than fingers
// that stand close together. Our choice.
const leastShift = 2

// forShift goes back and forth between the notes on either side of the largest shift.
func (s *sheet) forShift(Fault) (*sheet, error) {
	before, after, how := s.largestShift()
	if how < leastShift {
		return nil, notThere("the left hand stays in its place there; choose the bars where it moves, or finger them first")
	}
	struck := func(g []int) event {
		var e event
		for _, i := range g {
			t := s.tones[i].clone()
			t.Spans, t.grace = nil, nil
			e.tones = append(e.tones, t)
		}
		return e
	}
	groups := s.groups()
	a, b := struck(groups[before]), struck(groups[after])
	if len(a.tones) == 1 && len(b.tones) == 1 && a.tones[0].pluck() == b.tones[0].pluck() && a.tones[0].pluck() != "" {
		// Back and forth needs two fingers that take turns.
		other := map[string]string{"i": "m", "m": "i", "a": "m", "p": "i"}[a.tones[0].pluck()]
		b.tones[0].Plucks = []string{other}
	}
	drill := s.blank()
	var steps []step
	var events []event
	bar, beat := s.barLength(), s.beat()
	per := 1
	for at := beat; at.Less(bar); at = at.Add(beat) {
		per++
	}
	add := func(length music.Beats, times int) {
		for range times {
			steps = append(steps, step{length: length}, step{length: length})
			events = append(events, a, b)
		}
	}
	add(bar, 1)
	add(beat, per) // two bars
	if half := beat.Mul(1, 2); half.Mul(2, 1).Cmp(beat) == 0 {
		add(half, per) // two bars' worth in one
	}
	if err := drill.count(events, steps); err != nil {
		return nil, err
	}
	guide := ""
	if x, y := a.tones[0], b.tones[0]; x.String == y.String && x.finger() == y.finger() && x.finger() > 0 {
		guide = "; finger " + itoa(x.finger()) + " keeps touching its string on the way"
	}
	return s.sections("Only the two places on either side of the shift, first with a whole bar to get there, then in less and less time"+guide+".",
		section{"the shift alone", drill, 2}, section{"in its place", s.clone(), 2}), nil
}

// blank is the same key, time and guitar without any music.
func (s *sheet) blank() *sheet {
	out := s.clone()
	out.tones, out.signs, out.repeats, out.tempos, out.bars = nil, nil, nil, nil, 0
	return out
}

// handAt is where the first finger stands for a stopped note.
func handAt(t tone) (int, bool) {
	f := t.finger()
	if f < 1 || !t.HasFret || t.Fret < 1 {
		return 0, false
	}
	return t.Fret - f + 1, true
}

// largestShift finds the neighbouring moments between which the hand moves most, as groups.
func (s *sheet) largestShift() (before, after, frets int) {
	groups := s.groups()
	last, at := -1, 0
	for g, group := range groups {
		for _, i := range group {
			p, ok := handAt(s.tones[i])
			if !ok {
				continue
			}
			if last >= 0 && abs(p-at) > frets && g != last {
				before, after, frets = last, g, abs(p-at)
			}
			last, at = g, p
			break
		}
	}
	return before, after, frets
}

// forFourth plays each other finger against the fourth, on the strings where the passage uses it.
func (s *sheet) forFourth(Fault) (*sheet, error) {
	var spots []guitar.Place
	for _, t := range s.tones {
		p := guitar.Place{String: t.String, Fret: t.Fret}
		if t.finger() == 4 && t.HasFret && t.Fret > 1 && t.String > 0 && !slices.Contains(spots, p) && len(spots) < 2 {
			spots = append(spots, p)
		}
	}
	if len(spots) == 0 {
		return nil, notThere("the fourth finger plays nothing there that is marked; choose other bars, or finger them first")
	}
	drill := s.blank()
	per := s.countBeats()
	var events []event
	for _, spot := range spots {
		for finger := 1; finger <= 3; finger++ {
			fret := spot.Fret - 4 + finger
			if fret < 1 {
				continue
			}
			for range per {
				for _, f := range [...]struct{ fret, finger int }{{fret, finger}, {spot.Fret, 4}} {
					t := tone{Note: music.Note{Voice: "1", Pitch: s.written(s.guitar.Pitch(spot.String, f.fret))}}
					t.setPlace(guitar.Place{String: spot.String, Fret: f.fret})
					t.setFinger(f.finger)
					events = append(events, event{tones: []tone{t}})
				}
			}
		}
	}
	half := s.beat().Mul(1, 2)
	if s.time.Compound() {
		half = s.beat() // whole beats, so that the pairs stay pairs
	}
	if err := drill.count(events, []step{{length: half}}); err != nil {
		return nil, err
	}
	if err := drill.pluckAll(nil); err != nil {
		return nil, err
	}
	return s.sections("Each of the other fingers in turn keeps its place while the fourth comes down and lifts beside it, so that it learns to move by itself.",
		section{"each finger against the fourth", drill, 2}, section{"in its place", s.clone(), 2}), nil
}

// countBeats is how many beats a bar has.
func (s *sheet) countBeats() int {
	n := 0
	for at := (music.Beats{}); at.Less(s.barLength()); at = at.Add(s.beat()) {
		n++
	}
	return n
}

// forString breaks the chords up from the bass, with the missed string accented, and twice where the
// bar has room, and then lets them sound whole.
func (s *sheet) forString(f Fault) (*sheet, error) {
	var chords [][]tone
	same := func(a, b []tone) bool {
		return slices.EqualFunc(a, b, func(x, y tone) bool { return x.Pitch == y.Pitch && x.String == y.String })
	}
	for _, g := range s.groups() {
		if len(g) < 2 {
			continue
		}
		var c []tone
		for _, i := range g {
			c = append(c, s.tones[i].clone())
		}
		if f.String > 0 && !slices.ContainsFunc(c, func(t tone) bool { return t.String == f.String }) {
			continue
		}
		if !slices.ContainsFunc(chords, func(o []tone) bool { return same(o, c) }) && len(chords) < 4 {
			chords = append(chords, c)
		}
	}
	switch {
	case len(chords) == 0 && f.String > 0:
		return nil, notThere("no chord there is marked as using string %d; choose another string or other bars", f.String)
	case len(chords) == 0:
		return nil, notThere("there are no chords in these bars; choose other bars")
	}
	drill := s.blank()
	for _, c := range chords {
		bar := s.blank()
		slices.SortStableFunc(c, func(a, b tone) int { return a.Pitch.Midi() - b.Pitch.Midi() })
		var events []event
		twice := len(c) < s.countBeats() // as long as the bar has room
		for _, t := range c {
			t.Voice, t.Arpeggio, t.Spans, t.grace = "1", music.Arpeggio{}, nil, nil
			if t.String == f.String && f.String > 0 {
				t.Marks = append(t.Marks, music.Mark{Kind: "accent"})
				if twice {
					events = append(events, event{tones: []tone{t}})
				}
			}
			events = append(events, event{tones: []tone{t}})
		}
		if err := bar.count(events, []step{{length: s.beat()}}); err != nil {
			return nil, err
		}
		whole := s.blank()
		for i := range c {
			c[i].Voice = "1"
			c[i].Spans, c[i].grace = nil, nil
		}
		if err := whole.count([]event{{tones: c}}, []step{{length: s.barLength()}}); err != nil {
			return nil, err
		}
		drill.add(bar)
		drill.add(whole)
	}
	which := "the one that was missed"
	if f.String > 0 {
		which = "string " + itoa(f.String) + ", the one that was missed,"
	}
	return s.sections("One string after the other shows the hand which one stays silent: "+which+" has to sound by itself before it can sound in the chord.",
		section{"string by string, then all", drill, 2}, section{"in its place", s.clone(), 1}), nil
}
