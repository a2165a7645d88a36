package pluck

import (
	"math"
	"math/rand/v2"
	"slices"
)

// Learning: how often the marks are gone through, how large a step is, how firmly the trade's rules
// hold, and from how many orders of the pieces the weights are averaged. Chosen by leaving one editor
// out after the other; between 8 and 25 passes little changes. The likelihood of the marks (a random
// field with hidden parts) was tried instead and agreed less on what was left out.
const (
	learnPasses = 15
	learnRate   = 0.05
	learnHold   = 0.002
	learnOrders = 5
)

// teach is an averaged structured perceptron: where the best hand differs from the best hand that keeps
// the printed marks, the weights move from the one to the other.
func teach(ls []lesson, start []float64) []float64 {
	sum := make([]float64, len(start))
	for seed := range uint64(learnOrders) {
		w, rng := slices.Clone(start), rand.New(rand.NewPCG(seed, 1))
		order := rng.Perm(len(ls))
		for range learnPasses {
			rng.Shuffle(len(order), func(a, b int) { order[a], order[b] = order[b], order[a] })
			for _, k := range order {
				ls[k].step(w)
				for f := range w {
					w[f] += learnHold * (start[f] - w[f])
					sum[f] += w[f]
				}
			}
		}
	}
	for f := range sum {
		sum[f] /= float64(learnOrders * learnPasses * len(ls))
	}
	return sum
}

func (x *lesson) step(w []float64) {
	free := x.l.best(w)
	for _, n := range x.l.all {
		n.must = fingerOf(x.rh[n.ID])
	}
	kept := x.l.best(w)
	for _, n := range x.l.all {
		n.must = none
	}
	size := learnRate / math.Sqrt(float64(len(x.rh))) // a piece with many marks does not drown the others
	x.l.seen(kept, func(f int) { w[f] += size })
	x.l.seen(free, func(f int) { w[f] -= size })
}

func (l *layout) seen(hands []hand, see seer) {
	for k, h := range hands {
		l.seeAlone(k, h, see)
		if k > 0 {
			l.seeAfter(k, hands[k-1], h, see)
		}
		if k > 1 {
			l.seeAfter2(k, hands[k-2], h, see)
		}
	}
}
