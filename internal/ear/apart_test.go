package ear

import "testing"

// A tremolo of three notes, the middle one of which has no stroke of its own and is heard where the third is.
func TestAStringBeginsOnceAtATime(t *testing.T) {
	note := func(n, midi, scene int, expectedS, onsetS float64, likely float32) claim {
		return claim{note: n, midi: midi, pass: 1, scene: scene, expectedS: expectedS, onsetS: onsetS, likely: likely}
	}
	for _, c := range []struct {
		name   string
		claims []claim
		want   []float64
	}{
		{"the one without a stroke gives way", []claim{note(0, 60, 1, 1.00, 1.01, 0.9), note(1, 60, softScene, 1.11, 1.21, 0.1), note(2, 60, 2, 1.22, 1.215, 0.8)}, []float64{1.01, 1.11, 1.215}},
		{"and if it is the later one", []claim{note(0, 60, 1, 1.00, 1.01, 0.2), note(1, 60, softScene, 1.11, 1.02, 0.9)}, []float64{1.01, 1.11}},
		{"of two with strokes the less likely", []claim{note(0, 60, 1, 1.00, 1.10, 0.2), note(1, 60, 2, 1.11, 1.105, 0.9)}, []float64{1.00, 1.105}},
		{"another pitch may begin there", []claim{note(0, 60, softScene, 1.00, 1.10, 0.2), note(1, 62, 2, 1.11, 1.105, 0.9)}, []float64{1.10, 1.105}},
		{"what is apart stays", []claim{note(0, 60, softScene, 1.00, 1.03, 0.2), note(1, 60, 2, 1.11, 1.105, 0.9)}, []float64{1.03, 1.105}},
		{"no nearer than it was", []claim{note(0, 60, softScene, 1.00, 0.90, 0.2), note(1, 60, 2, 1.11, 0.93, 0.9)}, []float64{0.90, 0.93}},
		{"two guitars may play one pitch at once", []claim{note(0, 60, 1, 1.00, 1.01, 0.9), note(1, 60, 1, 1.00, 1.01, 0.9)}, []float64{1.01, 1.01}},
	} {
		j := &judge{claims: c.claims}
		j.keepApart()
		for i, want := range c.want {
			if got := j.claims[i].onsetS; got != want {
				t.Errorf("%s: note %d begins at %v, want %v", c.name, i, got, want)
			}
		}
	}
}
