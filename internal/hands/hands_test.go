package hands

import (
	"strconv"
	"strings"
	"testing"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
	"antiphon/internal/playable"
)

// line makes a score in 4/4 of moments of one quarter each; the notes of a moment are joined by "+".
func line(t *testing.T, text string) *music.Score {
	t.Helper()
	s := &music.Score{Parts: []music.Part{{ID: "P1", Staves: 1}}}
	for k, moment := range strings.Fields(text) {
		bar := k / 4
		for len(s.Bars) <= bar {
			s.Bars = append(s.Bars, music.Bar{Number: strconv.Itoa(len(s.Bars) + 1), Start: music.Quarters(int64(4*len(s.Bars)), 1), Length: music.Quarters(4, 1)})
		}
		for i, name := range strings.Split(moment, "+") {
			s.Parts[0].Notes = append(s.Parts[0].Notes, music.Note{Bar: bar, Start: music.Quarters(int64(k), 1), Duration: music.Quarters(1, 1),
				Voice: "1", Staff: 1, Chord: i > 0, Pitch: music.SpellMidi(midi(t, name), 0)})
		}
	}
	return s
}

// midi of a name in scientific pitch notation.
func midi(t *testing.T, name string) int {
	t.Helper()
	step := map[byte]int{'C': 0, 'D': 2, 'E': 4, 'F': 5, 'G': 7, 'A': 9, 'B': 11}[name[0]]
	rest := name[1:]
	if rest[0] == '#' {
		step, rest = step+1, rest[1:]
	}
	octave, err := strconv.Atoi(rest)
	if err != nil {
		t.Fatalf("%s is no pitch", name)
	}
	return 12*(octave+1) + step
}

// shape is string/fret/finger of every note.
func shape(f *Fingering) string {
	var out []string
	for _, n := range f.Notes {
		out = append(out, strconv.Itoa(n.Place.String)+"/"+strconv.Itoa(n.Place.Fret)+"/"+strconv.Itoa(n.Finger))
	}
	return strings.Join(out, " ")
}

func finger(t *testing.T, s *music.Score, o Options) *Fingering {
	t.Helper()
	f, err := Finger(s, o)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

const cMajor = "C3 D3 E3 F3 G3 A3 B3 C4"

// TestScales: in first position the finger is the fret, a rule of every method book. Common practice, no
// single source; played freely the last G may also be taken by the fourth finger.
func TestScales(t *testing.T) {
	const cWant = "5/3/3 4/0/0 4/2/2 4/3/3 3/0/0 3/2/2 2/0/0 2/1/1"
	if got := shape(finger(t, line(t, cMajor), Options{})); got != cWant {
		t.Errorf("C major without a limit: got %s, want %s", got, cWant)
	}
	for _, c := range []struct{ name, notes, want string }{
		{"C major", cMajor, cWant},
		{"G major, two octaves", "G2 A2 B2 C3 D3 E3 F#3 G3 A3 B3 C4 D4 E4 F#4 G4",
			"6/3/3 5/0/0 5/2/2 5/3/3 4/0/0 4/2/2 4/4/4 3/0/0 3/2/2 2/0/0 2/1/1 2/3/3 1/0/0 1/2/2 1/3/3"},
	} {
		if got := shape(finger(t, line(t, c.notes), Options{Skills: Skills{FirstPosition: true}})); got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}

// TestChords: the open chords as every method prints them. Common practice, no source.
func TestChords(t *testing.T) {
	for _, c := range []struct{ name, notes, want string }{
		{"C", "C3+E3+G3+C4+E4", "5/3/3 4/2/2 3/0/0 2/1/1 1/0/0"},
		{"A minor", "A2+E3+A3+C4+E4", "5/0/0 4/2/2 3/2/3 2/1/1 1/0/0"},
		{"E", "E2+B2+E3+G#3+B3+E4", "6/0/0 5/2/2 4/2/3 3/1/1 2/0/0 1/0/0"},
		{"F with a barre", "F2+C3+F3+A3+C4+F4", "6/1/1 5/3/3 4/3/4 3/2/2 2/1/1 1/1/1"},
	} {
		if got := shape(finger(t, line(t, c.notes), Options{})); got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}

// TestPlayable: the checker, written apart, finds nothing impossible in answers to awkward music.
func TestPlayable(t *testing.T) {
	for _, text := range []string{cMajor, "E2+B2+E3+G#3+B3+E4 F2+C3+F3+A3+C4+F4", "E5 E2+G4 C5+C3+A4 B4+F#3"} {
		s := line(t, text)
		finger(t, s, Options{}).Write(s)
		for _, x := range playable.Only(playable.Check(s, guitar.Standard(), guitar.AdultHand()), playable.Impossible) {
			t.Errorf("%s: %s", text, x.Text)
		}
	}
}
