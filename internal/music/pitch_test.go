package music_test

import (
	"math"
	"testing"

	"antiphon/internal/music"
)

func TestPitch(t *testing.T) {
	for _, c := range []struct {
		p      music.Pitch
		midi   int
		name   string
		source string
	}{
		{music.Pitch{Step: 'C', Octave: 4}, 60, "C4", "MIDI 1.0: middle C is 60"},
		{music.Pitch{Step: 'A', Octave: 4}, 69, "A4", "ISO 16's A is MIDI 69"},
		{music.Pitch{Step: 'E', Octave: 2}, 40, "E2", "sixth string of a guitar"},
		{music.Pitch{Step: 'B', Alter: 1, Octave: 3}, 60, "B#3", "octaves change at C, whatever the accidental"},
		{music.Pitch{Step: 'C', Alter: -1, Octave: 4}, 59, "Cb4", "the same"},
		{music.Pitch{Step: 'F', Alter: 2, Octave: 4}, 67, "F##4", "double sharp"},
	} {
		if c.p.Midi() != c.midi || c.p.Name() != c.name {
			t.Errorf("%v is %d %s, want %d %s (%s)", c.p, c.p.Midi(), c.p.Name(), c.midi, c.name, c.source)
		}
	}
}

func TestTransposed(t *testing.T) {
	for _, c := range []struct {
		from                music.Pitch
		diatonic, chromatic int
		want                string
	}{
		{music.Pitch{Step: 'C', Octave: 5}, -1, -2, "Bb4"}, // clarinet in B flat
		{music.Pitch{Step: 'C', Octave: 5}, -2, -3, "A4"},  // clarinet in A
		{music.Pitch{Step: 'E', Octave: 4}, -7, -12, "E3"}, // an octave down
		{music.Pitch{Step: 'B', Octave: 3}, 2, 4, "D#4"},   // over the octave
		{music.Pitch{Step: 'C', Octave: 4}, 0, 5, "F4"},    // steps that contradict the semitones
		{music.Pitch{Step: 'C', Octave: 4}, -9, -15, "A2"}, // more than an octave
		{music.Pitch{Step: 'F', Alter: 1, Octave: 4}, 4, 7, "C#5"},
	} {
		if got := c.from.Transposed(c.diatonic, c.chromatic).Name(); got != c.want {
			t.Errorf("%s by %d steps and %d semitones is %s, want %s", c.from.Name(), c.diatonic, c.chromatic, got, c.want)
		}
	}
}

func TestSpelling(t *testing.T) {
	for _, c := range []struct {
		midi, fifths int
		want         string
	}{
		{61, 0, "C#4"}, {63, 0, "Eb4"}, {66, 0, "F#4"}, {70, 0, "Bb4"}, {68, 0, "G#4"},
		{61, -4, "Db4"}, {66, -6, "Gb4"}, {71, -6, "Cb5"}, {65, 6, "E#4"}, {60, 7, "B#3"}, {63, 4, "D#4"}, {70, 3, "A#4"}, {40, 1, "E2"}, {0, 0, "C-1"}, {127, 0, "G9"},
	} {
		p := music.SpellMidi(c.midi, c.fifths)
		if p.Name() != c.want || p.Midi() != c.midi {
			t.Errorf("%d in a key of %d fifths is %s (%d), want %s", c.midi, c.fifths, p.Name(), p.Midi(), c.want)
		}
	}
	for midi := range 128 {
		for fifths := -7; fifths <= 7; fifths++ {
			if got := music.SpellMidi(midi, fifths).Midi(); got != midi {
				t.Errorf("%d in %d fifths is spelled as %d", midi, fifths, got)
			}
		}
	}
}

func TestBeats(t *testing.T) {
	third := music.Quarters(1, 3)
	if sum := third.Add(third).Add(third); sum != music.Quarters(1, 1) || sum.String() != "1" {
		t.Errorf("three thirds are %v", sum)
	}
	if d := music.Quarters(3, 2).Sub(music.Quarters(3, 2)); !d.IsZero() || d != (music.Beats{}) {
		t.Errorf("%v is not zero", d)
	}
	if c := music.Quarters(2, 3).Cmp(music.Quarters(3, 4)); c != -1 {
		t.Errorf("2/3 against 3/4: %d", c)
	}
	if m := music.Quarters(3, 4).Mul(2, 3); m != music.Quarters(1, 2) {
		t.Errorf("3/4 times 2/3 is %v", m)
	}
	// ISO 16 gives A4 = 440 Hz; E2 is 29 equal semitones below: 440·2^(-29/12) = 82.4069.
	if f := music.Hz(40, 440); math.Abs(f-82.4069) > 5e-5 {
		t.Errorf("sixth string %v Hz", f)
	}
}
