package playable

import (
	"slices"
)

// Bounds of the first position. Common practice, no source: one finger a fret on frets 1 to 4, each
// finger at most one fret from its own, as in the usual open chords.
const (
	firstPositionFrets = 4
	firstPositionOff   = 1
)

// limits says which marks go beyond what was allowed.
func (sh *sheet) limits(limits []Limit) {
	for _, l := range limits {
		switch l {
		case NoFourthFinger:
			sh.each(l, func(m *mark) bool { return m.finger == 4 && m.place.Fret != 0 }, "finger 4 is used")
		case NoA:
			sh.each(l, func(m *mark) bool { return m.Pluck == "a" && !m.Slurred }, "a is used in the right hand")
		case FirstPosition:
			sh.each(l, func(m *mark) bool {
				off := abs(m.place.Fret - m.finger)
				return m.placed && !m.odd && (m.place.Fret > firstPositionFrets || m.fretted() && off > firstPositionOff)
			}, "this is not in first position")
		case NoBarre:
			sh.together(func(notes []*mark) {
				for _, b := range barres(notes) {
					sh.broken(l, b.notes, "finger "+string(rune('0'+b.finger))+" lies across strings")
				}
			})
		case NoStretch:
			sh.together(func(notes []*mark) {
				for i, a := range notes {
					for _, b := range notes[i+1:] {
						if !a.fretted() || !b.fretted() || a.finger == b.finger {
							continue
						}
						if _, easy := sh.hand.Reach(a.finger, b.finger); sh.in.TipsMm(a.place, b.place) > easy {
							sh.broken(l, []*mark{a, b}, "fingers are stretched apart")
						}
					}
				}
			})
		}
	}
}

func (sh *sheet) each(l Limit, breaks func(*mark) bool, what string) {
	for _, m := range sh.marks {
		if breaks(m) {
			sh.broken(l, []*mark{m}, what)
		}
	}
}

func (sh *sheet) broken(l Limit, notes []*mark, what string) {
	sh.add(BrokenLimit, Impossible, 0, "", notes, "%s, against “%s”", what, l)
	sh.faults[len(sh.faults)-1].Limit = l
}

// together calls f with the notes that are down at each moment: those that start, and those held
// from before that are not let go. A set that holds nothing new is passed over.
func (sh *sheet) together(f func([]*mark)) {
	var down []*mark
	for k := range sh.slices {
		sl := &sh.slices[k]
		down = slices.DeleteFunc(down, func(m *mark) bool { return !m.downAt(k, sl) })
		var now []*mark
		for _, m := range sl.notes {
			if m.fretted() {
				now = append(now, m)
			}
		}
		if len(now) == 0 {
			continue
		}
		held := now
		for _, h := range down {
			if !slices.ContainsFunc(now, func(m *mark) bool { return m.place == h.place }) {
				held = append(held, h)
			}
		}
		f(held)
		down = append(down, now...)
	}
}
