package notation

import (
	"fmt"
	"strings"

	"antiphon/internal/music"
)

// abcKey is a key with the accidentals that it gives to each step, A to G.
type abcKey struct {
	fifths int
	mode   string
	alters [7]int // by step, 'A' first
}

// abcClef is a clef with what it does to the notes.
type abcClef struct {
	clef      music.Clef
	shift     int // octaves that notes are moved by octave= and the 8 of a clef
	transpose int // semitones
	stated    bool
}

// modes are the modes by how many fifths they lie from major (ABC 2.1, 3.1.14).
var modes = [...]struct {
	short, name string
	fifths      int
}{
	{"maj", "major", 0}, {"min", "minor", -3}, {"mix", "mixolydian", -1}, {"dor", "dorian", -2}, {"phr", "phrygian", -4},
	{"lyd", "lydian", 1}, {"loc", "locrian", -5}, {"ion", "ionian", 0}, {"aeo", "aeolian", -3},
}

// sharpOrder is the order of sharps; flats go the other way.
const sharpOrder = "FCGDAEB"

func alterations(fifths int) (a [7]int) {
	for i := range 7 {
		if i < fifths {
			a[sharpOrder[i]-'A'] = 1
		}
		if i < -fifths {
			a[sharpOrder[6-i]-'A'] = -1
		}
	}
	return a
}

// keyField reads K: "G", "Am", "D mix", "C ^f _b", "none", with clef and transposition after it.
func (t *tune) keyField(l abcLine, value string) error {
	key, clef := t.key, t.clef
	if t.body {
		key, clef = t.voice().key, t.voice().clef
	}
	hasKey := t.parseKey(l, value, &key, &clef)
	if !t.body {
		t.key, t.clef, t.body = key, clef, true
		if !t.hasUnit {
			t.unit = t.defaultUnit()
		}
		for _, v := range t.voices { // declared in the header
			v.begin()
		}
		if t.pending != nil {
			t.tempo(t.pending.line, t.pending.text)
		}
		return nil
	}
	if hasKey {
		t.voice().setKey(key)
	}
	t.voice().setClef(clef)
	return nil
}

// parseKey reads key and clef; hasKey is false where the field only speaks of the clef.
func (t *tune) parseKey(l abcLine, value string, key *abcKey, clef *abcClef) (hasKey bool) {
	words := strings.Fields(value)
	rest := words
	if len(words) > 0 && !strings.Contains(words[0], "=") && !isClefName(words[0]) {
		k, used, ok := parseTonic(words)
		if ok {
			*key, hasKey, rest = k, true, words[used:]
		} else {
			t.p.add(l.n, "", fmt.Sprintf("key %q cannot be read; C major was taken", printable(clip(value, 40))))
			*key, hasKey, rest = abcKey{mode: "major"}, true, words[1:]
		}
	}
	for _, w := range rest {
		switch {
		case len(w) >= 2 && strings.ContainsRune("^_=", rune(w[0])) && !strings.Contains(w[1:], "="):
			alter, step, _ := abcAccidental(w)
			if len(step) == 1 && strings.Contains("abcdefgABCDEFG", step) {
				key.alters[upper(step[0])-'A'] = alter
			}
		default:
			clef.read(w)
		}
	}
	return hasKey
}

func parseTonic(words []string) (k abcKey, used int, ok bool) {
	w := words[0]
	switch w {
	case "none":
		return abcKey{}, 1, true
	case "HP":
		return abcKey{mode: "major"}, 1, true
	case "Hp":
		k = abcKey{fifths: 2, mode: "major"}
		k.alters = alterations(2)
		return k, 1, true
	}
	step := strings.IndexByte(sharpOrder, w[0])
	if step < 0 {
		return k, 0, false
	}
	fifths := step - 1
	mode := w[1:]
	switch {
	case strings.HasPrefix(mode, "#"):
		fifths, mode = fifths+7, mode[1:]
	case strings.HasPrefix(mode, "b"):
		fifths, mode = fifths-7, mode[1:]
	}
	used = 1
	if mode == "" && len(words) > 1 && isMode(words[1]) {
		mode, used = words[1], 2
	}
	m, ok := modeOf(mode)
	if !ok {
		return k, 0, false
	}
	k.fifths, k.mode = fifths+modes[m].fifths, modes[m].name
	if strings.HasPrefix(strings.ToLower(mode), "exp") {
		k.fifths = 0
	}
	if k.fifths < -7 || k.fifths > 7 {
		return k, 0, false
	}
	k.alters = alterations(k.fifths)
	return k, used, true
}

