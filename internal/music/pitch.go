package music

import "strconv"

// Pitch is a spelled pitch: C sharp and D flat are two.
type Pitch struct {
	Step   byte // 'A' to 'G'; 0 for none
	Alter  int  // semitones: 1 sharp, -1 flat
	Octave int  // 4 is the octave of middle C
}

// stepOrder is the order of the steps in an octave.
const stepOrder = "CDEFGAB"

func stepIndex(step byte) int {
	for i := range len(stepOrder) {
		if stepOrder[i] == step {
			return i
		}
	}
	return -1
}

func stepSemitones(i int) int { return [7]int{0, 2, 4, 5, 7, 9, 11}[i] }

// Midi is the note number: C4 is 60.
func (p Pitch) Midi() int {
	i := stepIndex(p.Step)
	if i < 0 {
		return 0
	}
	return 12*(p.Octave+1) + stepSemitones(i) + p.Alter
}

// Name is the pitch in words: "F#4", "Bb3", "G##2".
func (p Pitch) Name() string {
	if stepIndex(p.Step) < 0 {
		return ""
	}
	s := string(p.Step)
	for a := p.Alter; a > 0; a-- {
		s += "#"
	}
	for a := p.Alter; a < 0; a++ {
		s += "b"
	}
	return s + strconv.Itoa(p.Octave)
}

// Transposed moves p by so many steps and semitones, as a transposing instrument does: a written C
// of a clarinet in B flat (-1, -2) sounds B flat.
func (p Pitch) Transposed(diatonic, chromatic int) Pitch {
	i := stepIndex(p.Step)
	if i < 0 || (diatonic == 0 && chromatic == 0) {
		return p
	}
	midi := p.Midi() + chromatic
	n := 7*p.Octave + i + diatonic
	oct, step := floorDiv(n, 7), n-7*floorDiv(n, 7)
	q := Pitch{Step: stepOrder[step], Octave: oct}
	q.Alter = midi - q.Midi()
	if q.Alter > 2 || q.Alter < -2 { // steps and semitones that contradict each other: spell anew
		return SpellMidi(midi, 0)
	}
	return q
}

// SpellMidi spells a note number in a key of so many fifths: sharps where the key has sharps, flats
// where it has flats, and of the notes outside the key the commoner name (F sharp in C, E flat in G minor).
func SpellMidi(midi, fifths int) Pitch {
	// On the line of fifths … Eb(-3) Bb F C(0) G D A E B F#(6) C# G#(8) … take the name of this
	// pitch class that lies nearest the key's own seven (fifths-1 … fifths+5), with two more towards
	// the sharp side, since the raised seventh and fourth are commoner than lowered notes.
	pc := ((midi % 12) + 12) % 12
	base := (pc * 7) % 12 // fifths above C of this pitch class, 0 … 11
	for base > fifths+8 {
		base -= 12
	}
	for base < fifths-3 {
		base += 12
	}
	step := "FCGDAEB"[((base+1)%7+7)%7]
	alter := floorDiv(base+1, 7)
	p := Pitch{Step: step, Alter: alter}
	p.Octave = floorDiv(midi-(Pitch{Step: step, Alter: alter, Octave: -1}).Midi(), 12) - 1
	return p
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}
