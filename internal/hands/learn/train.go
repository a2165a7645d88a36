package main

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"

	"antiphon/internal/hands/grip"
)

// train climbs the likelihood of the printed marks, with all that is not printed summed over: the
// gradient is what is expected with the marks less what is expected without them (a conditional
// random field with hidden states). Plain stochastic steps, part by part, averaged over the last third
// of the rounds and over several orders of the parts: one order alone leaves chance in the weights.
func train(parts []*part, o options) *grip.Model {
	m := &grip.Model{W: make([]float32, len(grip.Prior()))}
	for order := range max(o.orders, 1) {
		for i, w := range trainOnce(parts, o, uint64(order)+1).W {
			m.W[i] += w / float32(max(o.orders, 1))
		}
	}
	m.LeanBack()
	return m
}

func trainOnce(parts []*part, o options, order uint64) *grip.Model {
	prior := grip.Prior()
	w := make([]float64, len(prior))
	for i := range w {
		w[i] = float64(prior[i])
	}
	m := &grip.Model{W: make([]float32, len(w))}
	g, avg := make([]float64, len(w)), make([]float64, len(w))
	total, averaged := 0, 0
	decay := make([]float64, len(w))
	for i := range decay {
		decay[i] = o.decay
		if grip.Fine(i) {
			decay[i] *= o.fine
		}
	}
	if o.rules > 0 {
		parts = append(slices.Clone(parts), ruled()...)
	}
	var used []*part
	for _, p := range parts {
		if n := p.marks(); n > 0 {
			used = append(used, p)
			total += n
		}
	}
	laid := make([]*grip.Piece, len(used))
	rng := rand.New(rand.NewPCG(order, 2))
	for epoch := range o.epochs {
		rate := o.rate / (1 + float64(epoch)/4)
		sum := 0.0
		for _, k := range rng.Perm(len(used)) {
			p := used[k]
			for i := range w {
				m.W[i] = float32(w[i])
			}
			clear(g)
			if laid[k] == nil {
				laid[k] = p.piece(nil)
				laid[k].Truth = p.truth()
			}
			sum += grip.Lay(laid[k], m, grip.Build{Beam: o.beam, Slack: 9, Learn: true}).Learn(g)
			if p.Group == "rule" {
				for i := range g {
					g[i] *= o.rules
				}
			}
			share := float64(p.marks()) / float64(total)
			for i := range w {
				w[i] += rate * (g[i] - decay[i]*share*(w[i]-float64(prior[i])))
			}
			if epoch >= o.epochs*2/3 {
				for i := range w {
					avg[i] += w[i]
				}
				averaged++
			}
		}
		if o.verbose {
			fmt.Fprintf(os.Stderr, "epoch %d: %.4f a mark\n", epoch, sum/float64(total))
		}
	}
	for i := range w {
		if averaged > 0 {
			w[i] = avg[i] / float64(averaged)
		}
		m.W[i] = float32(w[i])
	}
	return m
}
