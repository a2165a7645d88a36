package week

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// The search is branch and bound. Its bound looks at the week's minutes as one heap and is exact for that
// (a table over what is left of it), so most searches go straight to the best plan: what remains is to lay
// the sittings out over the days. Where that fails, the next best choice is tried.

// choice is an item that may be chosen.
type choice struct {
	item    int
	minutes int
	most    int           // sittings
	value   [Days + 1]int // with promises and pins
	days    uint8         // on which it may lie
	newOne  int           // 1 where it is new
	joy     int           // 1 where it is joyful
	serves  bool          // the piece before it in its group
	last    bool          // of its group
	strain  bool
	must    bool
	late    int   // of a promise; 0 of what is none
	by      int   // first sitting on this day or before; Days-1 where it does not matter
	on      uint8 // exactly these days
}

type search struct {
	p       *Problem
	out     []Out
	promise []int // of each item, in mustBe
	choices []choice
	room    [Days]int       // of each day, no more than can be filled
	week    int             // minutes of the week
	strain  int             // minutes of strain a day
	strains int             // of strain in the week, no more than can be filled
	price   int             // of a minute of strain in the bound, so that it does not hope for more than there may be
	worth   [][Days + 1]int // of each choice in the bound: its value without that price
	open    int             // days with room
	joyFrom int             // choices from here on may be joyful
	joyMost int             // days that can be joyful
	best    [][]int         // by choice and in the group, new left, joyful so far, minutes left

	least   []int // sittings of each choice that are settled
	unsure  bool  // a promise was left out though it may be possible
	counts  []int
	found   []int
	laid    []uint8
	joyful  int
	value   int
	bound   int
	effort  int
	cut     bool // the search was ended, or a layout given up
	layouts layout
}

func newSearch(p *Problem) *search {
	p.MostNew = min(max(p.MostNew, 0), 3)
	s := &search{p: p, out: make([]Out, len(p.Items)), promise: promises(p.Items), strain: p.StrainMin, effort: p.Effort, value: -1}
	if s.strain <= 0 {
		s.strain = UsualStrain
	}
	if s.effort <= 0 {
		s.effort = UsualEffort
	}
	s.choose()
	s.fill()
	s.layouts.prepare(s)
	s.counts, s.least = make([]int, len(s.choices)), make([]int, len(s.choices))
	s.settle()
	copy(s.counts, s.least)
	s.setPrice()
	return s
}

// choose lists what may be asked at all, each piece before what serves it, the largest first, and what is joyful
// behind.
func (s *search) choose() {
	at := map[string]int{}
	may := make([]bool, len(s.p.Items))
	days := make([]uint8, len(s.p.Items))
	for i := range s.p.Items {
		it := &s.p.Items[i]
		at[it.ID] = i
		for d, m := range s.p.Minutes {
			if m >= it.Minutes && (!it.Strain || it.Minutes <= s.strain) {
				days[i] |= 1 << d
			}
		}
		switch {
		case it.Forbid:
			s.out[i] = Forbidden
		case s.p.Hurts && it.Hands:
			s.out[i] = HandsRest
		case len(it.Missing) > 0:
			s.out[i] = NotYet
		case it.New && s.p.MostNew <= 0:
			s.out[i] = NewEnough
		case days[i] == 0 || it.Pinned && it.On&^days[i] != 0:
			s.out[i] = NoDay
		default:
			may[i] = true
		}
	}
	groups := make([][]int, 0, len(s.p.Items))
	group := map[int]int{}
	for i := range s.p.Items { // pieces, and what serves none
		if s.p.Items[i].Tied == "" && may[i] {
			group[i] = len(groups)
			groups = append(groups, []int{i})
		}
	}
	for i := range s.p.Items {
		if it := &s.p.Items[i]; it.Tied != "" && may[i] {
			piece, known := at[it.Tied]
			g, may := group[piece]
			if !known || !may || s.p.Items[piece].Tied != "" {
				s.out[i] = WithoutWork
				continue
			}
			groups[g] = append(groups[g], i)
		}
	}
	joyful := func(g []int) int {
		if slices.ContainsFunc(g, func(i int) bool { return s.p.Items[i].Joy }) {
			return 1
		}
		return 0
	}
	slices.SortStableFunc(groups, func(a, b []int) int {
		return cmp.Or(cmp.Compare(joyful(a), joyful(b)), -cmp.Compare(s.p.Items[a[0]].Minutes, s.p.Items[b[0]].Minutes))
	})
	s.joyFrom = -1
	for _, g := range groups {
		if s.joyFrom < 0 && joyful(g) == 1 {
			s.joyFrom = len(s.choices)
		}
		for k, i := range g {
			c := s.choice(i, days[i])
			c.serves, c.last = k > 0, k == len(g)-1
			s.choices = append(s.choices, c)
		}
	}
	if s.joyFrom < 0 {
		s.joyFrom = len(s.choices)
	}
}

