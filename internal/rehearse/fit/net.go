package main

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas32"
)

const leak = 0.01 // slope of a unit below zero, as in the ear

// net is layers of leaky units; the last is linear. All weights lie in one row, so that a step is one
// loop: for each layer its weights, input by input, then its biases.
type net struct {
	size []int // of the inputs, then of each layer
	w    []float32
}

func newNet(size ...int) net {
	n := 0
	for i := 1; i < len(size); i++ {
		n += (size[i-1] + 1) * size[i]
	}
	return net{size, make([]float32, n)}
}

func (n *net) layers() int  { return len(n.size) - 1 }
func (n *net) outputs() int { return n.size[n.layers()] }

// layer is the weights and biases of the i-th.
func (n *net) layer(i int) (weights blas32.General, bias []float32) {
	w := n.w
	for k := range i {
		w = w[(n.size[k]+1)*n.size[k+1]:]
	}
	in, out := n.size[i], n.size[i+1]
	return matrix(in, out, w), w[in*out : (in+1)*out]
}

func matrix(rows, cols int, data []float32) blas32.General {
	return blas32.General{Rows: rows, Cols: cols, Stride: cols, Data: data[:rows*cols]}
}

// start draws first weights and biases uniformly within 1/√inputs (LeCun, Bottou, Orr and Müller 1998,
// section 4.6, asks for this order of size).
func (n *net) start(rng *rand.Rand) {
	for i := range n.layers() {
		w, bias := n.layer(i)
		reach := 1 / float32(math.Sqrt(float64(n.size[i])))
		for _, v := range [][]float32{w.Data, bias} {
			for k := range v {
				v[k] = reach * (2*rng.Float32() - 1)
			}
		}
	}
}

// sheet is room to run a net on a batch: what goes into each layer and comes out of the last, how steeply
// each hidden unit followed its sum, and the slope of the loss at each of these values.
type sheet struct{ x, steep, slope [][]float32 }

func newSheet(size []int, batch int) *sheet {
	s := &sheet{}
	for _, n := range size {
		s.x = append(s.x, make([]float32, batch*n))
		s.steep = append(s.steep, make([]float32, batch*n))
		s.slope = append(s.slope, make([]float32, batch*n))
	}
	return s
}

// forward fills the sheet from its inputs on. Hidden units fall silent with the probability drop, and
// the others speak up for them (Srivastava and others 2014).
func (n *net) forward(s *sheet, rows int, drop float32, rng *rand.Rand) (out []float32) {
	for i := range n.layers() {
		w, bias := n.layer(i)
		out = s.x[i+1][:rows*len(bias)]
		for r := range rows {
			copy(out[r*len(bias):], bias)
		}
		blas32.Gemm(blas.NoTrans, blas.NoTrans, 1, matrix(rows, w.Rows, s.x[i]), w, 1, matrix(rows, w.Cols, out))
		if i+1 == n.layers() {
			break
		}
		steep := s.steep[i+1]
		for k, v := range out {
			g := float32(1)
			if v < 0 {
				g = leak
			}
			if drop > 0 {
				if rng.Float32() < drop {
					g = 0
				}
				g /= 1 - drop
			}
			out[k], steep[k] = g*v, g
		}
	}
	return out
}

// backward fills grad from the slopes at the outputs, after forward.
func (n *net) backward(grad *net, s *sheet, rows int) {
	for i := n.layers() - 1; i >= 0; i-- {
		w, bias := grad.layer(i)
		slope := matrix(rows, w.Cols, s.slope[i+1])
		blas32.Gemm(blas.Trans, blas.NoTrans, 1, matrix(rows, w.Rows, s.x[i]), slope, 0, w)
		clear(bias)
		for k, v := range slope.Data {
			bias[k%len(bias)] += v
		}
		if i == 0 {
			break
		}
		weights, _ := n.layer(i)
		before := matrix(rows, w.Rows, s.slope[i])
		blas32.Gemm(blas.NoTrans, blas.Trans, 1, slope, weights, 0, before)
		for k, g := range s.steep[i][:len(before.Data)] {
			before.Data[k] *= g
		}
	}
}

// goal gives the loss of the outputs for one row, and fills slope with its slope at each.
type goal func(slope, out []float32, target float32) (loss float64)

// yesOrNo is the log loss of log odds; a target is 1 or 0.
func yesOrNo(slope, out []float32, target float32) float64 {
	l, y := float64(out[0]), float64(target)
	slope[0] = float32(1/(1+math.Exp(-l)) - y)
	return max(l, 0) - y*l + math.Log1p(math.Exp(-math.Abs(l)))
}

// nearFrame is the cross entropy of the softmax of outputs, one for each fine frame, with a bell around
// the target frame that is one frame wide: a neighbour is nearly right.
func nearFrame(slope, out []float32, target float32) float64 {
	top := out[0]
	for _, v := range out {
		top = max(top, v)
	}
	var sum, bells float64
	for i, v := range out {
		sum += math.Exp(float64(v - top))
		bells += bell(i, target)
	}
	loss := math.Log(sum)
	for i, v := range out {
		y := bell(i, target) / bells
		loss -= y * float64(v-top)
		slope[i] = float32(math.Exp(float64(v-top))/sum - y)
	}
	return loss
}

func bell(i int, target float32) float64 {
	d := float64(i) - float64(target)
	return math.Exp(-0.5 * d * d)
}
