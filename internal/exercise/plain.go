package exercise

import (
	"slices"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// openStrings goes through open strings, there and back unless the recipe says otherwise.
func (r Recipe) openStrings(in guitar.Instrument) (drawn, error) {
	strs := r.Strings
	if len(strs) == 0 {
		strs = []int{6, 5, 4, 3, 2, 1}
	}
	d := drawn{key: key{mode: modes()[0], step: 'C'}, position: 1}
	for _, s := range thereAndBack(strs, r.Direction, len(r.Strings) > 0) {
		if s > in.Strings() {
			return drawn{}, bad("strings", "the guitar has no string %d; it has %d", s, in.Strings())
		}
		t := tone{Note: music.Note{Voice: "1", Pitch: music.SpellMidi(in.Pitch(s, 0), 0)}}
		t.setPlace(guitar.Place{String: s})
		t.setFinger(0)
		d.events = append(d.events, event{tones: []tone{t}})
	}
	return d, nil
}

// thereAndBack: what the recipe lists is played as it stands, unless it names a direction too.
func thereAndBack[T any](list []T, direction string, listed bool) []T {
	back := slices.Clone(list)
	slices.Reverse(back)
	switch direction {
	case "up":
		return list
	case "down":
		return back
	case "down-up":
		return append(back, list[1:]...)
	case "up-down":
		return append(slices.Clone(list), back[1:]...)
	}
	if listed {
		return list
	}
	return append(slices.Clone(list), back[1:]...)
}

// chromatic plays the frets of a position one after the other: on the strings that the recipe lists,
// or from the start through so many octaves. Sharps on the way up, flats on the way down.
func (r Recipe) chromatic(in guitar.Instrument) (drawn, error) {
	position, free, err := readPosition(r.Position)
	if err != nil {
		return drawn{}, err
	}
	if free {
		return drawn{}, bad("position", "a chromatic line stays in one position; write 1 to 12")
	}
	position = max(position, 1)
	w := window{in: in, at: position}
	d := drawn{key: key{mode: modes()[0], step: 'C'}, position: position}
	var line []tone
	add := func(p guitar.Place, finger int) {
		t := tone{Note: music.Note{Voice: "1", Pitch: music.Pitch{Step: 'C'}}}
		t.setPlace(p)
		t.setFinger(finger)
		line = append(line, t)
	}
	if len(r.Strings) > 0 || r.Start == "" {
		strs := r.Strings
		if len(strs) == 0 {
			strs = []int{6, 5, 4, 3, 2, 1}
		}
		for _, s := range strs {
			first := position
			if position == 1 {
				first = 0
			}
			for f := first; f <= position+3; f++ {
				if position == 1 && s == 3 && f == 4 && slices.Contains(strs, 2) {
					continue // it is the open second string
				}
				if s > in.Strings() || f > in.Highest() {
					return drawn{}, bad("strings", "the guitar has no place %d/%d", s, f)
				}
				finger := f - position + 1
				add(guitar.Place{String: s, Fret: f}, finger)
			}
		}
	} else {
		low, err := r.chromaticStart(in, w)
		if err != nil {
			return drawn{}, err
		}
		for midi := low; midi <= low+12*max(r.Octaves, 1); midi++ {
			p, finger, ok := w.place(midi)
			if !ok {
				return drawn{}, outOfRange("position", "position %s has no %s, which this line reaches; ask for one octave or start elsewhere", roman(position), music.SpellMidi(midi, 0).Name())
			}
			add(p, finger)
		}
	}
	spell := func(t tone, down bool) event {
		t = t.clone()
		t.Pitch = chromaticName(in.Pitch(t.String, t.Fret), down)
		return event{tones: []tone{t}}
	}
	played := thereAndBack(line, or(r.Direction, "up-down"), false)
	down := false
	for i, t := range played {
		midi := in.Pitch(t.String, t.Fret)
		before, after := midi, midi
		if i > 0 {
			before = in.Pitch(played[i-1].String, played[i-1].Fret)
		} else if len(played) > 1 {
			after = in.Pitch(played[1].String, played[1].Fret)
		}
		if midi != before || midi != after {
			down = midi < before || after < midi
		}
		d.events = append(d.events, spell(t, down))
	}
	return d, nil
}

// chromaticName has a sharp on the way up and a flat on the way down where there is no plain name.
func chromaticName(midi int, down bool) music.Pitch {
	names := "C C#D D#E F F#G G#A A#B "
	if down {
		names = "C DbD EbE F GbG AbA BbB "
	}
	at := 2 * floorMod(midi, 12)
	p := music.Pitch{Step: names[at], Octave: floorDiv(midi, 12) - 1}
	p.Alter = map[byte]int{' ': 0, '#': 1, 'b': -1}[names[at+1]]
	return p
}

func (r Recipe) chromaticStart(in guitar.Instrument, w window) (int, error) {
	for s := 1; s <= in.Strings(); s++ {
		for f := 0; f <= in.Highest(); f++ {
			p := in.Pitch(s, f)
			if r.Start == placeText(s, f) || r.Start == chromaticName(p, false).Name() || r.Start == chromaticName(p, true).Name() {
				return p, nil
			}
		}
	}
	return 0, bad("start", "%q is no place for a chromatic line; write string/fret, such as 6/1, or a note such as F2", clip(r.Start))
}
