package ear

import (
	_ "embed"
	"encoding/binary"
	"errors"
	"math"
	"sync"

	"antiphon/internal/dsp"
)

// model is a small feed-forward net: inputs are standardised, go through layers of leaky units, and come
// out as log odds, one or many. It holds no state: one may be used by many hearings at once.
type model struct {
	mean, scale []float32
	layers      []layer
}

// layer holds its weights input by input, so that an input that is zero costs nothing.
type layer struct {
	in, out int
	w       []float32 // in × out
	bias    []float32
}

const (
	leak       = 0.01 // slope of a unit below zero
	inputReach = 6    // standard deviations that an input counts for at most
)

// askCount is how much a model that knows the score is shown.
const askCount = int(clueCount) + portraitCount + steadyCount + likenessCount

// scratch is what one goroutine needs to run models.
type scratch struct{ a, b []float32 }

// run gives the outputs for one input; they are valid until the next run.
func (m *model) run(x []float32, s *scratch) []float32 {
	in := append(s.a[:0], x...)
	for i := range in {
		in[i] = min(max((in[i]-m.mean[i])*m.scale[i], -inputReach), inputReach)
	}
	s.a = in
	for n := range m.layers {
		out := m.layers[n].apply(s.b, in)
		if n+1 < len(m.layers) {
			for i, v := range out {
				if v < 0 {
					out[i] = leak * v
				}
			}
		}
		s.a, s.b = out, in
		in = out
	}
	return in
}

// apply walks four inputs at a time: their sums share the walk through the outputs.
func (l *layer) apply(dst, x []float32) []float32 {
	dst = append(dst[:0], l.bias...)
	n, i := l.out, 0
	for ; i+4 <= l.in; i += 4 {
		dsp.AddRows(dst, l.w[i*n:(i+4)*n], dsp.Lanes(x[i:i+4]))
	}
	for ; i < l.in; i++ {
		for o, w := range l.w[i*n : (i+1)*n] {
			dst[o] += x[i] * w
		}
	}
	return dst
}

// models are what the ear has learned: whether a pitch begins at a stroke, whatever the score says;
// whether a written note does; whether one that is not written does; where in its window; and the second and third
// once more, beside all that was weighed.
type models struct{ begins, written, stranger, onset, writtenAgain, strangerAgain *model }

//go:embed models.bin
var modelData []byte

var learned = sync.OnceValues(func() (*models, error) { return readModels(modelData) })

var errModels = errors.New("the ear's models are damaged: build the program again")

// readModels reads what `make fit` wrote: for each model the number of its layers and their sizes from
// the inputs on, as 32-bit integers, then means, scales, and for each layer weights and biases as 32-bit
// floats, all little-endian.
func readModels(data []byte) (*models, error) {
	r := modelReader{data}
	m := &models{begins: r.model(), written: r.model(), stranger: r.model(), onset: r.model(), writtenAgain: r.model(), strangerAgain: r.model()}
	if r.data == nil || len(r.data) > 0 || m.begins.inputs() != lookCount || m.written.inputs() != askCount ||
		m.stranger.inputs() != askCount || m.onset.inputs() != glimpseCount ||
		m.writtenAgain.inputs() != writtenAgains || m.strangerAgain.inputs() != strangeAgains {
		return nil, errModels
	}
	return m, nil
}

func (m *model) inputs() int { return len(m.mean) }

// modelReader takes bytes off the front; its data is nil once it has run out.
type modelReader struct{ data []byte }

func (r *modelReader) uint32() uint32 {
	if len(r.data) < 4 {
		r.data = nil
		return 0
	}
	v := binary.LittleEndian.Uint32(r.data)
	r.data = r.data[4:]
	return v
}

func (r *modelReader) floats(n int) []float32 {
	if n < 0 || len(r.data) < 4*n {
		r.data = nil
		return nil
	}
	v := make([]float32, n)
	for i := range v {
		v[i] = math.Float32frombits(r.uint32())
	}
	return v
}

func (r *modelReader) model() *model {
	layers := int(r.uint32())
	if layers > 8 {
		r.data = nil
		return &model{}
	}
	size := make([]int, layers+1)
	for i := range size {
		size[i] = int(r.uint32() & 0xffff)
	}
	m := &model{mean: r.floats(size[0]), scale: r.floats(size[0])}
	for i := range layers {
		m.layers = append(m.layers, layer{size[i], size[i+1], r.floats(size[i] * size[i+1]), r.floats(size[i+1])})
	}
	return m
}
