package playable

import "math"

// How fast a hand moves along the neck. From memory: fast aimed movements of 20 to 30 cm take about
// 0.2 to 0.3 s, that is 1 m/s on the way, with peaks of 2 to 3 m/s; a finger taps at most about seven
// times a second on one spot, so lifting it and setting it down elsewhere takes 60 ms at the very least.
const (
	quickMmPerS  = 1000 // a practised hand's shift: a warning
	topMmPerS    = 2000 // nobody's
	hopS         = 0.06 // to lift a finger and set it down on another string or behind another fret
	shortestMmin = 5    // smaller moves are within the finger
)

// span is where finger 1 can stand, in mm from the nut, while other fingers stop what they stop.
type span struct{ lo, hi float64 }

func (a span) gap(b span) float64 { return max(0, b.lo-a.hi, a.lo-b.hi) }

// hand is the span of finger 1 in a slice; ok is false where nothing is stopped.
func (sh *sheet) handSpan(notes []*mark) (s span, ok bool) {
	s = span{math.Inf(-1), math.Inf(1)}
	for _, m := range notes {
		if !m.fretted() || m.odd {
			continue
		}
		ok = true
		x := sh.in.FretMm(m.place.Fret)
		reach, _ := sh.hand.Reach(1, m.finger) // 0 for finger 1 itself
		s.lo, s.hi = max(s.lo, x-reach), min(s.hi, x)
	}
	if s.lo > s.hi { // an impossible grip, said elsewhere
		mid := (s.lo + s.hi) / 2
		s = span{mid, mid}
	}
	return s, ok
}

// moves measures the way of the hand and of each finger from one place to the next against the time
// from note to note. Where the score states no tempo the speed is a guess, so it only warns.
func (sh *sheet) moves() {
	var (
		hand   span
		from   int // slice of hand
		known  bool
		finger [5]*mark // last use
	)
	for k := range sh.slices {
		sl := &sh.slices[k]
		now, ok := sh.handSpan(sl.notes)
		if !ok {
			continue
		}
		tooFast := false
		if known {
			before := &sh.slices[from]
			tooFast = sh.travel(hand.gap(now), sl.atS-before.atS, 0, sl, stopping(before.notes), "the hand")
		}
		for _, m := range sl.notes {
			if !m.fretted() || m.odd {
				continue
			}
			last := finger[m.finger]
			if last != nil && last.slice != k && last.place != m.place && !tooFast {
				way, hop := sh.in.TipsMm(last.place, m.place), hopS
				if last.place.String == m.place.String {
					hop = 0 // it may slide
				}
				if last.place.Fret == m.place.Fret {
					way, hop = 0, 0 // it may lie across
				}
				tooFast = sh.travel(way, sl.atS-sh.slices[last.slice].atS, hop, sl, last, fingerName(m.finger))
			}
			finger[m.finger] = m
		}
		hand, from, known = now, k, true
	}
}

func fingerName(f int) string { return "finger " + string(rune('0'+f)) }

func stopping(notes []*mark) *mark {
	for _, m := range notes {
		if m.fretted() {
			return m
		}
	}
	return notes[0]
}

// travel says so where mm cannot be covered in s seconds, of which hop go to lifting and setting down.
func (sh *sheet) travel(mm, s, hop float64, sl *slice, from *mark, who string) bool {
	if mm < shortestMmin {
		return false
	}
	free := s - hop
	if free > 0 && mm/free <= quickMmPerS {
		return false
	}
	level := Warning
	if sl.sure && (free <= 0 || mm/free > topMmPerS) {
		level = Impossible
	}
	speed := mm / max(s, 1e-3)
	sh.add(TooFast, level, speed, "mm/s", []*mark{stopping(sl.notes), from}, "%s would have to travel %.0f mm in %.0f ms, at %.1f m/s", who, mm, 1000*s, speed/1000)
	return true
}
