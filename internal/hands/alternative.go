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
// best answer does not make. Those that change other notes than the ones before come first to mind;
// where there are too few of them, ways that change the same notes differently fill the list up.
// The list is in order of cost.
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
	var chosen, spare []taken
	seen := map[string]bool{}
	for n, o := range others {
		if len(chosen) >= k-1 || n > 40*k {
			break
		}
		d := o.v.lattice.Detour(o.v.best, o.option)
		first, stops := o.v.lattice.StopsOf(d.From, d.Edges)
		t := taken{Alternative{Cost: f.Cost + max(0, o.extra)}, map[int]bool{}, ""}
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
		if fresh {
			chosen = append(chosen, t)
		} else if len(spare) < k {
			spare = append(spare, t)
		}
	}
	for _, t := range spare {
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
