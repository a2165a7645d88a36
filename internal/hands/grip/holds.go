package grip

import (
	"cmp"
	"slices"
)

// hold is one way to take the notes of a slice.
type hold struct {
	stops  []Stop // one for each note of the slice; String 0 where it is dropped
	pos    int8   // fret of the first finger, as the lowest finger used says; 0 where nothing is stopped
	low    int8   // lowest finger used, 0 none
	feats  []int32
	score  float64
	hint   float64 // from the same notes elsewhere
	favour float64 // from all good ways together
	agrees bool    // with what is printed, while learning
}

// mostHolds are kept for one slice: those that the model likes best by themselves.
const mostHolds = 48

// listGrips fills in the grips of a slice. Where no grip keeps to every wish and limit, wishes are
// given up one kind at a time; where no hand can take all notes, the fewest are dropped.
func (p *Piece) listGrips(s *slice) {
	lists := [][]relaxed{
		{0},
		{gaveUpStretch}, {gaveUpFourth}, {gaveUpBarre}, {gaveUpFirst},
		{gaveUpStretch | gaveUpFourth}, {gaveUpStretch | gaveUpBarre}, {gaveUpFirst | gaveUpStretch}, {gaveUpFourth | gaveUpBarre}, {gaveUpFirst | gaveUpFourth}, {gaveUpFirst | gaveUpBarre},
		{gaveUpStretch | gaveUpFourth | gaveUpBarre | gaveUpFirst},
		{gaveUpAsk},
		{gaveUpAsk | gaveUpStretch | gaveUpFourth | gaveUpBarre | gaveUpFirst},
	}
	none := make([]bool, s.to-s.from)
	for _, l := range lists {
		if l[0]&^p.inForce(s) != 0 {
			continue
		}
		if p.enumerate(s, none, l[0]); len(s.grips) > 0 {
			s.relaxed = l[0]
			return
		}
	}
	everything := gaveUpAsk | gaveUpStretch | gaveUpFourth | gaveUpBarre | gaveUpFirst
	n := s.to - s.from
	// Notes that lie nowhere on the neck go first, then inner ones, by number of notes dropped.
	gone := make([]bool, n)
	for k := range n {
		gone[k] = len(p.stopsOf(s.from+k, everything)) == 0
	}
	kept := n
	for _, g := range gone {
		if g {
			kept--
		}
	}
	for k := n / 2; kept > p.neck.strings+2; k = (k + 1) % n { // no use in trying every way to leave out so many
		if !gone[k] && (k > 0 && k < n-1 || kept > n-2) {
			gone[k] = true
			kept--
		}
	}
	for drop := max(0, kept-p.neck.strings); drop <= kept; drop++ {
		if p.dropSome(s, gone, drop, 0, everything) {
			return
		}
	}
}

// inForce are the limits and wishes that there are at all.
func (p *Piece) inForce(s *slice) relaxed {
	var r relaxed
	if p.limits.NoFourth {
		r |= gaveUpFourth
	}
	if p.limits.NoBarre {
		r |= gaveUpBarre
	}
	if p.limits.FirstPosition {
		r |= gaveUpFirst
	}
	if p.limits.NoStretch {
		r |= gaveUpStretch
	}
	for k := s.from; k < s.to; k++ {
		if p.Notes[k].Ask != Free() || len(p.Notes[k].Forbid) > 0 {
			r |= gaveUpAsk
		}
	}
	return r
}

