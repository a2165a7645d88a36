package main

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

var quick = training{hidden: []int{12, 6}, outputs: 1, goal: yesOrNo, drop: 0.05, noise: 0.02, decay: 0.01, rate: 2e-2, epochs: 60, batch: 16, least: 0.05, seed: 1}

func quiet(int, float64) {}

// rowsOf makes rows of a function.
func rowsOf(n, width int, f func(rng *rand.Rand, x []float32) float32) (*rows, []int) {
	rng := rand.New(rand.NewPCG(7, 7))
	r := &rows{width: width, x: make([]float32, n*width)}
	var all []int
	for i := range n {
		r.target = append(r.target, f(rng, r.of(i)))
		r.said, r.take, r.instrument, all = append(r.said, 0), append(r.take, i/10), append(r.instrument, 0), append(all, i)
	}
	return r, all
}

// circle makes rows that no straight line divides: true inside a circle. Its third input never differs.
func circle(n int) (*rows, []int) {
	return rowsOf(n, 3, func(rng *rand.Rand, x []float32) float32 {
		x[0], x[1], x[2] = 4*rng.Float32()-2, 4*rng.Float32()-2, 5
		if x[0]*x[0]+x[1]*x[1] < 1.5 {
			return 1
		}
		return 0
	})
}

func TestGradientAgainstFiniteDifferences(t *testing.T) {
	const rowCount, step = 9, 1.0 / 256
	for _, c := range []struct {
		name    string
		outputs int
		goal    goal
		target  func(*rand.Rand) float32
	}{
		{"yes or no", 1, yesOrNo, func(rng *rand.Rand) float32 { return float32(rng.IntN(2)) }},
		{"a frame", 7, nearFrame, func(rng *rand.Rand) float32 { return 6 * rng.Float32() }},
	} {
		for _, drop := range []float32{0, 0.3} {
			rng := rand.New(rand.NewPCG(3, 4))
			r, all := rowsOf(rowCount, 5, func(rng *rand.Rand, x []float32) float32 {
				for i := range x {
					x[i] = float32(rng.NormFloat64())
				}
				return c.target(rng)
			})
			n := newNet(5, 6, 4, c.outputs)
			n.start(rng)
			grad, s := newNet(n.size...), newSheet(n.size, rowCount)
			loss := func() float64 {
				copy(s.x[0], r.x)
				out := n.forward(s, rowCount, drop, rand.New(rand.NewPCG(5, 5))) // the same units silent
				return s.judge(out, r, all, c.goal) / rowCount
			}
			loss()
			n.backward(&grad, s, rowCount)
			bad := 0
			for i, w := range n.w {
				n.w[i] = w + step
				above := loss()
				n.w[i] = w - step
				below := loss()
				n.w[i] = w
				// 32-bit sums and steps this wide leave a thousandth; a unit that passes zero on the way leaves more.
				if want := (above - below) / (2 * step); math.Abs(float64(grad.w[i])-want) > 1e-3 {
					bad++
					t.Logf("%s, drop %v, weight %d: slope %.6f, central difference %.6f", c.name, drop, i, grad.w[i], want)
				}
			}
			if bad > 0 {
				t.Errorf("%s, drop %v: %d of %d slopes are wrong", c.name, drop, bad, len(n.w))
			}
		}
	}
}

func TestLossAgainstItsFormula(t *testing.T) {
	slope := make([]float32, 3)
	// Log loss of log odds 1.5, by hand: p = 1/(1+e^-1.5).
	p := 1 / (1 + math.Exp(-1.5))
	for target, want := range map[float32]float64{1: -math.Log(p), 0: -math.Log(1 - p)} {
		if got := yesOrNo(slope, []float32{1.5}, target); math.Abs(got-want) > 1e-12 || math.Abs(float64(slope[0])-(p-float64(target))) > 1e-7 {
			t.Errorf("yes or no, %v: loss %v, want %v; slope %v", target, got, want, slope[0])
		}
	}
	if got := yesOrNo(slope, []float32{-1000}, 1); got != 1000 {
		t.Errorf("log odds of -1000 against a true row: loss %v, want 1000", got)
	}
	// Equal outputs give each frame a third, whatever the target: the loss is log 3.
	if got := nearFrame(slope, []float32{8, 8, 8}, 1); math.Abs(got-math.Log(3)) > 1e-12 {
		t.Errorf("a frame: loss %v, want log 3", got)
	}
	// The bell around frame 1 gives its neighbours e^-½ each of 1+2·e^-½.
	if want := 1.0/3 - 1/(1+2*math.Exp(-0.5)); math.Abs(float64(slope[1])-want) > 1e-7 || math.Abs(float64(slope[0]+slope[1]+slope[2])) > 1e-7 {
		t.Errorf("a frame: slopes %v, want %v in the middle and a sum of 0", slope, want)
	}
}

