package exercise

import (
	"fmt"
	"strconv"
	"strings"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// window is what a hand reaches that stays in one position. In the first it is the open string and
// four frets, each with the finger of its number; higher up one finger a fret, and a fret more on
// either side by stretching the first or the fourth finger.
type window struct {
	in   guitar.Instrument
	at   int          // fret of the first finger
	used map[int]bool // MIDI numbers that the exercise has
}

// place finds where a pitch is played in the window, and with which finger.
func (w window) place(midi int) (p guitar.Place, finger int, ok bool) {
	if w.at == 1 {
		for str := 1; str <= w.in.Strings(); str++ { // an open string before a fourth finger
			if fret := midi - w.in.Pitch(str, 0); fret >= 0 && fret <= 4 {
				return guitar.Place{String: str, Fret: fret}, fret, true
			}
		}
		return p, 0, false
	}
	// A stretch back with 1 would leave 1 for the next fret too, where the scale has that.
	order := []int{0, 1, 2, 3, -1, 4}
	if w.used[midi+1] {
		order = []int{0, 1, 2, 3, 4, -1}
	}
	for _, off := range order {
		for str := 1; str <= w.in.Strings(); str++ {
			fret := midi - w.in.Pitch(str, 0)
			if fret == w.at+off && fret >= 1 && fret <= w.in.Highest() {
				return guitar.Place{String: str, Fret: fret}, min(max(off+1, 1), 4), true
			}
		}
	}
	return p, 0, false
}

// settled is where a line on a scale lies.
type settled struct {
	octave   int // of the lower keynote
	octaves  int
	position int // 0 the hand may move
	window   window
	fixed    *guitar.Place // of the lower keynote, where the recipe names it and the hand may move
	root     int           // MIDI number of the lower keynote

	stretches int // notes a fret outside the four of the position
	missing   int // notes that it does not have
}

// tone is a note of the line, with its place and finger where the position tells them.
func (s settled) tone(p music.Pitch) tone {
	t := tone{Note: music.Note{Pitch: p, Voice: "1"}}
	if s.position > 0 {
		if place, finger, ok := s.window.place(p.Midi()); ok {
			t.setPlace(place)
			t.setFinger(finger)
		}
	} else if s.fixed != nil && p.Midi() == s.root {
		t.setPlace(*s.fixed)
	}
	return t
}

// settle finds octave, position and number of octaves of a line, so that all of it can be played.
func (r Recipe) settle(in guitar.Instrument, k key, figure func(octaves int) [][]degree) (settled, error) {
	position, free, err := readPosition(r.Position)
	if err != nil {
		return settled{}, err
	}
	from, err := r.startOf(in, k, position)
	if err != nil {
		return settled{}, err
	}
	positions := []int{position}
	switch {
	case free:
		positions = []int{0}
	case position == 0 && from.place != nil && from.place.Fret > 4:
		positions = nil
		for _, back := range []int{1, 0, 3, 2} { // second, first, fourth, third finger on the keynote
			if p := from.place.Fret - back; p >= 2 {
				positions = append(positions, p)
			}
		}
	case position == 0:
		positions = []int{1}
	}
	counts := []int{2, 1}
	if r.Octaves > 0 {
		counts = []int{r.Octaves}
	}
	var refused error // of the try that misses the fewest notes
	fewest := 0
	for _, n := range counts {
		var best *settled
		for _, pos := range positions {
			for _, octave := range from.octaves {
				at := settled{octave: octave, octaves: n, position: pos, root: k.note(octave, 0, false).Midi()}
				if err := at.fit(in, k, figure(n), from.place); err != nil {
					if refused == nil || at.missing <= fewest {
						refused, fewest = err, at.missing
					}
					continue
				}
				if best == nil || at.stretches < best.stretches {
					best = &at
				}
				break // the lowest octave that fits
			}
		}
		if best != nil {
			return *best, nil
		}
	}
	return settled{}, refused
}

// fit checks that every note has a place.
func (s *settled) fit(in guitar.Instrument, k key, figure [][]degree, start *guitar.Place) error {
	s.window = window{in: in, at: s.position, used: map[int]bool{}}
	var pitches []music.Pitch
	for _, g := range figure {
		for _, d := range g {
			p := k.note(s.octave, d.at, d.down)
			if p.Alter < -2 || p.Alter > 2 {
				return bad("key", "%s needs a note with three signs; write it with its other name", k)
			}
			pitches = append(pitches, p)
			s.window.used[p.Midi()] = true
		}
	}
	var first error
	for _, p := range pitches {
		var err error
		place, _, ok := s.window.place(p.Midi())
		switch {
		case len(in.Places(p.Midi())) == 0:
			err = outOfRange("octaves", "the guitar has no %s, which this line reaches; ask for fewer octaves or another start", p.Name())
		case s.position == 0:
		case !ok:
			err = outOfRange("position", "position %s has no %s, which this line reaches; write octaves: 1, start elsewhere, or write position: free",
				roman(s.position), p.Name())
		case s.position > 1 && (place.Fret < s.position || place.Fret > s.position+3):
			s.stretches++
		}
		if err != nil {
			s.missing++
			if first == nil {
				first = err
			}
		}
	}
	if first != nil {
		return first
	}
	if start != nil {
		if s.position == 0 {
			s.fixed = start
			return nil
		}
		if place, _, ok := s.window.place(s.root); !ok || place != *start {
			return outOfRange("start", "position %s does not have the keynote at %d/%d; leave the position out, or start at %d/%d",
				roman(s.position), start.String, start.Fret, place.String, place.Fret)
		}
	}
	return nil
}

// start is what a recipe says about the lower keynote.
type start struct {
	octaves []int // to be tried, lowest first
	place   *guitar.Place
}

func (r Recipe) startOf(in guitar.Instrument, k key, position int) (start, error) {
	t := strings.ToLower(r.Start)
	class := func(midi int) bool { return floorMod(midi-k.note(4, 0, false).Midi(), 12) == 0 }
	octaveOf := func(midi int) int {
		o := 0
		for k.note(o, 0, false).Midi() < midi {
			o++
		}
		return o
	}
	keynote := noteName(k.note(4, 0, false))
	str, fret, isPlace := strings.Cut(t, "/")
	onString, isString := strings.CutPrefix(t, "string ")
	switch {
	case t == "":
		return start{octaves: []int{1, 2, 3, 4, 5}}, nil
	case isPlace:
		s, errS := strconv.Atoi(str)
		f, errF := strconv.Atoi(fret)
		if errS != nil || errF != nil || in.Pitch(s, f) == 0 {
			return start{}, bad("start", "%q is no place on the guitar; write string/fret, such as 6/3", clip(r.Start))
		}
		if !class(in.Pitch(s, f)) {
			return start{}, bad("start", "%d/%d is %s, but %s begins on %s%s", s, f, noteName(music.SpellMidi(in.Pitch(s, f), k.fifths)), k, keynote, whereOn(in, s, class))
		}
		return start{octaves: []int{octaveOf(in.Pitch(s, f))}, place: &guitar.Place{String: s, Fret: f}}, nil
	case isString:
		s, err := strconv.Atoi(onString)
		if err != nil || s < 1 || s > in.Strings() {
			return start{}, bad("start", "%q is no string; write string 1 to string %d", clip(r.Start), in.Strings())
		}
		least := 0
		if position > 1 {
			least = position - 1
		}
		for f := least; f <= in.Highest(); f++ {
			if class(in.Pitch(s, f)) {
				return start{octaves: []int{octaveOf(in.Pitch(s, f))}, place: &guitar.Place{String: s, Fret: f}}, nil
			}
		}
		return start{}, outOfRange("start", "there is no %s on string %d from position %s upwards; choose another string", keynote, s, roman(position))
	}
	octave, err := strconv.Atoi(t[len(t)-1:])
	if n := k.note(octave, 0, false); err == nil && strings.EqualFold(n.Name(), t) {
		return start{octaves: []int{octave}}, nil
	}
	return start{}, bad("start", "%q is no start of %s; write %s2, string 6, or string/fret such as 6/3", clip(r.Start), k, keynote)
}

// whereOn says where the keynote lies on a string, as a hint.
func whereOn(in guitar.Instrument, str int, class func(int) bool) string {
	for f := 0; f <= in.Highest(); f++ {
		if class(in.Pitch(str, f)) {
			return fmt.Sprintf("; on that string it is %d/%d", str, f)
		}
	}
	return ""
}

// readPosition reads "", "free", "5" or "V".
func readPosition(text string) (position int, free bool, err error) {
	t := strings.TrimSpace(text)
	if t == "" {
		return 0, false, nil
	}
	if strings.EqualFold(t, "free") {
		return 0, true, nil
	}
	for p := 1; p <= 12; p++ {
		if t == strconv.Itoa(p) || strings.EqualFold(t, roman(p)) {
			return p, false, nil
		}
	}
	return 0, false, bad("position", "%q is no position; write 1 to 12, or free", clip(text))
}

// roman is how positions are written.
func roman(n int) string {
	if n < 1 || n > 12 {
		return strconv.Itoa(n)
	}
	return [...]string{"I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII"}[n-1]
}

func placeText(str, fret int) string { return fmt.Sprintf("%d/%d", str, fret) }