func (s *search) choice(i int, days uint8) choice {
	it := &s.p.Items[i]
	c := choice{item: i, minutes: it.Minutes, value: it.Gain, days: days, strain: it.Strain, by: Days - 1}
	if it.New {
		c.newOne = 1
	}
	if it.Joy {
		c.joy = 1
	}
	c.most = bits.OnesCount8(days)
	if it.MostDays > 0 {
		c.most = min(c.most, it.MostDays)
	}
	if c.must = it.Must; c.must {
		c.late = min(max(it.Late, 0), mostLate)
		c.by = min(max(it.ByDay, 0), Days-1)
		if days&(1<<(c.by+1)-1) == 0 { // the promise is late: the first day that there is
			c.by = bits.TrailingZeros8(days)
		}
	}
	if it.Pinned && it.On != 0 {
		c.on, c.most, c.by = it.On, bits.OnesCount8(it.On), Days-1
	}
	for n := 1; n <= Days; n++ {
		if it.Must {
			c.value[n] += mustBe * s.promise[i]
		}
		if it.Pinned {
			c.value[n] += pinnedBe
		}
	}
	return c
}

// fill finds how many minutes of each day can be filled with sittings at all: 20 minutes hold three of 6, and
// 2 remain.
func (s *search) fill() {
	for d, m := range s.p.Minutes {
		s.room[d] = s.fillable(m, false)
		if s.room[d] > 0 {
			s.open++
		}
		s.week += s.room[d]
		s.strains += s.fillable(min(m, s.strain), true)
	}
	if s.p.MostWeek > 0 {
		s.week = min(s.week, s.p.MostWeek)
	}
	if s.joyFrom < len(s.choices) {
		var can uint8
		for _, c := range s.choices[s.joyFrom:] {
			if c.joy == 1 {
				can |= c.days
			}
		}
		s.joyMost = bits.OnesCount8(can)
	}
}

func (s *search) fillable(minutes int, strainOnly bool) int {
	can := make([]bool, minutes+1)
	can[0] = true
	for _, c := range s.choices {
		if strainOnly && !c.strain {
			continue
		}
		for t := minutes; t >= c.minutes; t-- {
			can[t] = can[t] || can[t-c.minutes]
		}
	}
	for !can[minutes] {
		minutes--
	}
	return minutes
}

// setPrice finds the price of a minute of strain that makes the bound lowest: where drills that strain are worth
// much, the bound would otherwise count on more of them than a day may have.
func (s *search) setPrice() {
	low, high := 0, 0
	for k := range s.choices {
		if c := &s.choices[k]; c.strain {
			high = max(high, s.p.Items[c.item].Gain[1]/c.minutes+1)
		}
	}
	s.tabulate(0)
	if used := s.hopedStrain(); used <= s.strains || high == 0 {
		return
	}
	best, bestPrice := s.bound, 0
	for range 6 {
		mid := (low + high) / 2
		s.tabulate(mid)
		if s.bound < best {
			best, bestPrice = s.bound, mid
		}
		if s.hopedStrain() > s.strains {
			low = mid
		} else {
			high = mid
		}
	}
	if s.price != bestPrice {
		s.tabulate(bestPrice)
	}
}

