package plan

import (
	"cmp"
	"slices"

	"antiphon/internal/plan/calendar"
)

// Stretch is bars of a work from one to another, both included, counted from 0 in the order of the score.
type Stretch struct{ From, To int }

// Bars of it.
func (s Stretch) Bars() int { return s.To - s.From + 1 }

// Has says that all of another lies in it.
func (s Stretch) Has(t Stretch) bool { return s.From <= t.From && t.To <= s.To }

// shared bars of two.
func (s Stretch) shared(t Stretch) int { return max(min(s.To, t.To)-max(s.From, t.From)+1, 0) }

// SamePlace says that two stretches are meant as one place: of all the bars that either of them has, they share at least
// two in three. So 5–8 and 5–9 are one place (four of five), and 5–8 and 6–9 are two (three of five), as are 5–8
// and 5–12: whoever asks for twice as much asks for something else.
func SamePlace(a, b Stretch) bool {
	shared := a.shared(b)
	return shared > 0 && 3*shared >= 2*(a.Bars()+b.Bars()-shared)
}

// AskedStretch is bars that were asked by themselves once.
type AskedStretch struct {
	Stretch
	Day calendar.Day
}

// Marked is a bar that came up in one take: the teacher said something there, or the ear found something.
type Marked struct {
	Bar  int
	Day  calendar.Day
	Said bool
}

// Place is bars that are remembered as a thing of their own.
type Place struct {
	Stretch
	Asked []calendar.Day // by itself, in order
	Alike []Stretch      // that were asked and are told as this one, itself among them
}

// How a place comes about without being asked. Our choices.
const (
	saidAgain    = 2 // days on which the teacher said something of a bar
	cameUpAgain  = 3 // days on which the teacher or the ear did
	longestFound = 8 // bars
	mostFound    = 4 // such places of a work: those that came up most
	mostPlaces   = 12
)

// Places finds the places of a work with so many bars. Bars that were asked by themselves make one, unless they are more
// than three quarters of the work: that is the work. Those that mean the same place (SamePlace) are one, under the bars
// that were asked most often, of equals those that were asked last; each is compared with these bars and with no other,
// so that a chain of small steps does not make one place of a whole work. Bars that came up again and again make one too,
// where they do not lie in a place that was asked. In the order of the score.
func Places(bars int, asked []AskedStretch, marked []Marked) []Place {
	out := askedPlaces(bars, asked)
	for _, s := range cameUp(bars, marked) {
		if !slices.ContainsFunc(out, func(p Place) bool { return p.Has(s) || SamePlace(p.Stretch, s) }) {
			out = append(out, Place{Stretch: s})
		}
	}
	out = out[:min(len(out), mostPlaces)]
	slices.SortFunc(out, func(a, b Place) int { return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To)) })
	return out
}

// isWork says that a stretch is the work, or nearly.
func (s Stretch) isWork(bars int) bool { return 4*s.Bars() > 3*bars }

func askedPlaces(bars int, asked []AskedStretch) []Place {
	days := map[Stretch][]calendar.Day{}
	var all []Stretch
	for _, a := range asked {
		if a.From < 0 || a.To < a.From || a.To >= bars || a.isWork(bars) {
			continue
		}
		if days[a.Stretch] == nil {
			all = append(all, a.Stretch)
		}
		days[a.Stretch] = append(days[a.Stretch], a.Day)
	}
	slices.SortFunc(all, func(a, b Stretch) int {
		return cmp.Or(cmp.Compare(len(days[b]), len(days[a])), cmp.Compare(slices.Max(days[b]), slices.Max(days[a])), cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To))
	})
	var out []Place
	for _, s := range all {
		i := slices.IndexFunc(out, func(p Place) bool { return SamePlace(p.Stretch, s) })
		if i < 0 {
			i, out = len(out), append(out, Place{Stretch: s})
		}
		out[i].Alike, out[i].Asked = append(out[i].Alike, s), append(out[i].Asked, days[s]...)
	}
	for i := range out {
		slices.Sort(out[i].Asked)
		out[i].Asked = slices.Compact(out[i].Asked)
	}
	return out
}

// cameUp are runs of bars that came up on several days, those with most days first.
func cameUp(bars int, marked []Marked) []Stretch {
	said, came := make([]map[calendar.Day]bool, bars), make([]map[calendar.Day]bool, bars)
	for _, m := range marked {
		if m.Bar < 0 || m.Bar >= bars {
			continue
		}
		if came[m.Bar] == nil {
			said[m.Bar], came[m.Bar] = map[calendar.Day]bool{}, map[calendar.Day]bool{}
		}
		came[m.Bar][m.Day] = true
		if m.Said {
			said[m.Bar][m.Day] = true
		}
	}
	type run struct {
		Stretch
		days int
	}
	var runs []run
	for i := range bars {
		if len(said[i]) < saidAgain && len(came[i]) < cameUpAgain {
			continue
		}
		if n := len(runs); n > 0 && runs[n-1].To == i-1 {
			runs[n-1].To, runs[n-1].days = i, max(runs[n-1].days, len(came[i]))
			continue
		}
		runs = append(runs, run{Stretch{i, i}, len(came[i])})
	}
	runs = slices.DeleteFunc(runs, func(r run) bool { return r.Bars() > longestFound || 2*r.Bars() > bars }) // else it is about the whole
	slices.SortStableFunc(runs, func(a, b run) int { return cmp.Compare(b.days, a.days) })
	var out []Stretch
	for _, r := range runs[:min(len(runs), mostFound)] {
		out = append(out, r.Stretch)
	}
	return out
}
