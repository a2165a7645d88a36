package music

import (
	"cmp"
	"maps"
	"slices"
)

// doubleShare is the share of a tablature's notes that must also stand in the notes before it is
// taken for the same music twice. Our choice: writers lose a few ties and grace notes in tablature.
const doubleShare = 0.9

// withoutDoubles drops the notes of a tablature that repeats what is written in notes, and gives
// what it says of strings, frets and hands to those notes.
func (s *Score) withoutDoubles(all []heard) []heard {
	type place struct{ part, staff int }
	tabs, lines := map[place][]int{}, map[int][]int{} // indices into all
	for i, h := range all {
		if h.tab {
			tabs[place{h.part, h.staff}] = append(tabs[place{h.part, h.staff}], i)
		} else {
			lines[h.part] = append(lines[h.part], i)
		}
	}
	if len(tabs) == 0 || len(lines) == 0 {
		return all
	}
	gone := make([]bool, len(all))
	places := slices.SortedFunc(maps.Keys(tabs), func(a, b place) int {
		return cmp.Or(a.part-b.part, a.staff-b.staff)
	})
	for _, at := range places {
		tab := tabs[at]
		pairs := bestPairs(all, tab, lines, at.part)
		if pairs == nil {
			continue
		}
		for _, i := range tab {
			gone[i] = true
		}
		for _, p := range pairs {
			all[p[1]].adopt(&all[p[0]])
		}
	}
	kept := all[:0]
	for i, h := range all {
		if !gone[i] {
			kept = append(kept, h)
		}
	}
	return kept
}

// bestPairs finds the part whose notes the tablature repeats: its own part first, at the same pitch
// or an octave away (some writers state one of the two staves as it is read on a guitar). Another
// part must in turn be half covered by the tablature, or else it is a second player who has a tune
// in common with the first.
func bestPairs(all []heard, tab []int, lines map[int][]int, own int) [][2]int {
	var best [][2]int
	for part, line := range lines {
		shifts := []int{0}
		if part == own {
			shifts = []int{0, 12, -12}
		}
		for _, shift := range shifts {
			pairs := pair(all, tab, line, shift)
			if float64(len(pairs)) < doubleShare*float64(len(tab)) {
				continue
			}
			if part != own && 2*len(pairs) < len(line) {
				continue
			}
			if part == own {
				return pairs
			}
			if len(pairs) > len(best) || (len(pairs) == len(best) && all[pairs[0][1]].part < all[best[0][1]].part) {
				best = pairs
			}
		}
	}
	return best
}

func pair(all []heard, tab, line []int, shift int) [][2]int {
	type key struct {
		onset Beats
		midi  int
		grace bool
	}
	free := map[key][]int{}
	for _, i := range line {
		k := key{all[i].Onset, all[i].Midi, all[i].Grace}
		free[k] = append(free[k], i)
	}
	var pairs [][2]int
	for _, i := range tab {
		k := key{all[i].Onset, all[i].Midi + shift, all[i].Grace}
		if l := free[k]; len(l) > 0 {
			pairs, free[k] = append(pairs, [2]int{i, l[0]}), l[1:]
		}
	}
	return pairs
}

// adopt takes over from t what h does not say itself.
func (h *heard) adopt(t *heard) {
	if h.String == 0 {
		h.String = t.String
	}
	if h.Fret < 0 {
		h.Fret = t.Fret
	}
	if h.Finger == "" {
		h.Finger = t.Finger
	}
	if h.Pluck == "" {
		h.Pluck = t.Pluck
	}
	h.Slurred = h.Slurred || t.Slurred
	h.Rolled = h.Rolled || t.Rolled
	h.Tremolo = max(h.Tremolo, t.Tremolo)
}