func isMode(w string) bool {
	_, ok := modeOf(w)
	return ok && !strings.Contains(w, "=")
}

// modeOf finds a mode by its first three letters; "" is major and "m" is minor.
func modeOf(w string) (int, bool) {
	w = strings.ToLower(w)
	switch {
	case w == "" || strings.HasPrefix(w, "exp"):
		return 0, true
	case w == "m":
		return 1, true
	}
	for i, m := range modes {
		if len(w) >= 3 && strings.HasPrefix(w, m.short) {
			return i, true
		}
	}
	return 0, false
}

func isClefName(w string) bool {
	for _, n := range []string{"treble", "bass", "alto", "tenor", "perc", "soprano", "mezzosoprano", "baritone"} {
		if strings.HasPrefix(strings.ToLower(w), n) {
			return true
		}
	}
	return false
}

// read takes one word about the clef: "clef=treble-8", "bass", "octave=-1", "transpose=-2", "t=2".
func (c *abcClef) read(word string) {
	name, value, ok := strings.Cut(word, "=")
	value = strings.Trim(value, `"`)
	switch {
	case ok && (name == "transpose" || name == "t"):
		c.transpose = wholeOr(value, 48, 0)
	case ok && name == "octave":
		c.shift += wholeOr(value, 4, 0)
	case ok && name == "clef":
		c.named(value)
	case !ok && isClefName(word):
		c.named(word)
	}
}

// named sets the clef. The 8 below or above it moves the notes as well as marking the clef (ABC 2.1, 4.6).
func (c *abcClef) named(name string) {
	lower := strings.ToLower(name)
	c.shift -= c.clef.Octave
	octave := 0
	switch {
	case strings.HasSuffix(lower, "-8"):
		octave, lower = -1, strings.TrimSuffix(lower, "-8")
	case strings.HasSuffix(lower, "+8"):
		octave, lower = 1, strings.TrimSuffix(lower, "+8")
	case strings.HasSuffix(lower, "-15"):
		octave, lower = -2, strings.TrimSuffix(lower, "-15")
	case strings.HasSuffix(lower, "+15"):
		octave, lower = 2, strings.TrimSuffix(lower, "+15")
	}
	clefs := map[string]music.Clef{
		"treble": {Sign: "G", Line: 2}, "treble1": {Sign: "G", Line: 1}, "bass": {Sign: "F", Line: 4}, "bass3": {Sign: "F", Line: 3}, "baritone": {Sign: "F", Line: 3},
		"alto": {Sign: "C", Line: 3}, "alto1": {Sign: "C", Line: 1}, "soprano": {Sign: "C", Line: 1}, "alto2": {Sign: "C", Line: 2}, "mezzosoprano": {Sign: "C", Line: 2},
		"tenor": {Sign: "C", Line: 4}, "perc": {Sign: "percussion"}, "percussion": {Sign: "percussion"}, "none": {Sign: "none"},
		"g": {Sign: "G", Line: 2}, "f": {Sign: "F", Line: 4}, "c": {Sign: "C", Line: 3}, "g2": {Sign: "G", Line: 2}, "f4": {Sign: "F", Line: 4}, "c3": {Sign: "C", Line: 3}, "c4": {Sign: "C", Line: 4},
	}
	if k, ok := clefs[lower]; ok {
		c.clef = k
	}
	c.clef.Octave = octave
	c.shift += octave
	c.stated = true
}

func upper(b byte) byte {
	if b >= 'a' && b <= 'z' {
		return b - 'a' + 'A'
	}
	return b
}

// abcAccidental reads the accidental before a note and gives the rest.
func abcAccidental(s string) (alter int, rest string, stated bool) {
	switch {
	case strings.HasPrefix(s, "^^"):
		return 2, s[2:], true
	case strings.HasPrefix(s, "__"):
		return -2, s[2:], true
	case strings.HasPrefix(s, "^"):
		return 1, s[1:], true
	case strings.HasPrefix(s, "_"):
		return -1, s[1:], true
	case strings.HasPrefix(s, "="):
		return 0, s[1:], true
	}
	return 0, s, false
}
