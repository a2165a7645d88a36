package playable

import "slices"

// cutQ is how much of a written length may be lost unnoticed: files made from MIDI overlap by less.
const cutQ = 0.05

// held follows every note to its written end and says which one cannot be kept so long, and why.
// A note that is let go early still sounds for a while, so this is a warning: playable, not as written.
func (sh *sheet) held() {
	var open []*mark // started earlier, still to be held
	for k := range sh.slices {
		sl := &sh.slices[k]
		still := open[:0]
		for _, h := range open {
			if h.endS > sl.atS+1e-9 {
				still = append(still, h)
			}
		}
		open = still
		for _, n := range sl.notes {
			open = slices.DeleteFunc(open, func(h *mark) bool { return sh.cuts(h, n) })
		}
		for _, n := range sl.notes {
			if n.placed {
				open = append(open, n)
			}
		}
		open = sh.cutByBarres(open, k)
	}
}

// cuts reports whether h must be let go for n, and says so where something is lost.
func (sh *sheet) cuts(h, n *mark) bool {
	if !n.placed {
		return false
	}
	c := sh.between(h, n)
	two := []*mark{h, n}
	switch c.kind {
	case TwoOnString:
		sh.cut(h, n, CutString, two, "%s is cut when %s sounds on the same string", h.Name, n.Name)
	case FingerTwice:
		sh.cut(h, n, CutFinger, two, "%s cannot be held: finger %d leaves it for %s", h.Name, h.finger, where(n.place))
	case LongBarre:
		sh.cut(h, n, CutFinger, two, "%s cannot be held: finger %d goes to %s and cannot lie across both", h.Name, h.finger, where(n.place))
	case OutOfOrder:
		sh.cut(h, n, CutReach, two, "%s cannot be held: finger %d would cross finger %d on %s", h.Name, h.finger, n.finger, where(n.place))
	case OutOfReach:
		sh.cut(h, n, CutReach, two, "%s cannot be held: from finger %d to finger %d on %s it is %.0f mm", h.Name, h.finger, n.finger, where(n.place), c.size)
	default:
		return h.place == n.place // struck again
	}
	return true
}

func (sh *sheet) cut(h, n *mark, k Kind, notes []*mark, format string, args ...any) {
	h.cutAt = n.slice
	lost := h.Onset.Add(h.Duration).Sub(n.Onset).Q()
	if h.Grace || lost < cutQ {
		return
	}
	sh.add(k, Warning, lost, "quarters", notes, format, args...)
}

// cutByBarres lets go of what a barre lies upon, or lifts the barre where what it covers starts now.
func (sh *sheet) cutByBarres(open []*mark, k int) []*mark {
	for _, b := range barres(open) {
		for _, m := range slices.Clone(open) {
			if !m.placed || !b.stops(m.place) {
				continue
			}
			newest := b.notes[0]
			for _, n := range b.notes {
				if n.slice > newest.slice {
					newest = n
				}
			}
			if m.slice == k && newest.slice == k {
				continue // both start now: said by grips
			}
			gone := []*mark{m}
			if m.slice == k { // the open string starts now: the barre must lift, all but its tip
				gone = nil
				for _, n := range b.notes {
					if n.place.String < m.place.String {
						gone = append(gone, n)
					}
				}
			}
			for _, g := range gone {
				if !slices.Contains(open, g) {
					continue
				}
				if m.slice == k {
					sh.cut(g, m, CutBarre, []*mark{g, m}, "%s cannot be held: the barre must lift for %s", g.Name, where(m.place))
				} else {
					sh.cut(g, newest, CutBarre, []*mark{g, newest}, "%s is stopped by the barre at fret %d", g.Name, b.fret)
				}
				open = slices.DeleteFunc(open, func(x *mark) bool { return x == g })
			}
		}
	}
	return open
}