func TestWhatALineCannotDivide(t *testing.T) {
	r, all := circle(700)
	m, err := fit(context.Background(), r, all[:500], quick, quiet)
	if err != nil {
		t.Fatal(err)
	}
	right := 0
	said := decided(m, r, all[500:])
	for _, i := range all[500:] {
		if (said[i] > 0) == (r.target[i] == 1) {
			right++
		}
	}
	if right < 184 { // 92 in 100; always saying no gives about 70
		t.Errorf("%d of 200 unseen rows right", right)
	}
	if m.scale[2] != float32(1/quick.least) || m.mean[2] != 5 {
		t.Errorf("an input that never differs: mean %v, scale %v", m.mean[2], m.scale[2])
	}
}

func TestAPeakIsPlaced(t *testing.T) {
	// Inputs are a bump between two samples; the net is to say where. Chance is a third of the width off.
	r, all := rowsOf(1200, 20, func(rng *rand.Rand, x []float32) float32 {
		at := 1 + 17*rng.Float32()
		for i := range x {
			d := float64(float32(i) - at)
			x[i] = float32(math.Exp(-d*d/2)) + 0.05*rng.Float32()
		}
		return at
	})
	tr := quick
	tr.hidden, tr.outputs, tr.goal, tr.rate, tr.epochs = []int{32}, 20, nearFrame, 1e-2, 30
	m, err := fit(context.Background(), r, all[:1000], tr, quiet)
	if err != nil {
		t.Fatal(err)
	}
	said, near := decided(m, r, all[1000:]), 0
	for _, i := range all[1000:] {
		if math.Abs(float64(said[i]-r.target[i])) < 0.5 {
			near++
		}
	}
	if near < 180 {
		t.Errorf("%d of 200 peaks placed within half a frame", near)
	}
}

func TestSameSeedSameModel(t *testing.T) {
	trained := func(seed uint64) []byte {
		r, all := circle(200)
		tr := quick
		tr.seed = seed
		m, err := fit(context.Background(), r, all, tr, quiet)
		if err != nil {
			t.Fatal(err)
		}
		return m.bytes()
	}
	one := trained(1)
	if !slices.Equal(one, trained(1)) {
		t.Error("the same rows and seed gave two models")
	}
	if slices.Equal(one, trained(2)) {
		t.Error("another seed gave the same model")
	}
}

func TestNothingToLearn(t *testing.T) {
	r, all := rowsOf(20, 2, func(*rand.Rand, []float32) float32 { return 1 })
	for _, learn := range [][]int{all, nil} {
		if _, err := fit(context.Background(), r, learn, quick, quiet); !errors.Is(err, errOneSided) {
			t.Errorf("%d rows of one kind: %v", len(learn), err)
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	r, all = circle(50)
	if _, err := fit(ctx, r, all, quick, quiet); !errors.Is(err, context.Canceled) {
		t.Errorf("interrupted: %v", err)
	}
}

func TestInputsAreStandardised(t *testing.T) {
	r, _ := rowsOf(5, 1, func(*rand.Rand, []float32) float32 { return 0 })
	copy(r.x, []float32{1, 3, 5, 7, 1000}) // learned from the first four: mean 4, spread √5, by hand
	mean, scale := r.standardise([]int{0, 1, 2, 3}, 0.05)
	if mean[0] != 4 || math.Abs(float64(scale[0])-1/math.Sqrt(5)) > 1e-7 {
		t.Errorf("mean %v, scale %v, want 4 and 1/√5", mean[0], scale[0])
	}
	if math.Abs(float64(r.x[3])-3/math.Sqrt(5)) > 1e-6 || r.x[4] != inputReach {
		t.Errorf("7 became %v, 1000 became %v, want 3/√5 and %v", r.x[3], r.x[4], inputReach)
	}
}

func TestRateRisesAndFalls(t *testing.T) {
	for _, c := range []struct{ done, want float64 }{ // PyTorch's OneCycleLR with pct_start 0.1 and its defaults
		{0, 1.0 / 25}, {0.05, (1 + 1.0/25) / 2}, {0.1, 1}, {0.55, (1 + 4e-6) / 2}, {1, 4e-6},
	} {
		if got := riseAndFall(1, c.done); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("after %v of the steps %v, want %v", c.done, got, c.want)
		}
	}
}
