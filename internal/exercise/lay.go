package exercise

import (
	"slices"
	"strconv"

	"antiphon/internal/music"
)

// lay writes a sheet out: bars that are full, notes of lengths that exist, tied where they must be,
// rests in the gaps, beams by the beat, accidentals as the key wants them.
func (s *sheet) lay() (*music.Score, error) {
	s.sort()
	if s.bars == 0 {
		s.bars = s.countBars(s.end())
	}
	switch {
	case s.bars == 0 || len(s.tones) == 0:
		return nil, bad("", "nothing is left to play")
	case s.bars > maxBars:
		return nil, bad("", "it would be %d bars long; %d are the most, so ask for less at a time", s.bars, maxBars)
	case len(s.tones) > maxEvents:
		return nil, bad("", "it would have %d notes; %d are the most, so ask for less at a time", len(s.tones), maxEvents)
	}
	score := &music.Score{Title: s.title, Subtitle: s.trains}
	for b := range s.bars {
		score.Bars = append(score.Bars, music.Bar{Number: strconv.Itoa(b + 1), Start: s.barStart(b), Length: s.barLength(), Time: s.time})
	}
	s.repeatSigns(score.Bars)
	part := music.Part{ID: "P1", Name: "Guitar", Instrument: "Guitar", Program: 25, Channel: 1, Staves: 1}
	key, time := s.key, s.time
	part.Attributes = append([]music.Attributes{{Key: &key}, {Time: &time}, {Clef: &music.Clef{Sign: "G", Line: 2, Octave: -1}}}, s.head...)
	voices := s.voices()
	for _, v := range voices {
		notes, err := s.layVoice(v, v == voices[0])
		if err != nil {
			return nil, err
		}
		if len(voices) > 1 {
			for i := range notes {
				if !notes[i].Rest {
					notes[i].Stem = [...]string{"up", "down"}[min(slices.Index(voices, v), 1)]
				}
			}
		}
		part.Notes = append(part.Notes, notes...)
	}
	slices.SortStableFunc(part.Notes, func(a, b music.Note) int { return a.Bar - b.Bar })
	accidentals(part.Notes, s.key.Fifths)
	for _, d := range s.signs {
		d.Bar = min(max(score.BarAt(d.At), 0), s.bars-1)
		part.Directions = append(part.Directions, d)
	}
	slices.SortStableFunc(part.Directions, func(a, b music.Direction) int {
		if a.Bar != b.Bar {
			return a.Bar - b.Bar
		}
		return a.At.Cmp(b.At)
	})
	score.Parts, score.Tempos = []music.Part{part}, s.tempos
	return score, nil
}

func (s *sheet) repeatSigns(bars []music.Bar) {
	bars[len(bars)-1].RightStyle = "light-heavy"
	for _, r := range s.repeats {
		if r.times < 2 {
			continue
		}
		bars[r.from].RepeatStart, bars[r.from].LeftStyle = true, "heavy-light"
		bars[r.to].RepeatEnd, bars[r.to].RightStyle = r.times, "light-heavy"
	}
}

// voices in order of their names; the upper one is "1".
func (s *sheet) voices() []string {
	var out []string
	for _, t := range s.tones {
		if !slices.Contains(out, t.Voice) {
			out = append(out, t.Voice)
		}
	}
	slices.Sort(out)
	return out
}

// layVoice writes one voice. The first voice has rests in every bar; another one only in bars where
// it plays.
func (s *sheet) layVoice(voice string, first bool) ([]music.Note, error) {
	var out []music.Note
	plays := make([]bool, s.bars)
	var mine []tone
	for _, t := range s.tones {
		if t.Voice == voice {
			mine = append(mine, t)
		}
	}
	cursor := music.Beats{}
	for i := 0; i < len(mine); {
		j := i
		for j < len(mine) && mine[j].Start.Cmp(mine[i].Start) == 0 {
			j++
		}
		chord := mine[i:j]
		dur := chord[0].Duration
		for _, t := range chord[1:] { // a chord is as long as its shortest note
			if t.Duration.Less(dur) {
				dur = t.Duration
			}
		}
		if j < len(mine) && mine[j].Start.Less(chord[0].Start.Add(dur)) {
			dur = mine[j].Start.Sub(chord[0].Start)
		}
		rests, err := s.rests(cursor, chord[0].Start, voice)
		if err != nil {
			return nil, err
		}
		out = append(out, rests...)
		notes, err := s.write(chord, dur)
		if err != nil {
			return nil, err
		}
		out = append(out, notes...)
		cursor = chord[0].Start.Add(dur)
		i = j
	}
	rests, err := s.rests(cursor, s.barStart(s.bars), voice)
	if err != nil {
		return nil, err
	}
	out = append(out, rests...)
	for _, n := range out {
		plays[n.Bar] = plays[n.Bar] || !n.Rest
	}
	if !first {
		out = slices.DeleteFunc(out, func(n music.Note) bool { return !plays[n.Bar] })
	}
	s.tuplets(out)
	s.beams(out)
	return out, nil
}

