package week

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// layout lays sittings out over the days: each item on as many days as it has sittings, evenly spread where
// that is possible. It first spreads them as it likes and then mends days that are too full; where that does not
// come out, it tries all ways.
type layout struct {
	masks  [Days + 1][]uint8 // all sets of days of a size, the most evenly spread first
	order  []int             // choices with sittings, the hardest to place first
	on     []uint8           // for each choice the days it got
	left   [Days]int
	hard   [Days]int // minutes of strain left
	joyful [Days]int // joyful sittings
	tries  int
	rest   []int // for each place in the order, minutes of one sitting of it and of all after it
	dead   map[deadEnd]struct{}
	firm   bool // promises lie first, the latest on the earliest day, and are put off for nothing
}

// deadEnd is where a layout cannot be finished: how far it has come and what the days have left, in no order where
// the rest does not care.
type deadEnd struct {
	i    int
	days [Days]uint32
}

// verdict on a layout.
type verdict int

const (
	fitsNot     verdict = iota // proved
	fits                       // on holds it
	fitsPerhaps                // given up
)

// How many placings one layout may try before it is given up: of all that is chosen, and of the first of it.
const (
	wholeTries = 20_000
	partTries  = 600
)

func (l *layout) prepare(s *search) {
	var open uint8
	for d, r := range s.room {
		if r > 0 {
			open |= 1 << d
		}
	}
	for m := 1; m < 1<<Days; m++ {
		if uint8(m)&^open == 0 {
			n := bits.OnesCount8(uint8(m))
			l.masks[n] = append(l.masks[n], uint8(m))
		}
	}
	for n := range l.masks {
		slices.SortStableFunc(l.masks[n], func(a, b uint8) int { return cmp.Or(cmp.Compare(uneven(a), uneven(b)), cmp.Compare(a, b)) })
	}
	l.on = make([]uint8, len(s.choices))
}

// uneven sums the squares of the gaps from each day to the next, round the week.
func uneven(mask uint8) int {
	first, last, sum := -1, -1, 0
	for d := range Days {
		if mask>>d&1 == 0 {
			continue
		}
		if first < 0 {
			first = d
		} else {
			sum += (d - last) * (d - last)
		}
		last = d
	}
	gap := first + Days - last
	return sum + gap*gap
}

// fits lays out the sittings of the first choices, and what is settled of the others, so that at least so many days are
// joyful.
func (l *layout) fits(s *search, choices, joyful int) verdict {
	l.order = l.order[:0]
	strain := 0
	for k := range s.counts {
		if s.counts[k] > 0 && (k < choices || s.least[k] > 0) {
			l.order = append(l.order, k)
			if s.choices[k].strain {
				strain += s.counts[k] * s.choices[k].minutes
			}
		}
	}
	if strain > s.strains {
		return fitsNot
	}
	clear(l.on)
	l.reset(s)
	slices.SortStableFunc(l.order, func(a, b int) int {
		x, y := &s.choices[a], &s.choices[b]
		return cmp.Or(-cmp.Compare(x.rank(), y.rank()), -cmp.Compare(x.late, y.late), -cmp.Compare(x.minutes*s.counts[a], y.minutes*s.counts[b]), cmp.Compare(a, b))
	})
	whole := choices == len(s.choices)
	for _, l.firm = range []bool{true, false} {
		if l.firm && (!whole || !s.promised()) {
			continue
		}
		if l.spread(s) && l.mend(s, joyful) {
			if whole {
				l.hurry(s)
			}
			return fits
		}
		clear(l.on)
		l.reset(s)
	}
	l.tries = partTries
	if whole {
		l.tries = wholeTries
	}
	l.dead = nil
	l.rest = append(l.rest[:0], make([]int, len(l.order)+1)...)
	for i := len(l.order) - 1; i >= 0; i-- {
		l.rest[i] = l.rest[i+1] + s.choices[l.order[i]].minutes
	}
	before := l.tries
	ok := l.place(s, 0, joyful, 0)
	s.effort -= (before - l.tries) / 2
	switch {
	case ok:
		return fits
	case l.tries <= 0:
		return fitsPerhaps
	}
	return fitsNot
}

func (l *layout) reset(s *search) {
	l.left, l.joyful = s.room, [Days]int{}
	for d := range l.hard {
		l.hard[d] = s.strain
	}
}

// rank is how early a choice is laid out: days that are fixed, days that have an end, strain.
func (c *choice) rank() int {
	switch {
	case c.on != 0:
		return 3
	case c.by < Days-1, c.must:
		return 2
	case c.strain:
		return 1
	}
	return 0
}