// hopedStrain is how many minutes of strain the bound counts on.
func (s *search) hopedStrain() int {
	in, fresh, joy, minutes, sum := 0, s.p.MostNew, 0, s.week, 0
	for k := range s.choices {
		top, pick := math.MinInt, 0
		for c := 0; c <= s.choices[k].most; c++ {
			if v, ok := s.step(k, in, fresh, joy, minutes, c); ok && v > top {
				top, pick = v, c
			}
		}
		if s.choices[k].strain {
			sum += pick * s.choices[k].minutes
		}
		in, fresh, joy, minutes = s.then(k, in, fresh, joy, minutes, pick)
	}
	return sum
}

// at finds a place in the table of one choice.
func (s *search) at(in, fresh, joy, minutes int) int {
	return ((in*(s.p.MostNew+1)+fresh)*(s.joyMost+1)+joy)*(s.week+1) + minutes
}

// tabulate works out what the choices from each on are worth at most, the week's minutes taken as one heap.
func (s *search) tabulate(price int) {
	n := len(s.choices)
	s.price = price
	if s.best == nil {
		s.best, s.worth = make([][]int, n+1), make([][Days + 1]int, n)
	}
	for k, c := range s.choices {
		s.worth[k] = c.value
		for count := range s.worth[k] {
			if c.strain {
				s.worth[k][count] -= price * count * c.minutes
			}
		}
	}
	size := 2 * (s.p.MostNew + 1) * (s.joyMost + 1) * (s.week + 1)
	for k := n; k >= 0; k-- {
		if s.best[k] == nil {
			s.best[k] = make([]int, size)
		}
		t := s.best[k]
		for in := range 2 {
			for fresh := range s.p.MostNew + 1 {
				for joy := range s.joyMost + 1 {
					if joy > 0 && k <= s.joyFrom {
						break
					}
					for m := range s.week + 1 {
						if k == n {
							t[s.at(in, fresh, joy, m)] = joy * joyDay
							continue
						}
						top := math.MinInt
						for c := 0; c <= s.choices[k].most && c*s.choices[k].minutes <= m; c++ {
							if v, ok := s.step(k, in, fresh, joy, m, c); ok && v > top {
								top = v
							}
						}
						t[s.at(in, fresh, joy, m)] = top
					}
				}
			}
		}
	}
	s.bound = s.best[0][s.at(0, s.p.MostNew, 0, s.week)] + price*s.strains
}

// step is the most that can be had from choice k on, with so many sittings of it.
func (s *search) step(k, in, fresh, joy, minutes, count int) (int, bool) {
	c := &s.choices[k]
	if count < s.least[k] || count > 0 && (c.serves && in == 0 || c.newOne > fresh || count*c.minutes > minutes || c.on != 0 && count != c.most) {
		return 0, false
	}
	in2, fresh2, joy2, left := s.then(k, in, fresh, joy, minutes, count)
	rest := s.best[k+1][s.at(in2, fresh2, joy2, left)]
	return s.worth[k][count] + rest, rest != math.MinInt // where what is settled has no room any more
}

func (s *search) then(k, in, fresh, joy, minutes, count int) (int, int, int, int) {
	c := &s.choices[k]
	if !c.serves {
		in = min(count, 1)
	}
	if c.last {
		in = 0
	}
	if count > 0 {
		fresh -= c.newOne
		joy = min(joy+c.joy*count, s.joyMost)
	}
	return in, fresh, joy, minutes - count*c.minutes
}

// promised says that anything here is a promise.
func (s *search) promised() bool {
	return slices.ContainsFunc(s.choices, func(c choice) bool { return c.must })
}

func (s *search) run() {
	s.repair()
	s.branch(0, 0, s.p.MostNew, 0, s.week, s.price*s.strains)
}