// write gives the written notes of a chord that lasts dur.
func (s *sheet) write(chord []tone, dur music.Beats) ([]music.Note, error) {
	pieces, err := s.split(chord[0].Start, dur)
	if err != nil {
		return nil, err
	}
	var out []music.Note
	for _, g := range chord[0].grace {
		g.Bar, g.Start, g.Voice = s.barAt(chord[0].Start), chord[0].Start, chord[0].Voice
		out = append(out, g)
	}
	for i, p := range pieces {
		for k, t := range chord {
			n := t.Note
			n.Bar, n.Start, n.Duration, n.Type, n.Dots, n.Ratio = p.bar, p.start, p.dur, p.kind, p.dots, p.ratio
			n.Staff, n.Chord = 1, k > 0
			n.TieStop, n.TieStart = i > 0, i < len(pieces)-1
			if i > 0 { // what was struck goes on
				n.Fingers, n.Plucks, n.Lyrics, n.Dynamics, n.Arpeggio, n.Marks, n.Spans = nil, nil, nil, nil, music.Arpeggio{}, nil, nil
			}
			out = append(out, n)
		}
	}
	return out, nil
}

func (s *sheet) barAt(at music.Beats) int {
	n := 0
	for s.barStart(n+1).Cmp(at) <= 0 {
		n++
	}
	return n
}

func (s *sheet) rests(from, to music.Beats, voice string) ([]music.Note, error) {
	var out []music.Note
	for from.Less(to) {
		bar := s.barAt(from)
		end := s.barStart(bar + 1)
		if to.Less(end) {
			end = to
		}
		if whole := end.Sub(from); whole.Cmp(s.barLength()) == 0 {
			out = append(out, music.Note{Bar: bar, Start: from, Duration: whole, Voice: voice, Staff: 1, Rest: true, WholeBar: true})
			from = end
			continue
		}
		pieces, err := s.split(from, end.Sub(from))
		if err != nil {
			return nil, err
		}
		for _, p := range pieces {
			out = append(out, music.Note{Bar: p.bar, Start: p.start, Duration: p.dur, Voice: voice, Staff: 1, Rest: true, Type: p.kind, Dots: p.dots, Ratio: p.ratio})
		}
		from = end
	}
	return out, nil
}

// accidentals prints what differs from the signature and from what stood before in the bar, on the
// same line of the staff.
func accidentals(notes []music.Note, fifthsOfKey int) {
	type lineOf struct {
		bar    int
		step   byte
		octave int
	}
	order := make([]int, len(notes))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return notes[a].Start.Cmp(notes[b].Start) })
	state := map[lineOf]int{}
	for _, i := range order {
		n := &notes[i]
		if !n.Pitched() {
			continue
		}
		n.Accidental = music.Accidental{}
		if n.TieStop {
			continue
		}
		l := lineOf{n.Bar, n.Pitch.Step, n.Pitch.Octave}
		now, ok := state[l]
		if !ok {
			now = signature(n.Pitch.Step, fifthsOfKey)
		}
		if n.Pitch.Alter != now {
			n.Accidental.Name = map[int]string{-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}[n.Pitch.Alter]
		}
		state[l] = n.Pitch.Alter
	}
}

// signature is what a key signature does to a step.
func signature(step byte, fifthsOfKey int) int {
	at := 0
	for i := range len(fifths) {
		if fifths[i] == step {
			at = i
		}
	}
	return floorDiv(fifthsOfKey-at-1+7, 7)
}
