package main

import (
	"errors"
	"math"
	"math/rand/v2"
)

// training says how a model is fitted.
type training struct {
	hidden int     // units
	epochs int     // times that every row is seen
	batch  int     // rows to a step
	rate   float64 // of the first step; it falls to nothing along a straight line
	decay  float64 // weight of half the sum of squared weights, per row of a batch
	seed   uint64
}

var errOneSided = errors.New("the rows to learn from are all of one kind: take a larger set")

// leastSpread keeps a clue that hardly ever differs from being blown up.
const leastSpread = 0.05

// model is the ear's: clues are standardised, go through one layer of tanh units, and come out as log odds.
type model struct {
	mean, scale []float64
	net
}

// net holds its weights in one row, so that a step and a gradient are one loop: the weights of each hidden
// unit in turn, then their biases, then the weights of the output, then its bias.
type net struct {
	in, hidden int
	w          []float64
}

func (n *net) unit(h int) []float64  { return n.w[h*n.in : (h+1)*n.in] }
func (n *net) hiddenBias() []float64 { return n.w[n.hidden*n.in : n.hidden*(n.in+1)] }
func (n *net) out() []float64        { return n.w[n.hidden*(n.in+1) : n.hidden*(n.in+2)] }
func (n *net) outBias() *float64     { return &n.w[n.hidden*(n.in+2)] }

func newNet(in, hidden int) net { return net{in, hidden, make([]float64, hidden*(in+2)+1)} }

// logit also fills act, the activity of the hidden units.
func (n *net) logit(x, act []float64) float64 {
	bias, out, sum := n.hiddenBias(), n.out(), *n.outBias()
	for h := range act {
		a := bias[h]
		for i, w := range n.unit(h) {
			a += w * x[i]
		}
		act[h] = math.Tanh(a)
		sum += out[h] * act[h]
	}
	return sum
}

// gradient fills grad with the slope of the mean log loss over a batch, and of the decay of its weights
// (biases are free), and gives the loss.
func (n *net) gradient(grad *net, x [][]float64, began []bool, decay float64) float64 {
	clear(grad.w)
	loss, act, share := 0.0, make([]float64, n.hidden), 1/float64(len(x))
	out, gradOut, gradBias := n.out(), grad.out(), grad.hiddenBias()
	for k := range x {
		l := n.logit(x[k], act)
		miss := sigmoid(l)
		if began[k] {
			miss, l = miss-1, -l
		}
		loss += share * softplus(l)
		miss *= share
		*grad.outBias() += miss
		for h, a := range act {
			gradOut[h] += miss * a
			back := miss * out[h] * (1 - a*a)
			gradBias[h] += back
			g := grad.unit(h)
			for i, v := range x[k] {
				g[i] += back * v
			}
		}
	}
	decayed := func(w, g []float64) {
		for i, v := range w {
			loss += 0.5 * decay * share * v * v
			g[i] += decay * share * v
		}
	}
	decayed(n.w[:n.hidden*n.in], grad.w)
	decayed(out, gradOut)
	return loss
}

func sigmoid(l float64) float64 { return 1 / (1 + math.Exp(-l)) }

// softplus is log(1+e^l) without overflow: the log loss of log odds l against a false row.
func softplus(l float64) float64 { return max(l, 0) + math.Log1p(math.Exp(-math.Abs(l))) }

// fit trains a model on rows. The same rows and seed give the same model.
func fit(rows []row, t training) (*model, error) {
	if n := countIf(rows, func(r row) bool { return r.began }); n == 0 || n == len(rows) {
		return nil, errOneSided
	}
	var x [][]float64
	var began []bool
	for _, r := range rows {
		x, began = append(x, r.clues), append(began, r.began)
	}
	m := standard(x)
	m.net = newNet(len(x[0]), t.hidden)
	for k := range x {
		x[k] = m.standardised(x[k])
	}
	rng := rand.New(rand.NewPCG(t.seed, uint64(t.hidden)))
	// Glorot and Bengio 2010, eq. 16: uniform within √6/√(in+out) of each layer.
	uniform := func(w []float64, in, out int) {
		for i := range w {
			w[i] = (2*rng.Float64() - 1) * math.Sqrt(6/float64(in+out))
		}
	}
	uniform(m.w[:m.hidden*(m.in+1)], m.in, m.hidden)
	uniform(m.w[m.hidden*(m.in+1):], m.hidden, 1)
	m.descend(x, began, t, rng)
	return m, nil
}

// standard measures the mean and spread of each clue.
func standard(x [][]float64) *model {
	m := &model{mean: make([]float64, len(x[0])), scale: make([]float64, len(x[0]))}
	for i := range m.mean {
		var sum, squares float64
		for _, c := range x {
			sum += c[i]
		}
		m.mean[i] = sum / float64(len(x))
		for _, c := range x {
			squares += (c[i] - m.mean[i]) * (c[i] - m.mean[i])
		}
		m.scale[i] = 1 / max(leastSpread, math.Sqrt(squares/float64(len(x))))
	}
	return m
}

func (m *model) standardised(clues []float64) []float64 {
	z := make([]float64, len(clues))
	for i, c := range clues {
		z[i] = (c - m.mean[i]) * m.scale[i]
	}
	return z
}

func (m *model) logit(clues []float64) float64 {
	return m.net.logit(m.standardised(clues), make([]float64, m.hidden))
}

// descend is Adam (Kingma and Ba 2015, algorithm 1, with the values it recommends) on shuffled batches.
func (n *net) descend(x [][]float64, began []bool, t training, rng *rand.Rand) {
	const beta1, beta2, tiny = 0.9, 0.999, 1e-8
	first, second := make([]float64, len(n.w)), make([]float64, len(n.w))
	grad := newNet(n.in, n.hidden)
	steps := t.epochs * ((len(x) + t.batch - 1) / t.batch)
	step := 0.0
	for range t.epochs {
		rng.Shuffle(len(x), func(i, j int) { x[i], x[j], began[i], began[j] = x[j], x[i], began[j], began[i] })
		for from := 0; from < len(x); from += t.batch {
			to := min(from+t.batch, len(x))
			n.gradient(&grad, x[from:to], began[from:to], t.decay)
			rate := t.rate * (1 - step/float64(steps))
			step++
			rate *= math.Sqrt(1-math.Pow(beta2, step)) / (1 - math.Pow(beta1, step))
			for i, g := range grad.w {
				first[i] = beta1*first[i] + (1-beta1)*g
				second[i] = beta2*second[i] + (1-beta2)*g*g
				n.w[i] -= rate * first[i] / (math.Sqrt(second[i]) + tiny)
			}
		}
	}
}
