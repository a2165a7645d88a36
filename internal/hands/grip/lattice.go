package grip

import (
	"math"
	"slices"
)

// Model is a set of weights.
type Model struct{ W []float32 }

func (m *Model) sum(feats []int32) float64 {
	t := float32(0)
	for _, f := range feats {
		t += m.W[f]
	}
	return float64(t)
}

// edge is a move from a state of the slice before to a state of this one.
type edge struct {
	from, to int32
	grip     int32
	move     float32
}

// Lattice is the part of all ways through a piece that was worth looking at.
type Lattice struct {
	p      *Piece
	m      *Model
	o      Build
	states [][]state // by slice; states[0] is the start
	edges  [][]edge  // edges[t] leads from states[t] to states[t+1] through slice t
	best   [][]float64
	rest   [][]float64 // best way from a state to the end
	sum    [][]float64 // log of the sum of all ways to a state, where asked for
	sumEnd [][]float64
	told   [][]float64 // the same of the ways that agree with what is printed, while learning
	tldEnd [][]float64
	top    [][]float64 // best way to a state that agrees with what is printed
	pred   [][]int32   // edge of the best way to a state
	succ   [][]int32   // edge of the best way on
}

// Build says how to lay a lattice.
type Build struct {
	Beam  int     // states kept at each moment, beside the best one for every stop of every note
	Slack float64 // moves that are so much worse than the best are not followed; 0 means 14
	Sums  bool    // sums over all ways are wanted
	Learn bool    // keep the best ways that agree with Piece.Truth too, and sum over them
}

// Lay builds the lattice.
func Lay(p *Piece, m *Model, o Build) *Lattice {
	if o.Slack == 0 {
		o.Slack = 14
	}
	o.Sums = o.Sums || o.Learn
	p.keepBest(m, o.Learn)
	l := &Lattice{p: p, m: m, o: o}
	l.states = append(l.states, []state{start()})
	l.best = append(l.best, []float64{0})
	if o.Sums {
		l.sum = append(l.sum, []float64{0})
	}
	if o.Learn {
		l.told, l.top = append(l.told, []float64{0}), append(l.top, []float64{0})
	}
	var work scratch
	for t := range p.slices {
		l.extend(t, &work)
	}
	l.backward()
	return l
}

type scratch struct {
	feats  []int32
	all    []candidate
	table  []int32
	keys   []uint64
	bestOf map[uint32]int32
	next   state
	order  []ranked
}

// ranked is a candidate on its way through the sort.
type ranked struct {
	total float64
	at    int32
}

type candidate struct {
	from, grip int32
	move       float32
	keep       bool // the best for one of its stops
	total      float64
	agree      float64 // minus infinity where it does not
}

const minusInf = -1e300

