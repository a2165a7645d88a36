package week

import (
	"cmp"
	"slices"
)

// inOrder lists the promises, the latest first; of those that are equally late the shorter ones first, so that more
// of them are kept.
func inOrder(items []Item) []int {
	var out []int
	for i := range items {
		if items[i].Must {
			out = append(out, i)
		}
	}
	slices.SortStableFunc(out, func(a, b int) int {
		return cmp.Or(-cmp.Compare(items[a].Late, items[b].Late), cmp.Compare(items[a].Minutes, items[b].Minutes))
	})
	return out
}

// promises says what each promise counts, in mustBe: one counts more than all that come after it in their order, so that
// what takes long does not wait while short things go before it again and again. 0 is no promise.
func promises(items []Item) []int {
	out := make([]int, len(items))
	order := inOrder(items)
	weight := 1
	for k := len(order) - 1; k >= 0; k-- {
		out[order[k]] = weight
		weight = min(2*weight, mostRank)
	}
	return out
}

// settle decides what goes before all that is only worth something, one thing after the other: what the teacher pinned,
// then each promise in its order. A promise is kept by its day if that is possible beside those before it, else on the
// earliest day after it, and left out only where the week cannot hold it. What is settled is no longer the search's to choose:
// days are packed so tightly by what is short of minutes that a search over everything would end before it has found even
// that. Where not all pins can be had, nothing is settled, and the search weighs them.
func (s *search) settle() {
	var firm, order []int
	by := make([]int, len(s.choices)) // each day counts when its promise is settled
	for k := range s.choices {
		by[k], s.choices[k].by = s.choices[k].by, Days-1
	}
	for k := range s.choices {
		if !s.p.Items[s.choices[k].item].Pinned {
			continue
		}
		clear(s.least)
		if s.want(k); s.possible() == fitsNot { // not even alone
			s.choices[k].most = 0
		} else {
			firm = append(firm, k)
		}
	}
	clear(s.least)
	for _, i := range inOrder(s.p.Items) {
		if k := slices.IndexFunc(s.choices, func(c choice) bool { return c.item == i }); k >= 0 {
			order = append(order, k)
		}
	}
	if len(order) == 0 {
		return
	}
	for _, k := range firm {
		s.want(k)
	}
	if s.possible() != fits {
		clear(s.least)
		return
	}
	for _, k := range order {
		s.keepPromise(k, by[k])
	}
}

// want reserves an item, and what it serves.
func (s *search) want(k int) {
	c := &s.choices[k]
	if s.least[k] = max(s.least[k], 1); c.on != 0 {
		s.least[k] = c.most
	}
	for c.serves {
		k--
		if c = &s.choices[k]; !c.serves {
			s.want(k)
			return
		}
	}
}

// keepPromise settles one promise, if possible by its day.
func (s *search) keepPromise(k, by int) {
	c, before := &s.choices[k], slices.Clone(s.least)
	s.want(k)
	if v := s.possible(); v != fits {
		copy(s.least, before)
		c.most, s.unsure = 0, s.unsure || v == fitsPerhaps
		return
	}
	for c.by = by; c.by < Days-1; c.by++ {
		if !s.roomBy(c.by) {
			continue
		}
		v := s.possible()
		if v == fits {
			return
		}
		s.unsure = s.unsure || v == fitsPerhaps
	}
}

// roomBy says whether the days up to one have the minutes for all that is settled to come by then.
func (s *search) roomBy(day int) bool {
	room := 0
	for d := range day + 1 {
		room += s.room[d]
	}
	for k, n := range s.least {
		if c := &s.choices[k]; n > 0 && c.on == 0 && c.by <= day {
			room -= c.minutes
		}
	}
	return room >= 0
}

// possible says whether all that is reserved can be laid out.
func (s *search) possible() verdict {
	copy(s.counts, s.least)
	minutes, fresh := 0, 0
	for k, n := range s.least {
		if n > 0 {
			minutes, fresh = minutes+n*s.choices[k].minutes, fresh+s.choices[k].newOne
		}
	}
	if minutes > s.week || fresh > s.p.MostNew {
		return fitsNot
	}
	return s.layouts.fits(s, len(s.choices), 0)
}
