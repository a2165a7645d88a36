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

// TestLearns: from tunes whose notes at the third fret are marked with the fourth finger, the model comes
// to take them so in a tune that it has not seen, where the prior takes the third.
func TestLearns(t *testing.T) {
	tune := func(notes ...int) *part {
		p := chord{}.empty()
		p.Group = "" // as printed, not as a rule
		for i, m := range notes {
			st := firstPosition(m)
			if st.Fret == 3 {
				st.Finger = 4
			}
			p.add(float64(i), 1, m, st.Finger)
		}
		p.lay()
		return p
	}
	marked := []*part{tune(64, 65, 67, 65, 64, 62, 60), tune(60, 62, 60, 59, 60, 62), tune(67, 65, 64, 65, 67), tune(62, 60, 62, 64, 62)}
	unseen := tune(59, 60, 62, 64, 65, 67, 64, 60)
	fourths := func(m *grip.Model) (n int) {
		l := grip.Lay(unseen.piece(nil), m, grip.Build{Beam: 40})
		for _, st := range l.Stops(l.Best()) {
			if st.Finger == 4 {
				n++
			}
		}
		return n
	}
	if n := fourths(&grip.Model{W: grip.Prior()}); n != 0 {
		t.Errorf("the prior takes %d notes with the fourth finger, want 0: then there is nothing to see here", n)
	}
	if n := fourths(train(marked, options{epochs: 10, beam: 24, rate: 0.05, decay: 0.1, fine: 1})); n != 2 {
		t.Errorf("after learning, %d notes are taken with the fourth finger, want both at the third fret", n)
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
