package grip

import (
	"fmt"
	"hash/fnv"
	"math"
)

// Memory says how strongly a piece follows itself: passages that come again are fingered alike.
type Memory struct {
	Again float64 // pull towards what the same notes in the same surroundings are taken with elsewhere
	Chord float64 // pull towards what the same notes are taken with, whatever stands around them
	Share float64 // pull towards what all good ways together favour, not only the single best one
}

// floor is the share below which nothing is told apart.
const floorShare = 0.02

// Remember sets the hints of every grip by a lattice with sums of the same piece.
func (p *Piece) Remember(l *Lattice, m Memory) {
	options := l.Options()
	prob := func(i int, st Stop) float64 {
		for _, o := range options[i] {
			if o.Stop == st {
				return o.Prob
			}
		}
		return 0
	}
	near, alone := p.groups(1), p.groups(0)
	for t := range p.slices {
		s := &p.slices[t]
		again, chord := others(near, t), others(alone, t)
		pull := func(h *hold, list []int, weight float64) float64 {
			if weight == 0 || len(list) == 0 {
				return 0
			}
			x := 0.0
			for k, st := range h.stops {
				if st.String == 0 {
					continue
				}
				sum := 0.0
				for _, u := range list {
					sum += prob(p.slices[u].from+k, st)
				}
				x += weight * math.Log(floorShare+sum/float64(len(list)))
			}
			return x
		}
		for g := range s.listed {
			h := &s.listed[g]
			h.hint = pull(h, again, m.Again)
			if len(again) == 0 {
				h.hint += pull(h, chord, m.Chord)
			}
			h.favour = 0
			if m.Share > 0 {
				for k, st := range h.stops {
					if st.String > 0 {
						h.favour += m.Share * math.Log(floorShare+prob(s.from+k, st))
					}
				}
			}
		}
	}
}

// mostOthers of the moments that are alike are looked at.
const mostOthers = 12

func others(groups map[uint64][]int, t int) []int { return groups[uint64(t)] }

// groups lists, for each slice, others with the same notes, and with the same notes before and after
// them as far as around says.
func (p *Piece) groups(around int) map[uint64][]int {
	byKey := map[uint64][]int{}
	keys := make([]uint64, len(p.slices))
	for t := range p.slices {
		h := fnv.New64a()
		for d := -around; d <= around; d++ {
			if u := t + d; u < 0 || u >= len(p.slices) {
				fmt.Fprintf(h, "|")
				continue
			}
			for i := p.slices[t+d].from; i < p.slices[t+d].to; i++ {
				fmt.Fprintf(h, "%d,", p.Notes[i].Midi)
			}
			fmt.Fprintf(h, ";")
		}
		keys[t] = h.Sum64()
		byKey[keys[t]] = append(byKey[keys[t]], t)
	}
	out := map[uint64][]int{}
	for t, k := range keys {
		list := byKey[k]
		if len(list) < 2 {
			continue
		}
		at := 0
		for i, u := range list {
			if u == t {
				at = i
			}
		}
		var near []int // the nearest ones on both sides
		for d := 1; len(near) < mostOthers && (at-d >= 0 || at+d < len(list)); d++ {
			if at-d >= 0 {
				near = append(near, list[at-d])
			}
			if at+d < len(list) {
				near = append(near, list[at+d])
			}
		}
		out[uint64(t)] = near
	}
	return out
}
