package grip

import (
	"math"
	"slices"
)

// Score of the best way; minus infinity where there is none.
func (l *Lattice) Score() float64 { return l.rest[0][0] }

// LogSum of all ways; the lattice must have been built with sums.
func (l *Lattice) LogSum() float64 { return l.sumEnd[0][0] }

// Way is one way through the lattice: the grip of each slice, by the edge that leads to it.
type Way []int32

// Best is the best way.
func (l *Lattice) Best() Way {
	way := make(Way, len(l.edges))
	at := int32(0)
	for t := range l.edges {
		way[t] = l.succ[t][at]
		at = l.edges[t][way[t]].to
	}
	return way
}

// Detour is the best way that takes an option, as a change of another way that is the best of all:
// the slices from From up to To are gone through by Edges.
type Detour struct {
	From, To int
	Edges    Way
}

// Detour leaves the best way as late and joins it as early as it can.
func (l *Lattice) Detour(best Way, o Option) Detour {
	var back Way
	t, e := o.slice, o.edge
	if best[t] == e {
		return Detour{t, t, nil}
	}
	at := l.edges[t][e].from
	u := t
	for u > 0 && l.edges[u-1][best[u-1]].to != at {
		p := l.pred[u-1][at]
		back = append(back, p)
		u--
		at = l.edges[u][p].from
	}
	d := Detour{From: u}
	slices.Reverse(back)
	d.Edges = append(back, e)
	at = l.edges[t][e].to
	t++
	for t < len(l.edges) && l.edges[t-1][best[t-1]].to != at {
		p := l.succ[t][at]
		d.Edges = append(d.Edges, p)
		at = l.edges[t][p].to
		t++
	}
	d.To = t
	return d
}

// Stops of a way, one for each note.
func (l *Lattice) Stops(w Way) []Stop {
	out := make([]Stop, len(l.p.Notes))
	for t, e := range w {
		s := &l.p.slices[t]
		copy(out[s.from:s.to], s.grips[l.edges[t][e].grip].stops)
	}
	return out
}

// Option is one stop of a note with the score of the best way through it, and that way's edge.
type Option struct {
	Stop  Stop
	Score float64
	Prob  float64 // share of all ways, where sums were asked for
	slice int
	edge  int32
}

// Options lists the stops of every note, the best first.
func (l *Lattice) Options() [][]Option {
	out := make([][]Option, len(l.p.Notes))
	sums := l.o.Sums
	total := 0.0
	if sums {
		total = l.LogSum()
	}
	for t := range l.edges {
		s := &l.p.slices[t]
		type got struct {
			score, prob float64
			edge        int32
		}
		byGrip := make([]got, len(s.grips))
		for g := range byGrip {
			byGrip[g] = got{math.Inf(-1), 0, -1}
		}
		for i, e := range l.edges[t] {
			v := float64(e.move) + s.grips[e.grip].score
			x := l.best[t][e.from] + v + l.rest[t+1][e.to]
			if x <= minusInf {
				continue // narrowed away
			}
			if x > byGrip[e.grip].score {
				byGrip[e.grip].score, byGrip[e.grip].edge = x, int32(i)
			}
			if sums {
				byGrip[e.grip].prob += math.Exp(l.sum[t][e.from] + v + l.sumEnd[t+1][e.to] - total)
			}
		}
		for g, b := range byGrip {
			if b.edge < 0 {
				continue
			}
			for k, st := range s.grips[g].stops {
				list := &out[s.from+k]
				at := slices.IndexFunc(*list, func(o Option) bool { return o.Stop == st })
				if at < 0 {
					*list = append(*list, Option{st, b.score, b.prob, t, b.edge})
					continue
				}
				o := &(*list)[at]
				o.Prob += b.prob
				if b.score > o.Score {
					o.Score, o.edge = b.score, b.edge
				}
			}
		}
	}
	for i := range out {
		slices.SortStableFunc(out[i], func(a, b Option) int {
			switch {
			case a.Score > b.Score:
				return -1
			case a.Score < b.Score:
				return 1
			}
			return 0
		})
	}
	return out
}

// Learn adds to g how the likelihood of what is printed grows with each weight: how often the feature
// is expected on the ways that agree with print, less on all ways. It gives that likelihood.
func (l *Lattice) Learn(g []float64) float64 {
	total, told := l.LogSum(), l.tldEnd[0][0]
	if told < -1e299 {
		return 0
	}
	var feats []int32
	var byGrip []float64
	for t := range l.edges {
		s := &l.p.slices[t]
		byGrip = append(byGrip[:0], make([]float64, len(s.grips))...)
		for _, e := range l.edges[t] {
			h := &s.grips[e.grip]
			v := float64(e.move) + h.score
			d := -math.Exp(l.sum[t][e.from] + v + l.sumEnd[t+1][e.to] - total)
			if h.agrees {
				d += math.Exp(l.told[t][e.from] + v + l.tldEnd[t+1][e.to] - told)
			}
			if d > -2e-4 && d < 2e-4 {
				continue
			}
			byGrip[e.grip] += d
			feats = l.p.moveFeatures(feats[:0], &l.states[t][e.from], s, h)
			for _, f := range feats {
				g[f] += d
			}
		}
		for k, d := range byGrip {
			if d == 0 {
				continue
			}
			for _, f := range s.grips[k].feats {
				g[f] += d
			}
		}
	}
	return told - total
}