// dropSome tries every way to leave out so many more notes, inner ones before outer ones.
func (p *Piece) dropSome(s *slice, gone []bool, more, from int, r relaxed) bool {
	if more == 0 {
		kept := 0
		for _, g := range gone {
			if !g {
				kept++
			}
		}
		if kept > p.neck.strings {
			return false
		}
		p.enumerate(s, gone, r&p.inForce(s))
		if len(s.grips) == 0 {
			return false
		}
		s.relaxed = r & p.inForce(s)
		s.dropped = nil
		for k, g := range gone {
			if g {
				s.dropped = append(s.dropped, s.from+k)
			}
		}
		return true
	}
	n := len(gone)
	order := make([]int, 0, n)
	for k := 1; k < n-1; k++ {
		order = append(order, k)
	}
	if n > 1 {
		order = append(order, 0)
	}
	order = append(order, n-1)
	for at := from; at < len(order); at++ {
		k := order[at]
		if gone[k] {
			continue
		}
		gone[k] = true
		if p.dropSome(s, gone, more-1, at+1, r) {
			return true
		}
		gone[k] = false
	}
	return false
}

// stopsOf lists the stops of one note.
func (p *Piece) stopsOf(i int, r relaxed) []Stop {
	n := &p.Notes[i]
	var out []Stop
	for s := 1; s <= p.neck.strings; s++ {
		fret := n.Midi - p.neck.open[s]
		if fret < 0 || fret > p.neck.frets {
			continue
		}
		if p.limits.FirstPosition && r&gaveUpFirst == 0 && fret > 4 {
			continue
		}
		from, to := 1, 4
		if fret == 0 {
			from, to = 0, 0
		}
		for f := from; f <= to; f++ {
			st := Stop{int8(s), int8(fret), int8(f)}
			if p.limits.NoFourth && r&gaveUpFourth == 0 && f == 4 {
				continue
			}
			if p.limits.FirstPosition && r&gaveUpFirst == 0 && f > 0 && (fret-f > 1 || f-fret > 1) {
				continue
			}
			if f > 0 && fret-(f-1) < -1 {
				continue
			}
			if r&gaveUpAsk == 0 && !allowed(n, st) {
				continue
			}
			out = append(out, st)
		}
	}
	return out
}

func allowed(n *Note, st Stop) bool {
	a := n.Ask
	if a.String >= 0 && a.String != st.String || a.Finger >= 0 && a.Finger != st.Finger || a.Fret >= 0 && a.Fret != st.Fret {
		return false
	}
	for _, f := range n.Forbid {
		if (f.String == 0 || f.String == st.String) && (f.Finger < 0 || f.Finger == st.Finger) {
			return false
		}
	}
	return true
}

// mostTried bounds the grips of one slice that are looked at.
const mostTried = 20000

// enumerate lists the grips of the notes that are not gone.
func (p *Piece) enumerate(s *slice, gone []bool, r relaxed) {
	n := s.to - s.from
	options := make([][]Stop, n)
	kept := 0
	for k := range n {
		if !gone[k] {
			kept++
		}
	}
	if kept > p.neck.strings {
		return // sure to be in vain
	}
	for k := range n {
		if gone[k] {
			options[k] = []Stop{{}}
			continue
		}
		if options[k] = p.stopsOf(s.from+k, r); len(options[k]) == 0 {
			return
		}
	}
	chosen := make([]Stop, n)
	tried := 0
	var visit func(k int)
	visit = func(k int) {
		if tried > mostTried {
			return
		}
		if k == n {
			if p.holdable(chosen, r) {
				s.grips = append(s.grips, hold{stops: slices.Clone(chosen)})
			}
			return
		}
	next:
		for _, st := range options[k] {
			tried++
			if st.String > 0 {
				for _, o := range chosen[:k] {
					if o.String > 0 && p.neck.together(o, st) != fine {
						continue next
					}
				}
			}
			chosen[k] = st
			visit(k + 1)
		}
	}
	visit(0)
	for i := range s.grips {
		h := &s.grips[i]
		for _, st := range h.stops {
			if st.Finger > 0 && (h.low == 0 || st.Finger < h.low) {
				h.low, h.pos = st.Finger, st.Fret-(st.Finger-1)
			}
		}
	}
}

