package tone

import "math"

// From one bar to the next the hand mostly stays where it is. Ours.
const (
	stayR     = 0.015 // by which it wanders
	moveShare = 0.06  // chance that it moves anywhere
)

// neighbours turns the costs of each bar into chances that heed the bars before and after: the forward
// and backward pass of a hidden Markov model.
func neighbours(costs []chances) []chances {
	n := len(costs)
	like := make([]chances, n)
	for b := range costs {
		low := math.Inf(1)
		for _, c := range costs[b] {
			low = min(low, c)
		}
		for p, c := range costs[b] {
			like[b][p] = math.Exp(-0.5 * (c - low))
		}
	}
	var before chances
	for p := range before {
		x := (placeR(p) - usualR) / barSd
		before[p] = math.Exp(-x * x / 2)
	}
	before.level()
	h := hand{before: before, wander: wander()}
	out, back := make([]chances, n), make([]chances, n)
	for b := range out {
		out[b] = before
		if b > 0 {
			out[b] = h.on(&out[b-1])
		}
		out[b].times(&like[b])
	}
	for p := range places {
		back[n-1][p] = 1
	}
	for b := n - 2; b >= 0; b-- {
		next := back[b+1]
		next.times(&like[b+1])
		back[b] = h.back(&next)
	}
	for b := range out {
		out[b].times(&back[b])
	}
	return out
}

func (p *chances) times(q *chances) {
	for i := range p {
		p[i] *= q[i]
	}
	p.level()
}

// hand is how the hand goes from bar to bar.
type hand struct {
	before chances
	wander [5]float64 // by steps of R, to either side
}

func wander() (w [5]float64) {
	sum := 0.0
	for i := range w {
		x := float64(i) * stepR / stayR
		w[i] = math.Exp(-x * x / 2)
		sum += w[i] * float64(min(i, 1)+1)
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}

func (h *hand) wandered(p *chances) (out chances) {
	for i, v := range p {
		for j := max(0, i-len(h.wander)+1); j < min(places, i+len(h.wander)); j++ {
			out[j] += v * h.wander[max(i-j, j-i)]
		}
	}
	return out
}

// on is where the hand is a bar later.
func (h *hand) on(p *chances) chances {
	out := h.wandered(p)
	for i := range out {
		out[i] = (1-moveShare)*out[i] + moveShare*h.before[i]
	}
	return out
}

// back is the other way.
func (h *hand) back(p *chances) chances {
	anywhere := 0.0
	for i, v := range p {
		anywhere += v * h.before[i]
	}
	out := h.wandered(p)
	for i := range out {
		out[i] = (1-moveShare)*out[i] + moveShare*anywhere
	}
	return out
}
