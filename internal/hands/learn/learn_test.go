package main

import (
	"testing"

	"antiphon/internal/hands/grip"
)

// TestRules: what is taught beside print can be played, and lies where it says.
func TestRules(t *testing.T) {
	for _, p := range ruled() {
		laid := p.piece(nil)
		laid.Truth = p.truth()
		l := grip.Lay(laid, &grip.Model{W: grip.Prior()}, grip.Build{Beam: 60, Learn: true})
		if ll := l.Learn(make([]float64, len(grip.Prior()))); ll >= 0 {
			t.Errorf("%d notes from %d: likelihood %.3f; a rule that cannot be played teaches nothing", len(p.notes), p.notes[0].Midi, ll)
		}
		for i, n := range p.notes {
			if f := p.finger[i]; f < 0 || f > 4 || n.Midi < 40 || n.Midi > 68 {
				t.Errorf("pitch %d with finger %d is not of the first position", n.Midi, f)
			}
		}
	}
}

// TestLearns: from a melody that is marked with the second finger throughout, the model comes to take
// such a melody, also one that it has not seen, with the second finger.
func TestLearns(t *testing.T) {
	make := func(notes ...int) *part {
		p := chord{}.empty()
		for i, m := range notes {
			p.add(float64(i), 1, m, 2)
		}
		p.lay()
		return p
	}
	marked := []*part{make(53, 54, 53, 54, 58, 57, 58), make(66, 65, 66, 70, 69), make(49, 48, 49, 51), make(61, 62, 61, 60)}
	m := train(marked, options{epochs: 10, beam: 24, rate: 0.05, decay: 0.01, fine: 1})
	unseen := make(56, 57, 56, 60, 61, 60).piece(nil)
	l := grip.Lay(unseen, m, grip.Build{Beam: 40})
	for i, st := range l.Stops(l.Best()) {
		if st.Finger != 2 && st.Finger != 0 {
			t.Errorf("note %d is taken with finger %d", i, st.Finger)
		}
	}
}

// TestNaive: the rule to beat, worked by hand. C4 lies at fret 1, A4 at fret 5: the hand moves up by
// one, so that D4 at fret 3 falls to the second finger, and back by one for the F4 at fret 1.
func TestNaive(t *testing.T) {
	p := chord{}.empty()
	for i, m := range []int{60, 69, 62, 65, 64} {
		p.add(float64(i), 1, m, 0)
	}
	want := [][2]int{{2, 1}, {1, 4}, {2, 2}, {1, 1}, {1, 0}}
	for i, got := range naive(p) {
		if got != want[i] {
			t.Errorf("note %d: string and finger %v, want %v", i, got, want[i])
		}
	}
}
