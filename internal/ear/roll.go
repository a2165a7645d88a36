package ear

import (
	"cmp"
	"math"
	"slices"
)

const (
	rollMost     = 0.5  // a string whose pitch begins at the stroke as likely as this shows the roll; others follow it
	rollStepS    = 0.02 // from string to string, at least: narrower ones lie within the window in which onsets are looked for
	rollStepMost = 0.06 // and at most
	rollOffS     = 0.03 // what lies this near to the roll stays where it was heard
	rollFewest   = 3
)

// unroll places the strings of a widely rolled chord. A finger or the thumb goes from string to string about
// evenly (common practice, no source): from the strings that are clearly heard follows where the others began, of which
// the window around the stroke sees nothing but the ringing.
func (j *judge) unroll() {
	for from := 0; from < len(j.claims); {
		to := from + 1
		for to < len(j.claims) && j.claims[to].scene == j.claims[from].scene && j.claims[to].pass == j.claims[from].pass {
			to++
		}
		if chord := j.claims[from:to]; len(chord) >= rollFewest && chord[0].scene >= 0 {
			unrollChord(chord)
		}
		from = to
	}
}

func unrollChord(chord []claim) {
	strings := make([]*claim, len(chord))
	for i := range chord {
		strings[i] = &chord[i]
	}
	slices.SortStableFunc(strings, func(a, b *claim) int { return cmp.Compare(a.midi, b.midi) })
	shows := func(c *claim) bool { return c.likely >= rollMost && c.logit > 0 }
	var n, at, s float64
	for i, c := range strings {
		if shows(c) {
			n, at, s = n+1, at+float64(i), s+c.onsetS
		}
	}
	if n < 2 {
		return
	}
	at, s = at/n, s/n
	var along, across float64
	for i, c := range strings {
		if d := float64(i) - at; shows(c) {
			along, across = along+d*d, across+d*(c.onsetS-s)
		}
	}
	step := across / along
	if math.Abs(step) < rollStepS || math.Abs(step) > rollStepMost {
		return
	}
	placeOf := func(i int) float64 { return s + step*(float64(i)-at) }
	for i, c := range strings {
		if shows(c) && math.Abs(c.onsetS-placeOf(i)) > rollOffS {
			return // no even roll
		}
	}
	for i, c := range strings {
		if c.likely < rollMost && math.Abs(c.onsetS-placeOf(i)) > rollOffS {
			c.onsetS = placeOf(i)
		}
	}
}
