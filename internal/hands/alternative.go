package hands

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"antiphon/internal/guitar"
	"antiphon/internal/hands/grip"
)

// alternatives fills in up to k-1 other answers. Each is the best way through some choice that the
// best answer does not make. Ways that use another string, another position or a barre more or less, at
// other notes than the ways before them, are what a teacher would call another way; where there are too
// few of these, ways that differ by less fill the list up. The list is in order of cost.
func (f *Fingering) alternatives(all []*solved, place []int, k int) {
	type other struct {
		v      *solved
		note   int
		extra  float64
		option grip.Option
	}
	var others []other
	for _, v := range all {
		for i, list := range v.options {
			for _, op := range list {
				if op.Stop.String > 0 && op.Stop != v.stops[i] {
					others = append(others, other{v, i, v.lattice.Score() - op.Score, op})
				}
			}
		}
	}
	slices.SortStableFunc(others, func(a, b other) int { return cmp.Compare(a.extra, b.extra) })
	type taken struct {
		Alternative
		changed map[int]bool
		key     string
	}
	var chosen, spare, slight []taken
	seen := map[string]bool{}
	for n, o := range others {
		if len(chosen) >= k-1 || n > 60*k {
			break
		}
		d := o.v.lattice.Detour(o.v.best, o.option)
		first, stops := o.v.lattice.StopsOf(d.From, d.Edges)
		t := taken{Alternative{Cost: f.Cost + max(0, o.extra)}, map[int]bool{}, ""}
		large := o.v.differs(d)
		var key strings.Builder
		for i, st := range stops {
			if st == o.v.stops[first+i] {
				continue
			}
			for _, s := range o.v.j.of[first+i] {
				t.changed[place[s]-1] = true
				fmt.Fprintf(&key, "%d:%d/%d ", s, st.String, st.Finger)
			}
		}
		if t.key = key.String(); t.key == "" || seen[t.key] {
			continue
		}
		seen[t.key] = true
		t.Places, t.Finger = make([]guitar.Place, len(f.Notes)), make([]int, len(f.Notes))
		for i, n := range f.Notes {
			t.Places[i], t.Finger[i] = n.Place, n.Finger
		}
		for i, st := range stops {
			for _, s := range o.v.j.of[first+i] {
				t.Places[place[s]-1], t.Finger[place[s]-1] = placeOf(st)
			}
		}
		t.Reason = o.v.reason(d)
		for i, n := range f.Notes {
			if t.changed[i] {
				t.Change = append(t.Change, n.ID)
			}
		}
		fresh := true
		for _, c := range chosen {
			shared := 0
			for i := range t.changed {
				if c.changed[i] {
					shared++
				}
			}
			if 2*shared > min(len(t.changed), len(c.changed)) {
				fresh = false
				break
			}
		}
		switch {
		case fresh && large:
			chosen = append(chosen, t)
		case large && len(spare) < k:
			spare = append(spare, t)
		case fresh && len(slight) < k:
			slight = append(slight, t)
		}
	}
	for _, t := range append(spare, slight...) {
		if len(chosen) >= k-1 {
			break
		}
		chosen = append(chosen, t)
	}
	slices.SortStableFunc(chosen, func(a, b taken) int { return cmp.Compare(a.Cost, b.Cost) })
	for _, t := range chosen {
		f.Alternatives = append(f.Alternatives, t.Alternative)
	}
}

// differs reports whether a detour is another way in a teacher's eyes: another string, another
// position of the hand, or another use of the barre.
func (v *solved) differs(d grip.Detour) bool {
	first, stops := v.lattice.StopsOf(d.From, d.Edges)
	for i, st := range stops {
		if st.String != v.stops[first+i].String {
			return true
		}
	}
	was, is := v.lattice.Facts(d.From, v.best[d.From:d.To]), v.lattice.Facts(d.From, d.Edges)
	return was.Barres != is.Barres || !slices.Equal(was.Positions, is.Positions) && len(stops) > 1
}