// may says that a choice may lie on a set of days, by its own rules.
func (c *choice) may(mask uint8) bool {
	return mask&^c.days == 0 && (c.on == 0 || mask == c.on) && (c.by == Days-1 || mask&(1<<(c.by+1)-1) != 0)
}

// spread puts every item where it likes best, if need be on days that are full.
func (l *layout) spread(s *search) bool {
	for _, k := range l.order {
		c := &s.choices[k]
		top, pick := math.MaxInt, uint8(0)
		for rank, mask := range l.masks[s.counts[k]] {
			if !c.may(mask) {
				continue
			}
			v := l.cost(c, mask, rank)
			if l.firm && c.must && c.on == 0 {
				if !l.holds(c, mask) {
					continue
				}
				v = 1000*bits.TrailingZeros8(mask) + rank
			}
			if v < top {
				top, pick = v, mask
			}
		}
		if pick == 0 {
			return false
		}
		l.on[k] = pick
		l.take(c, pick, -1)
	}
	return true
}

// holds says that a set of days has room for a sitting on each.
func (l *layout) holds(c *choice, mask uint8) bool {
	for d := range Days {
		if mask>>d&1 == 1 && (l.left[d] < c.minutes || c.strain && l.hard[d] < c.minutes) {
			return false
		}
	}
	return true
}

// cost of putting an item on a set of days: uneven gaps, days that are full, days without joy.
func (l *layout) cost(c *choice, mask uint8, rank int) int {
	v := 4*uneven(mask) + rank/8
	v += c.haste() * bits.TrailingZeros8(mask) // early, so that a day that is missed is no promise broken
	for d := range Days {
		if mask>>d&1 == 0 {
			continue
		}
		v -= 3 * l.left[d]
		if over := c.minutes - l.left[d]; over > 0 {
			v += 60 * over
		}
		if over := c.minutes - l.hard[d]; c.strain && over > 0 {
			v += 200 * over
		}
		if c.joy == 1 && l.joyful[d] == 0 {
			v -= 1000
		}
	}
	return v
}

// mend moves sittings from days that are too full, or changes two for each other, as long as that helps.
func (l *layout) mend(s *search, joyful int) bool {
	for range 60 {
		over := -1
		for d := range Days {
			if l.left[d] < 0 && (over < 0 || l.left[d] < l.left[over]) {
				over = d
			}
			if l.hard[d] < 0 {
				return false
			}
		}
		if over < 0 {
			days := 0
			for _, n := range l.joyful {
				days += min(n, 1)
			}
			return days >= joyful
		}
		if !l.relieve(s, over) {
			return false
		}
	}
	return false
}

// relieve makes the move that takes most minutes from a day without making another too full, and of those the one
// that puts off least what is late.
func (l *layout) relieve(s *search, over int) bool {
	best := math.MinInt
	var a, b, to int
	consider := func(gain, delay, x, y, d int) {
		if score := gain*100_000 - delay; gain > 0 && score > best {
			best, a, b, to = score, x, y, d
		}
	}
	for _, x := range l.order {
		if l.on[x]>>over&1 == 0 {
			continue
		}
		for d := range Days {
			if d == over || !l.movable(s, x, over, d) {
				continue
			}
			cx := s.choices[x].minutes
			delay := s.choices[x].delay(over, d)
			if cx <= l.left[d] {
				consider(min(cx, -l.left[over]), delay, x, -1, d)
			}
			for _, y := range l.order {
				if y == x || l.on[y]>>d&1 == 0 || !l.movable(s, y, d, over) {
					continue
				}
				if less := cx - s.choices[y].minutes; less <= l.left[d] {
					consider(min(less, -l.left[over]), delay+s.choices[y].delay(d, over), x, y, d)
				}
			}
		}
	}
	if best == math.MinInt {
		return false
	}
	l.move(s, a, over, to)
	if b >= 0 {
		l.move(s, b, to, over)
	}
	return true
}

// hurry brings promises forward where a day has room, or where something that can wait takes their place.
func (l *layout) hurry(s *search) {
	for _, k := range l.order {
		c := &s.choices[k]
		if !c.must || c.on != 0 {
			continue
		}
		first := bits.TrailingZeros8(l.on[k])
		for e := range first {
			if l.bring(s, k, first, e) {
				break
			}
		}
	}
}