func (l *Lattice) extend(t int, w *scratch) {
	p, s := l.p, &l.p.slices[t]
	prev, best := l.states[t], l.best[t]
	w.all = w.all[:0]
	if w.bestOf == nil {
		w.bestOf = map[uint32]int32{}
	}
	clear(w.bestOf)
	top, topAgree := minusInf, minusInf
	bestOfGrip := make([]int32, len(s.grips))
	for g := range bestOfGrip {
		bestOfGrip[g] = -1
	}
	for a := range prev {
		for g := range s.grips {
			h := &s.grips[g]
			w.feats = p.moveFeatures(w.feats[:0], &prev[a], s, h)
			mv := l.m.sum(w.feats) - p.trouble(&prev[a], s, h)
			c := candidate{int32(a), int32(g), float32(mv), false, best[a] + h.score + mv, minusInf}
			if l.o.Learn && h.agrees {
				c.agree = l.top[t][a] + h.score + mv
				topAgree = max(topAgree, c.agree)
			}
			top = max(top, c.total)
			if b := bestOfGrip[g]; b < 0 || w.all[b].total < c.total {
				bestOfGrip[g] = int32(len(w.all))
			}
			w.all = append(w.all, c)
		}
	}
	for g, b := range bestOfGrip {
		if b < 0 {
			continue
		}
		for k, st := range s.grips[g].stops {
			key := uint32(k)<<16 | uint32(uint8(st.String))<<8 | uint32(uint8(st.Finger))
			if o, ok := w.bestOf[key]; !ok || w.all[o].total < w.all[b].total {
				w.bestOf[key] = b
			}
		}
	}
	for _, b := range w.bestOf {
		w.all[b].keep = true
	}
	w.order = w.order[:0]
	for i := range w.all {
		c := &w.all[i]
		if c.keep || c.total >= top-l.o.Slack || c.agree >= topAgree-l.o.Slack && c.agree > minusInf {
			w.order = append(w.order, ranked{c.total, int32(i)})
		}
	}
	// the best first, so that a state is represented by the best way to it
	slices.SortFunc(w.order, func(x, y ranked) int {
		switch {
		case x.total > y.total:
			return -1
		case x.total < y.total:
			return 1
		}
		return int(x.at - y.at)
	})
	size := 1
	for size < 4*len(w.order)+8 {
		size *= 2
	}
	if len(w.table) < size {
		w.table = make([]int32, size)
	}
	size = len(w.table)
	clear(w.table)
	w.keys = w.keys[:0]
	var next []state
	var nextBest, nextSum, nextTold, nextTop []float64
	var pred []int32
	edges := make([]edge, 0, len(w.order))
	agreeing := 0
	for _, r := range w.order {
		c := &w.all[r.at]
		h := &s.grips[c.grip]
		p.stepInto(&w.next, &prev[c.from], s, h)
		key := w.next.key()
		at := int(key>>7) & (size - 1)
		to := int32(-1)
		for w.table[at] != 0 {
			if w.keys[w.table[at]-1] == key {
				to = w.table[at] - 1
				break
			}
			at = (at + 1) & (size - 1)
		}
		if to < 0 {
			if len(next) >= l.o.Beam && !c.keep && !(c.agree > minusInf && agreeing < l.o.Beam) {
				continue
			}
			if c.agree > minusInf {
				agreeing++
			}
			to = int32(len(next))
			next, nextBest, pred = append(next, w.next), append(nextBest, c.total), append(pred, int32(len(edges)))
			if l.o.Sums {
				nextSum = append(nextSum, minusInf)
			}
			if l.o.Learn {
				nextTold, nextTop = append(nextTold, minusInf), append(nextTop, minusInf)
			}
			w.keys = append(w.keys, key)
			w.table[at] = to + 1
		}
		edges = append(edges, edge{c.from, to, c.grip, c.move})
		v := h.score + float64(c.move)
		if l.o.Sums {
			nextSum[to] = logAdd(nextSum[to], l.sum[t][c.from]+v)
		}
		if c.agree > minusInf {
			nextTold[to] = logAdd(nextTold[to], l.told[t][c.from]+v)
			nextTop[to] = max(nextTop[to], c.agree)
		}
	}
	l.states, l.best, l.edges, l.pred = append(l.states, next), append(l.best, nextBest), append(l.edges, edges), append(l.pred, pred)
	if l.o.Sums {
		l.sum = append(l.sum, nextSum)
	}
	if l.o.Learn {
		l.told, l.top = append(l.told, nextTold), append(l.top, nextTop)
	}
}

func logAdd(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if a-b > 16 || b == minusInf {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

func (l *Lattice) backward() {
	n := len(l.states)
	l.rest, l.succ = make([][]float64, n), make([][]int32, n)
	if l.o.Sums {
		l.sumEnd = make([][]float64, n)
	}
	if l.o.Learn {
		l.tldEnd = make([][]float64, n)
	}
	fill := func(k int, x float64) []float64 {
		out := make([]float64, k)
		for i := range out {
			out[i] = x
		}
		return out
	}
	for t := n - 1; t >= 0; t-- {
		x := minusInf
		if t == n-1 {
			x = 0
		}
		l.rest[t] = fill(len(l.states[t]), x)
		if l.o.Sums {
			l.sumEnd[t] = fill(len(l.states[t]), x)
		}
		if l.o.Learn {
			l.tldEnd[t] = fill(len(l.states[t]), x)
		}
		if t == n-1 {
			continue
		}
		l.succ[t] = make([]int32, len(l.states[t]))
		for i, e := range l.edges[t] {
			h := &l.p.slices[t].grips[e.grip]
			v := float64(e.move) + h.score
			if x := v + l.rest[t+1][e.to]; x > l.rest[t][e.from] {
				l.rest[t][e.from], l.succ[t][e.from] = x, int32(i)
			}
			if l.o.Sums {
				l.sumEnd[t][e.from] = logAdd(l.sumEnd[t][e.from], v+l.sumEnd[t+1][e.to])
			}
			if l.o.Learn && h.agrees {
				l.tldEnd[t][e.from] = logAdd(l.tldEnd[t][e.from], v+l.tldEnd[t+1][e.to])
			}
		}
	}
}
