package difficulty

import "slices"

// Where the hand is. Our choice: fingers lie at least fingerMm apart along the neck unless one crosses
// over; a move below shiftMm is a lean, not a shift.
const (
	fingerMm = 10
	shiftMm  = 15
)

// span is where finger 1 may stand, in mm from the nut.
type span struct{ lo, hi float64 }

// left measures the left hand.
func (l *layout) left(bars []Bar) {
	var (
		down   []*note // fingers that are down
		at     span
		known  bool
		movedS float64 // when the hand was last needed at its place
	)
	for k := range l.moments {
		mo := &l.moments[k]
		b := &bars[mo.bar]
		down = l.keep(down, mo)
		next, any := span{-1e9, 1e9}, false
		for _, n := range mo.notes {
			if !n.stopped() || n.odd || len(down) > 2*l.in.Strings() {
				continue
			}
			b.Stops++
			if n.finger == 4 {
				b.FourthStops++
			}
			x := l.in.FretMm(n.place.Fret)
			_, easy := l.hand.Reach(1, n.finger)
			next.lo, next.hi = max(next.lo, x-easy), min(next.hi, x-fingerMm*float64(n.finger-1))
			any = true
			down = append(down, n)
		}
		if any {
			if next.lo > next.hi { // a stretch, or fingers close together: the middle
				mid := (next.lo + next.hi) / 2
				next = span{mid, mid}
			}
			gap := max(0, next.lo-at.hi, at.lo-next.hi)
			switch {
			case !known:
				at, known = next, true
			case gap > shiftMm:
				b.Shifts++
				b.ShiftMm = max(b.ShiftMm, gap)
				b.ShiftMmPerS = max(b.ShiftMmPerS, gap/max(mo.atS-movedS, 0.03))
				at = next
			default: // the hand stays where all of it can be done
				at = span{max(at.lo, next.lo), min(at.hi, next.hi)}
				if at.lo > at.hi {
					at = next
				}
			}
			movedS = mo.atS
		}
		l.grip(b, mo, down)
	}
	for i := range bars {
		b := &bars[i]
		if l.barS[i] > 0 {
			b.ShiftsPerMin = 60 * float64(b.Shifts) / l.barS[i]
			b.BarreShare = min(b.BarreShare/l.barS[i], 1)
		}
		if b.Stops > 0 {
			b.FourthShare = float64(b.FourthStops) / float64(b.Stops)
		}
	}
}

// keep drops the fingers that have been let go, or must be for what starts now.
func (l *layout) keep(down []*note, mo *moment) []*note {
	return slices.DeleteFunc(down, func(h *note) bool {
		if h.endS <= mo.atS+1e-9 {
			return true
		}
		for _, n := range mo.notes {
			if !n.placed {
				continue
			}
			if n.place.String == h.place.String || n.finger == h.finger && n.place.Fret != h.place.Fret {
				return true
			}
			if n.stopped() && n.finger != h.finger {
				if most, _ := l.hand.Reach(n.finger, h.finger); l.in.TipsMm(n.place, h.place) > most {
					return true
				}
			}
		}
		return false
	})
}

// grip measures the fingers that are down at the same time.
func (l *layout) grip(b *Bar, mo *moment, down []*note) {
	used := map[int]bool{}
	barred := 0
	for i, x := range down {
		used[x.finger] = true
		for _, y := range down[i+1:] {
			if x.finger == y.finger {
				if x.place.String != y.place.String {
					barred = max(barred, abs(x.place.String-y.place.String)+1)
				}
				continue
			}
			mm := l.in.TipsMm(x.place, y.place)
			most, easy := l.hand.Reach(x.finger, y.finger)
			if b.ReachMm == 0 || strain(mm, easy, most) > b.strain() {
				b.ReachMm, b.EasyMm, b.MostMm = mm, easy, most
				b.ReachFingers = [2]int{min(x.finger, y.finger), max(x.finger, y.finger)}
			}
		}
	}
	b.FingersDown = max(b.FingersDown, len(used))
	b.BarreOver = max(b.BarreOver, barred)
	if barred > 0 {
		b.BarreShare += mo.toS - mo.atS // seconds until left divides by the bar
	}
}

func abs(n int) int { return max(n, -n) }
