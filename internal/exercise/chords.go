package exercise

import (
	"slices"
	"strings"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// shape is a chord as it lies under the hand, string 6 first: frets with x for a string that is not
// played, and fingers.
type shape struct{ frets, fingers string }

// shapes of chords with open strings. Common practice, no source; that each holds the notes of its
// name is tested.
func shapes() map[string]shape {
	return map[string]shape{
		"C": {"x32010", "x32010"}, "C7": {"x32310", "x32410"},
		"D": {"xx0232", "xx0132"}, "D7": {"xx0212", "xx0213"}, "Dm": {"xx0231", "xx0231"},
		"E": {"022100", "023100"}, "E7": {"020100", "020100"}, "Em": {"022000", "023000"},
		"F": {"xx3211", "xx3211"}, "Fmaj7": {"xx3210", "xx3210"},
		"G": {"320003", "210003"}, "G7": {"320001", "320001"},
		"A": {"x02220", "x01230"}, "A7": {"x02020", "x02030"}, "Am": {"x02210", "x02310"}, "Am7": {"x02010", "x02010"},
		"B7": {"x21202", "x21304"},
	}
}

// chordNames in the order in which they are told.
func chordNames() []string {
	return []string{"C", "C7", "D", "D7", "Dm", "E", "E7", "Em", "F", "Fmaj7", "G", "G7", "A", "A7", "Am", "Am7", "B7"}
}

// chord is a shape with its notes; an index is a string, 0 is not used.
type chord struct {
	name  string // "" of a shape without one
	notes [7]*tone
	bass  int // lowest string that is played
}

func readChord(in guitar.Instrument, word string, fifthsOfKey int) (chord, error) {
	c := chord{}
	sh, known := shapes()[word]
	if known {
		c.name = word
	} else {
		frets, fingers, _ := strings.Cut(strings.ToLower(word), "/")
		sh = shape{frets, fingers}
	}
	wrong := func() (chord, error) {
		return chord{}, bad("chords", "%q is no chord here; choose %s, or write frets and fingers from the sixth string: x32010/x32010", clip(word), list(chordNames(), "or"))
	}
	if len(sh.frets) != 6 || in.Strings() != 6 || sh.fingers != "" && len(sh.fingers) != 6 {
		return wrong()
	}
	for i := range 6 {
		str := 6 - i
		f := sh.frets[i]
		if f == 'x' {
			continue
		}
		if f < '0' || f > '9' {
			return wrong()
		}
		fret := int(f - '0')
		t := &tone{Note: music.Note{Voice: "1"}}
		midi := in.Pitch(str, fret)
		t.Pitch = music.SpellMidi(midi, fifthsOfKey)
		if known {
			t.Pitch = chordTone(word, midi)
		}
		t.setPlace(guitar.Place{String: str, Fret: fret})
		if sh.fingers != "" {
			n := int(sh.fingers[i]) - '0'
			if n < 0 || n > 4 || (n == 0) != (fret == 0) {
				return chord{}, bad("chords", "the fingers of %q do not fit its frets; write 0 for an open string, x for one that is not played, 1 to 4 for the rest", clip(word))
			}
			t.setFinger(n)
		} else if fret == 0 {
			t.setFinger(0)
		}
		c.notes[str] = t
		c.bass = max(c.bass, str)
	}
	if c.bass == 0 {
		return wrong()
	}
	return c, nil
}

// chordTone spells a note of a chord by the letter of its interval above the root: the seventh of C7
// is B flat.
func chordTone(name string, midi int) music.Pitch {
	root := strings.IndexByte(letters, name[0])
	rootMidi := (music.Pitch{Step: name[0], Octave: 1}).Midi()
	up := floorMod(midi-rootMidi, 12)
	steps := [12]int{0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6}[up]
	octave := 1 + floorDiv(midi-rootMidi, 12) + floorDiv(root+steps, 7)
	p := music.Pitch{Step: letters[floorMod(root+steps, 7)], Octave: octave}
	p.Alter = midi - p.Midi()
	return p
}

// chordChanges plays the right hand's pattern on one chord after the other.
func (r Recipe) chordChanges(in guitar.Instrument, count counter) (drawn, error) {
	if len(r.Chords) == 0 {
		return drawn{}, bad("pattern", "chords need a line \"chords:\", such as C G7 C")
	}
	k, err := readKey(or(r.Key, "C major"))
	if err != nil {
		return drawn{}, err
	}
	text := r.RightHand
	if text == "" || text == "auto" {
		text = "p i m a"
	}
	pattern, none, err := readRight(text)
	if err != nil {
		return drawn{}, err
	}
	if none {
		return drawn{}, bad("right-hand", "chords need a pattern; write for example p i m a, or (pima) for all at once")
	}
	rounds, err := r.roundsEach(count, len(pattern))
	if err != nil {
		return drawn{}, err
	}
	d := drawn{key: k, named: r.Key != "", position: 1, chords: true}
	for _, word := range r.Chords {
		c, err := readChord(in, word, k.fifths)
		if err != nil {
			return drawn{}, err
		}
		held := c.grip(pattern)
		held.label = clip(word)
		d.grips = append(d.grips, held)
		for round := range rounds {
			for i, p := range pattern {
				e, err := c.pluck(p)
				if err != nil {
					return drawn{}, err
				}
				if round == 0 && i == 0 {
					e.label = c.name
				}
				d.events = append(d.events, e)
			}
		}
		if len(d.events) > maxEvents {
			break // count refuses it
		}
	}
	return d, nil
}

// roundsEach is how often the pattern comes on each chord: as asked, or as often as fills whole bars.
func (r Recipe) roundsEach(count counter, notes int) (int, error) {
	if r.Each == "rhythm" {
		return 0, bad("each", "with chords it is how often the pattern comes on each chord; give 1 to 16")
	}
	if r.Each != "" {
		var n int
		err := whole(&n, "each", 1, 16)(r.Each)
		return n, err
	}
	bar := count.time.Length()
	for n := 1; n <= 8; n++ {
		var sum music.Beats
		for k, i := 0, 0; k < n*notes; i++ {
			st := count.steps[i%len(count.steps)]
			if sum = sum.Add(st.length); !st.rest {
				k++
			}
		}
		num, den := sum.Fraction()
		bn, bd := bar.Fraction()
		if num*bd%(den*bn) == 0 {
			return n, nil
		}
	}
	return 1, nil
}

// pluck gives the notes that one pull of the right hand sounds. Without a string of its own p takes
// the bass, i the third string, m the second and a the first.
func (c chord) pluck(p pull) (event, error) {
	var e event
	taken := map[int]string{}
	for _, f := range byString(p) {
		str := c.stringOf(f)
		if c.notes[str] == nil {
			return event{}, unplayable("right-hand", "%s is to pluck string %d, which %s leaves out; give it another string, such as %s%d", f.name, str, c.word(), f.name, c.played(str))
		}
		if by := taken[str]; by != "" {
			return event{}, unplayable("right-hand", "%s and %s are to pluck string %d at once; give one of them another string", by, f.name, str)
		}
		taken[str] = f.name
		t := c.notes[str].clone()
		t.Plucks = []string{f.name}
		e.tones = append(e.tones, t)
	}
	for i := 1; i < len(e.tones); i++ {
		if e.tones[i].String > e.tones[i-1].String {
			return event{}, unplayable("right-hand", "%s would reach over %s; give the finger nearer the thumb the lower string", e.tones[i].pluck(), e.tones[i-1].pluck())
		}
	}
	return e, nil
}

// grip is all that the left hand holds while the pattern is played.
func (c chord) grip(pattern []pull) event {
	var e event
	for str := 6; str >= 1; str-- {
		for _, p := range pattern {
			if t := c.notes[str]; t != nil && slices.ContainsFunc(p, func(f finger) bool { return c.stringOf(f) == str }) {
				e.tones = append(e.tones, t.clone())
				break
			}
		}
	}
	return e
}

// stringOf is the string that a finger plucks.
func (c chord) stringOf(f finger) int {
	if f.str != 0 {
		return f.str
	}
	return map[string]int{"p": c.bass, "i": 3, "m": 2, "a": 1}[f.name]
}

func (c chord) word() string {
	if c.name == "" {
		return "this chord"
	}
	return c.name
}

// played is the string nearest to str that the chord has.
func (c chord) played(str int) int {
	for d := 1; d < 6; d++ {
		for _, s := range []int{str - d, str + d} {
			if s >= 1 && s <= 6 && c.notes[s] != nil {
				return s
			}
		}
	}
	return c.bass
}