// branch tries the sittings of choice k, the most promising first. hope counts what is chosen so far as the bound
// does.
func (s *search) branch(k, in, fresh, joy, minutes, hope int) {
	if s.effort <= 0 {
		s.cut = true
		return
	}
	if k == len(s.choices) {
		s.leaf()
		return
	}
	var order [Days + 1]int
	var upTo [Days + 1]int
	n := 0
	for c := 0; c <= s.choices[k].most; c++ {
		v, ok := s.step(k, in, fresh, joy, minutes, c)
		if !ok || hope+v <= s.value {
			continue
		}
		j := n
		for ; j > 0 && v > upTo[j-1]; j-- {
			order[j], upTo[j] = order[j-1], upTo[j-1]
		}
		order[j], upTo[j] = c, v
		n++
	}
	for j := range n {
		if hope+upTo[j] <= s.value {
			return
		}
		c := order[j]
		s.counts[k] = c
		s.effort--
		if c == s.least[k] || s.layouts.fits(s, k+1, 0) != fitsNot {
			in2, fresh2, joy2, left := s.then(k, in, fresh, joy, minutes, c)
			s.branch(k+1, in2, fresh2, joy2, left, hope+s.worth[k][c])
		}
		s.counts[k] = s.least[k]
	}
}

// leaf lays the sittings out and keeps the plan if it is better.
func (s *search) leaf() {
	joyful, value := 0, 0
	for k, c := range s.choices {
		joyful += c.joy * s.counts[k]
		value += c.value[s.counts[k]]
	}
	for j := min(joyful, s.joyMost); j >= 0 && value+j*joyDay > s.value; j-- {
		switch s.layouts.fits(s, len(s.choices), j) {
		case fits:
			s.keep(value+j*joyDay, j)
			return
		case fitsPerhaps:
			s.cut = true
		}
	}
}

func (s *search) keep(value, joyful int) {
	s.value, s.joyful = value, joyful
	s.found = append(s.found[:0], s.counts...)
	s.laid = append(s.laid[:0], s.layouts.on...)
}

// repair follows the bound's own choice and lays out what fits of it: a first plan to beat.
func (s *search) repair() {
	in, fresh, joy, minutes := 0, s.p.MostNew, 0, s.week
	for k := range s.choices {
		top, pick := math.MinInt, s.least[k]
		for c := s.choices[k].most; c >= 0; c-- {
			s.counts[k] = c
			if v, ok := s.step(k, in, fresh, joy, minutes, c); ok && v > top && (c == s.least[k] || s.layouts.fits(s, k+1, 0) == fits) {
				top, pick = v, c
			}
		}
		s.counts[k] = pick
		in, fresh, joy, minutes = s.then(k, in, fresh, joy, minutes, pick)
	}
	s.leaf()
	s.cut = false // what was tried here is tried again
	copy(s.counts, s.least)
}

// plan tells what was found.
func (s *search) plan() Plan {
	p := Plan{Out: s.out, Proved: (!s.cut || s.bound <= s.value) && !s.unsure, value: s.value}
	if !p.Proved {
		p.Gap = s.bound - s.value
	}
	fresh, asked := 0, map[string]bool{}
	for k, c := range s.choices {
		if s.found[k] == 0 {
			continue
		}
		fresh += c.newOne
		asked[s.p.Items[c.item].ID] = true
		p.Lines = append(p.Lines, Line{c.item, s.laid[k]})
		p.Gain += s.p.Items[c.item].Gain[s.found[k]]
		for d := range Days {
			if s.laid[k]>>d&1 == 1 {
				p.Spent[d] += c.minutes
			}
		}
	}
	for k, c := range s.choices {
		it := &s.p.Items[c.item]
		if s.found[k] > 0 {
			continue
		}
		switch {
		case it.Tied != "" && !asked[it.Tied]:
			s.out[c.item] = WithoutWork
		case it.New && fresh >= s.p.MostNew:
			s.out[c.item] = NewEnough
		default:
			s.out[c.item] = NoRoom
		}
	}
	slices.SortFunc(p.Lines, func(a, b Line) int { return cmp.Compare(a.Item, b.Item) })
	return p
}