// holdable looks at what pairs do not show: what lies under a barre, and limits of the whole grip.
func (p *Piece) holdable(stops []Stop, r relaxed) bool {
	lo, hi, fret := int8(127), int8(0), int8(0)
	ones := 0
	for _, st := range stops {
		if st.Finger == 1 {
			lo, hi, fret = min(lo, st.String), max(hi, st.String), st.Fret
			ones++
		}
	}
	if ones > 1 {
		if p.limits.NoBarre && r&gaveUpBarre == 0 {
			return false
		}
		for _, st := range stops {
			if st.String > lo && st.String < hi && st.Finger != 1 && st.Fret <= fret {
				return false
			}
		}
	}
	if p.limits.NoStretch && r&gaveUpStretch == 0 {
		for i, a := range stops {
			for _, b := range stops[:i] {
				if !p.unstretched(a, b) {
					return false
				}
			}
		}
	}
	return true
}

// unstretched reports whether two stops lie within what is easy for the hand.
func (p *Piece) unstretched(a, b Stop) bool {
	if a.Finger == 0 || b.Finger == 0 || a.String == 0 || b.String == 0 {
		return true
	}
	return a.Finger == b.Finger || p.neck.tips(a, b) <= p.neck.easy[a.Finger][b.Finger]
}

// keepBest scores the grips of every slice by themselves and keeps the most promising, but at least
// one for every stop of every note.
func (p *Piece) keepBest(m *Model, learn bool) {
	for i := range p.slices {
		s := &p.slices[i]
		if s.listed == nil {
			s.listed = s.grips
			for k := range s.listed {
				h := &s.listed[k]
				h.feats = p.holdFeatures(nil, s, h)
			}
		}
		any := false
		for k := range s.listed {
			h := &s.listed[k]
			h.score = m.sum(h.feats) + h.hint + h.favour + p.rule(h)
			h.agrees = learn && p.agrees(s, h)
			any = any || h.agrees
		}
		if learn && !any { // what is printed cannot be: learn nothing here
			for k := range s.listed {
				s.listed[k].agrees = true
			}
		}
		s.grips = s.listed
		if len(s.grips) <= mostHolds {
			continue
		}
		s.grips = slices.Clone(s.listed)
		slices.SortStableFunc(s.grips, func(a, b hold) int { return cmp.Compare(b.score, a.score) })
		seen := map[[2]int]bool{}
		kept := s.grips[:0]
		agreeing := 0
		for k := range s.grips {
			h := s.grips[k]
			fresh := k < mostHolds
			for n, st := range h.stops {
				key := [2]int{n, int(st.String)*8 + int(st.Finger)}
				if !seen[key] {
					seen[key], fresh = true, true
				}
			}
			if h.agrees {
				agreeing++
				fresh = fresh || agreeing < mostHolds/2
			}
			if fresh {
				kept = append(kept, h)
			}
		}
		s.grips = kept
	}
}

// agrees reports whether a grip is as printed, as far as anything is.
func (p *Piece) agrees(s *slice, h *hold) bool {
	for k, st := range h.stops {
		if i := s.from + k; i < len(p.Truth) {
			a := p.Truth[i]
			if a.String >= 0 && a.String != st.String || a.Finger >= 0 && a.Finger != st.Finger {
				return false
			}
		}
	}
	return true
}

// offFret is what a finger away from its own fret costs a player who only knows the first position,
// where the finger is the fret.
const offFret = 1.5

// beyondFourth is what a fret beyond the fourth costs the same player, where it has to be, and each more.
const beyondFourth, eachMore = 2, 0.5

// rule is what a limit of the player speaks for, beyond what it forbids.
func (p *Piece) rule(h *hold) (score float64) {
	if !p.limits.FirstPosition {
		return 0
	}
	for _, st := range h.stops {
		if st.Finger > 0 && st.Finger != st.Fret {
			score -= offFret
		}
		if st.Fret > 4 {
			score -= beyondFourth + eachMore*float64(st.Fret-5)
		}
	}
	return score
}
