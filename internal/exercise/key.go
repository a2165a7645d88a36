package exercise

import (
	"fmt"
	"strings"

	"antiphon/internal/music"
)

// mode is a scale of seven degrees.
type mode struct {
	name      string
	words     []string // the names under which a recipe may ask for it
	steps     [7]int   // semitones above the keynote, going up
	down      [7]int   // going down
	signature int      // fifths to add to those of the major key on the same keynote
	written   string   // mode of the key signature
}

// modes, by the usual theory of scales. Melodic minor goes up with sixth and seventh raised and
// comes down as the natural one.
func modes() []mode {
	major := [7]int{0, 2, 4, 5, 7, 9, 11}
	minor := [7]int{0, 2, 3, 5, 7, 8, 10}
	harmonic := [7]int{0, 2, 3, 5, 7, 8, 11}
	same := func(name string, steps [7]int, signature int, written string, words ...string) mode {
		return mode{name, append(words, name), steps, steps, signature, written}
	}
	melodic := same("melodic minor", minor, -3, "minor", "minor melodic")
	melodic.steps = [7]int{0, 2, 3, 5, 7, 9, 11}
	return []mode{
		same("major", major, 0, "major", "ionian"),
		same("minor", minor, -3, "minor", "natural minor", "minor natural", "aeolian"),
		same("harmonic minor", harmonic, -3, "minor", "minor harmonic"),
		melodic,
		same("dorian", [7]int{0, 2, 3, 5, 7, 9, 10}, -2, "dorian"),
		same("phrygian", [7]int{0, 1, 3, 5, 7, 8, 10}, -4, "phrygian"),
		same("lydian", [7]int{0, 2, 4, 6, 7, 9, 11}, 1, "lydian"),
		same("mixolydian", [7]int{0, 2, 4, 5, 7, 9, 10}, -1, "mixolydian"),
		same("locrian", [7]int{0, 1, 3, 5, 6, 8, 10}, -5, "locrian"),
	}
}

// key is a keynote and a mode.
type key struct {
	step   byte
	alter  int
	fifths int // of the signature
	mode   mode
}

const (
	letters = "CDEFGAB"
	fifths  = "FCGDAEB" // the line of fifths; C stands at 0
)

// readKey reads "G major", "F# harmonic minor", "Eb dorian". Sharps and flats may be written as signs
// or as words ("F sharp minor").
func readKey(text string) (key, error) {
	t := strings.Fields(strings.NewReplacer("♯", "#", "♭", "b").Replace(text))
	if len(t) == 0 {
		return key{}, bad("key", "no key is named; write for example G major")
	}
	note := t[0]
	rest := strings.ToLower(strings.Join(t[1:], " "))
	for word, sign := range map[string]string{"sharp": "#", "flat": "b"} {
		if after, ok := strings.CutPrefix(rest, word); ok {
			note, rest = note+sign, strings.TrimSpace(after)
		}
	}
	k := key{step: note[0] &^ 0x20}
	if strings.IndexByte(letters, k.step) < 0 {
		return key{}, bad("key", "%q is no note; begin with a letter from A to G, as in G major", clip(note))
	}
	switch note[1:] {
	case "":
	case "#":
		k.alter = 1
	case "b":
		k.alter = -1
	default:
		return key{}, bad("key", "%q is no keynote; write a letter with # or b, as in F# minor", clip(note))
	}
	if rest == "" {
		rest = "major"
	}
	for _, m := range modes() {
		for _, w := range m.words {
			if w == rest {
				k.mode = m
			}
		}
	}
	if k.mode.name == "" {
		return key{}, bad("key", "there is no mode %q here; choose %s", clip(rest), modeNames())
	}
	k.fifths = strings.IndexByte(fifths, k.step) - 1 + 7*k.alter + k.mode.signature
	if k.fifths < -7 || k.fifths > 7 {
		other := music.SpellMidi((music.Pitch{Step: k.step, Alter: k.alter, Octave: 4}).Midi(), -sign(k.fifths)*2)
		return key{}, bad("key", "%s would need %d %s in its signature; write it as %s %s",
			k, abs(k.fifths), signs(k.fifths), noteName(other), k.mode.name)
	}
	return k, nil
}

func modeNames() string {
	var names []string
	for _, m := range modes() {
		names = append(names, m.name)
	}
	return list(names, "or")
}

func signs(fifths int) string {
	if fifths < 0 {
		return "flats"
	}
	return "sharps"
}

func (k key) String() string {
	return noteName(music.Pitch{Step: k.step, Alter: k.alter}) + " " + k.mode.name
}

// printed is the key as a title has it, with printed signs.
func (k key) printed() string {
	return strings.NewReplacer("#", "♯", "b", "♭").Replace(noteName(music.Pitch{Step: k.step, Alter: k.alter})) + " " + k.mode.name
}

// note is the degree of the scale so many steps above a keynote of the given octave: 0 is that keynote, 7
// the next one, -1 the degree below. Each degree has its own letter, so accidentals come out as the
// key and mode want them.
func (k key) note(octave, degree int, down bool) music.Pitch {
	steps := k.mode.steps
	if down {
		steps = k.mode.down
	}
	turn, d := floorDiv(degree, 7), floorMod(degree, 7)
	root := music.Pitch{Step: k.step, Alter: k.alter, Octave: octave}
	want := root.Midi() + 12*turn + steps[d]
	at := strings.IndexByte(letters, k.step) + degree
	p := music.Pitch{Step: letters[floorMod(at, 7)], Octave: octave + floorDiv(at, 7)}
	p.Alter = want - p.Midi()
	return p
}

// noteName is a pitch without its octave: "F#", "Bb".
func noteName(p music.Pitch) string {
	return strings.TrimSuffix(p.Name(), fmt.Sprint(p.Octave))
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

func floorMod(a, b int) int { return a - b*floorDiv(a, b) }

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}

func sign(n int) int {
	switch {
	case n < 0:
		return -1
	case n > 0:
		return 1
	}
	return 0
}

// list joins words: "a", "a or b", "a, b or c".
func list(words []string, last string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	n := len(words) - 1
	return strings.Join(words[:n], ", ") + " " + last + " " + words[n]
}

// clip keeps foreign text in a message short and on one line.
func clip(s string) string {
	out := make([]rune, 0, min(len(s), 41))
	for _, r := range s {
		if len(out) == 40 {
			return string(out) + "…"
		}
		if r < 0x20 || r == 0x7F || (r >= 0x80 && r < 0xA0) {
			r = ' '
		}
		out = append(out, r)
	}
	return string(out)
}