// bring moves a sitting to an earlier day.
func (l *layout) bring(s *search, k, from, to int) bool {
	c := &s.choices[k]
	if !l.movable(s, k, from, to) {
		return false
	}
	if l.left[to] >= c.minutes {
		l.move(s, k, from, to)
		return true
	}
	for _, y := range l.order {
		o := &s.choices[y]
		if y == k || l.on[y]>>to&1 == 0 || c.delay(from, to)+o.delay(to, from) >= 0 || !l.movable(s, y, to, from) {
			continue
		}
		if change := c.minutes - o.minutes; l.left[to] >= change && l.left[from] >= -change {
			l.move(s, k, from, to)
			l.move(s, y, to, from)
			return true
		}
	}
	return false
}

// haste is what a day of waiting weighs for a promise.
func (c *choice) haste() int {
	if !c.must {
		return 0
	}
	return 40 + 8*c.late
}

// delay weighs a move from one day to another.
func (c *choice) delay(from, to int) int { return c.haste() * (to - from) }

// movable says that a sitting may go to another day and no joy goes with it.
func (l *layout) movable(s *search, k, from, to int) bool {
	c := &s.choices[k]
	if l.firm && c.must && to > from || l.on[k]>>to&1 == 1 || c.joy == 1 && l.joyful[from] == 1 && l.joyful[to] > 0 || c.strain && l.hard[to] < c.minutes {
		return false
	}
	return c.may(l.on[k]&^(1<<from) | 1<<to)
}

func (l *layout) move(s *search, k, from, to int) {
	c := &s.choices[k]
	l.take(c, 1<<from, 1)
	l.take(c, 1<<to, -1)
	l.on[k] = l.on[k]&^(1<<from) | 1<<to
}

// hope is lost where an item that is still to be placed finds too few days with room, or none in time for its promise.
func (l *layout) hope(s *search, i int) bool {
	for _, k := range l.order[i:] {
		c := &s.choices[k]
		n, inTime := 0, false
		for d := range Days {
			if c.days>>d&1 == 1 && l.left[d] >= c.minutes && (!c.strain || l.hard[d] >= c.minutes) {
				n++
				inTime = inTime || d <= c.by
			}
		}
		if n < s.counts[k] || !inTime && c.on == 0 {
			return false
		}
	}
	return true
}

// place tries all ways for the i-th of the order and those after it.
func (l *layout) place(s *search, i, joyful int, joyOn uint8) bool {
	if i == len(l.order) {
		return bits.OnesCount8(joyOn) >= joyful
	}
	if !l.hope(s, i) {
		l.tries--
		return false
	}
	here := l.end(s, i, joyful, joyOn)
	if _, known := l.dead[here]; known {
		return false
	}
	k := l.order[i]
	c := &s.choices[k]
	n := s.counts[k]
	var fit [35]uint8
	var cost [35]int
	m := 0
	for rank, mask := range l.masks[n] {
		if !c.may(mask) {
			continue
		}
		if !l.holds(c, mask) {
			continue
		}
		v := l.cost(c, mask, rank)
		j := m
		for ; j > 0 && v < cost[j-1]; j-- {
			fit[j], cost[j] = fit[j-1], cost[j-1]
		}
		fit[j], cost[j] = mask, v
		m++
	}
	for j := range m {
		l.tries--
		if l.tries <= 0 {
			return false
		}
		l.take(c, fit[j], -1)
		on := joyOn
		if c.joy == 1 {
			on |= fit[j]
		}
		ok := l.place(s, i+1, joyful, on)
		l.take(c, fit[j], 1)
		if ok {
			l.on[k] = fit[j]
			return true
		}
	}
	if l.tries > 0 {
		if l.dead == nil {
			l.dead = map[deadEnd]struct{}{}
		}
		l.dead[here] = struct{}{}
	}
	return false
}

// end describes the days as the rest of the order sees them.
func (l *layout) end(s *search, i, joyful int, joyOn uint8) deadEnd {
	e := deadEnd{i: i}
	strained := slices.ContainsFunc(l.order[i:], func(k int) bool { return s.choices[k].strain })
	for d := range Days {
		e.days[d] = uint32(min(l.left[d], l.rest[i])) << 16
		if strained {
			e.days[d] |= uint32(l.hard[d]) << 1
		}
		if joyOn>>d&1 == 1 && bits.OnesCount8(joyOn) < joyful {
			e.days[d] |= 1
		}
	}
	if s.choices[l.order[i]].rank() < 2 {
		slices.Sort(e.days[:])
	}
	return e
}

func (l *layout) take(c *choice, mask uint8, sign int) {
	for d := range Days {
		if mask>>d&1 == 1 {
			l.left[d] += sign * c.minutes
			l.joyful[d] -= sign * c.joy
			if c.strain {
				l.hard[d] += sign * c.minutes
			}
		}
	}
}
