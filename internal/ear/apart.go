package ear

import (
	"cmp"
	"slices"
)

const (
	onceShare = 0.5  // two notes of one pitch that seem to begin within this share of their distance began at one place
	distinctS = 0.05 // of notes that the score puts nearer to each other nothing is asked
)

// keepApart sees to it that a string begins once at a time: of two written notes of one pitch that are heard in
// one place, as in a tremolo of which a stroke is lost in the ringing, the one with less of a stroke of its own is put
// where the notes around it place it.
func (j *judge) keepApart() {
	order := make([]int, len(j.claims))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(j.claims[a].expectedS, j.claims[b].expectedS) })
	type voice struct{ pass, midi int }
	last := map[voice]*claim{}
	for _, i := range order {
		b := &j.claims[i]
		at := voice{b.pass, b.midi}
		a := last[at]
		last[at] = b
		if a == nil || a.scene == b.scene {
			continue
		}
		gapS := b.expectedS - a.expectedS
		if gapS < distinctS || b.onsetS-a.onsetS >= onceShare*gapS {
			continue
		}
		goes := b
		if softA, softB := a.scene <= softScene, b.scene <= softScene; softA && !softB || softA == softB && a.likely < b.likely {
			goes = a
		}
		// Nothing is gained where the other one stands in between.
		if goes == a && a.expectedS < min(a.onsetS, b.onsetS) || goes == b && b.expectedS > max(a.onsetS, b.onsetS) {
			goes.onsetS = goes.expectedS
		}
	}
}
