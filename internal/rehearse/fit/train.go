package main

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
)

// training says how a model is fitted.
type training struct {
	hidden  []int   // units of each hidden layer
	outputs int     // of the last
	drop    float32 // probability that a hidden unit is silent in a step
	noise   float32 // standard deviation of what is added to each standardised input
	decay   float64 // share of the weights that a step takes off, over its rate
	rate    float64 // of the steps, at its highest
	epochs  int     // times that every row is seen
	batch   int     // rows to a step, at most: a small set takes leastSteps to an epoch all the same
	least   float64 // spread that an input has at least: one that hardly ever differs is not blown up
	seed    uint64
	goal    goal
}

var errOneSided = errors.New("the rows to learn from are all of one kind: take a larger set")

const (
	leastSteps = 100
	inputReach = 6 // standard deviations that an input counts for at most, as in the ear
)

// model is what the ear keeps: inputs are standardised, then go through the net.
type model struct {
	mean, scale []float32
	net
}

// fit trains a model on the rows that learn names, and standardises all rows in place. The same rows
// and seed give the same model. tell hears the mean loss of each epoch.
func fit(ctx context.Context, r *rows, learn []int, t training, tell func(epoch int, loss float64)) (*model, error) {
	if !slices.ContainsFunc(learn, func(i int) bool { return r.target[i] != r.target[learn[0]] }) {
		return nil, errOneSided
	}
	m := &model{}
	m.mean, m.scale = r.standardise(learn, t.least)
	m.net = newNet(slices.Concat([]int{r.width}, t.hidden, []int{t.outputs})...)
	rng := rand.New(rand.NewPCG(t.seed, uint64(r.width)))
	m.start(rng)
	return m, m.descend(ctx, r, slices.Clone(learn), t, rng, tell)
}

// standardise measures the mean and spread of each input over some rows, and standardises all.
func (r *rows) standardise(learn []int, least float64) (mean, scale []float32) {
	sum, squares := make([]float64, r.width), make([]float64, r.width)
	for _, i := range learn {
		for k, v := range r.of(i) {
			sum[k] += float64(v)
		}
	}
	for k := range sum {
		sum[k] /= float64(len(learn))
	}
	for _, i := range learn {
		for k, v := range r.of(i) {
			d := float64(v) - sum[k]
			squares[k] += d * d
		}
	}
	for k, s := range squares {
		mean = append(mean, float32(sum[k]))
		scale = append(scale, float32(1/max(least, math.Sqrt(s/float64(len(learn))))))
	}
	for i := range r.target {
		x := r.of(i)
		for k, v := range x {
			x[k] = min(max((v-mean[k])*scale[k], -inputReach), inputReach)
		}
	}
	return mean, scale
}

// descend is Adam with decay of its own (Loshchilov and Hutter 2019, algorithm 2) on shuffled batches.
func (n *net) descend(ctx context.Context, r *rows, order []int, t training, rng *rand.Rand, tell func(int, float64)) error {
	const beta1, beta2, tiny = 0.9, 0.999, 1e-8
	size := min(t.batch, max(16, len(order)/leastSteps))
	first, second := make([]float32, len(n.w)), make([]float32, len(n.w))
	grad, s, hiss := newNet(n.size...), newSheet(n.size, size), newHiss(t.noise, r.width, rng)
	steps := t.epochs * ((len(order) + size - 1) / size)
	step := 0
	for epoch := range t.epochs {
		rng.Shuffle(len(order), func(i, j int) { order[i], order[j] = order[j], order[i] })
		loss := 0.0
		for batch := range slices.Chunk(order, size) {
			if err := ctx.Err(); err != nil {
				return err
			}
			for k, i := range batch {
				hiss.add(s.x[0][k*r.width:(k+1)*r.width], r.of(i), rng)
			}
			out := n.forward(s, len(batch), t.drop, rng)
			loss += s.judge(out, r, batch, t.goal)
			n.backward(&grad, s, len(batch))
			rate := riseAndFall(t.rate, float64(step)/float64(steps))
			step++
			keep := float32(1 - rate*t.decay)
			root := float32(math.Sqrt(1 - math.Pow(beta2, float64(step))))
			rate /= 1 - math.Pow(beta1, float64(step))
			for i, g := range grad.w {
				first[i] = beta1*first[i] + (1-beta1)*g
				second[i] = beta2*second[i] + (1-beta2)*g*g
				n.w[i] = keep*n.w[i] - float32(rate)*first[i]/(float32(math.Sqrt(float64(second[i])))/root+tiny)
			}
		}
		tell(epoch, loss/float64(len(order)))
	}
	return nil
}

// judge fills the slopes at the outputs for the mean loss of a batch, and gives the sum of its losses.
func (s *sheet) judge(out []float32, r *rows, batch []int, g goal) (loss float64) {
	outputs := len(out) / len(batch)
	slope := s.slope[len(s.slope)-1][:len(out)]
	for k, i := range batch {
		loss += g(slope[k*outputs:(k+1)*outputs], out[k*outputs:(k+1)*outputs], r.target[i])
	}
	for k := range slope {
		slope[k] /= float32(len(batch))
	}
	return loss
}

// riseAndFall goes along cosines: from a 25th of the peak up to it in the first tenth of the steps, then
// down to next to nothing (Smith and Topin 2019; the shares are those that PyTorch's OneCycleLR has).
func riseAndFall(peak, done float64) float64 {
	const risen, low, end = 0.1, 1.0 / 25, 1.0 / 25e4
	along := func(from, to, share float64) float64 { return to + (from-to)*(1+math.Cos(math.Pi*share))/2 }
	if done < risen {
		return peak * along(low, 1, done/risen)
	}
	return peak * along(1, end, (done-risen)/(1-risen))
}

// hiss is noise to add to inputs: drawn once, and entered anywhere, since drawing takes long.
type hiss []float32

func newHiss(deviation float32, width int, rng *rand.Rand) hiss {
	if deviation == 0 {
		return nil
	}
	h := make(hiss, 1<<18+width)
	for i := range h {
		h[i] = deviation * float32(rng.NormFloat64())
	}
	return h
}

func (h hiss) add(dst, x []float32, rng *rand.Rand) {
	copy(dst, x)
	if h == nil {
		return
	}
	for i, v := range h[rng.IntN(len(h)-len(x)+1):][:len(x)] {
		dst[i] += v
	}
}

// each runs the net on standardised rows, without noise or dropout.
func (n *net) each(r *rows, of []int, see func(i int, out []float32)) {
	const batch = 1024
	s := newSheet(n.size, batch)
	for some := range slices.Chunk(of, batch) {
		for k, i := range some {
			copy(s.x[0][k*r.width:], r.of(i))
		}
		out := n.forward(s, len(some), 0, nil)
		for k, i := range some {
			see(i, out[k*n.outputs():(k+1)*n.outputs()])
		}
	}
}
