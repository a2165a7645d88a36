package ear

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestDamagedModelsAreRefused(t *testing.T) {
	if _, err := readModels(modelData); err != nil {
		t.Fatalf("the models that are built in: %v", err)
	}
	for name, data := range map[string][]byte{
		"empty":     nil,
		"cut off":   modelData[:len(modelData)-4],
		"too long":  append(slices.Clone(modelData), 0, 0, 0, 0),
		"shortened": modelData[4:],
	} {
		if _, err := readModels(data); !errors.Is(err, errModels) {
			t.Errorf("%s: error %v, want %v", name, err, errModels)
		}
	}
}

// The layers walk four inputs at a time; the sums must be those of the plain definition.
func TestModelIsItsDefinition(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	random := func(n int) []float32 {
		v := make([]float32, n)
		for i := range v {
			v[i] = float32(rng.NormFloat64())
		}
		return v
	}
	const in, hidden, out = 11, 6, 3
	m := &model{mean: random(in), scale: random(in), layers: []layer{
		{in, hidden, random(in * hidden), random(hidden)}, {hidden, out, random(hidden * out), random(out)}}}
	var s scratch
	for range 20 {
		x := random(in)
		var h [hidden]float64
		for o := range h {
			h[o] = float64(m.layers[0].bias[o])
			for i := range x {
				z := math.Max(-inputReach, math.Min(inputReach, float64((x[i]-m.mean[i])*m.scale[i])))
				h[o] += z * float64(m.layers[0].w[i*hidden+o])
			}
			if h[o] < 0 {
				h[o] *= leak
			}
		}
		got := m.run(x, &s)
		for o := range out {
			want := float64(m.layers[1].bias[o])
			for i := range h {
				want += h[i] * float64(m.layers[1].w[i*out+o])
			}
			if math.Abs(float64(got[o])-want) > 1e-4 {
				t.Fatalf("output %d is %v, want %v", o, got[o], want)
			}
		}
	}
}

// Against trying everything: the likeliest frames that do not go back by more than untidy.
func TestStringsInOrder(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 200 {
		rows := make([][]float64, 3)
		for k := range rows {
			rows[k] = make([]float64, 9)
			for i := range rows[k] {
				rows[k][i] = rng.NormFloat64()
			}
		}
		best := math.Inf(-1)
		for a := range 9 {
			for b := range 9 {
				for c := range 9 {
					if b >= a-untidy && c >= b-untidy {
						best = max(best, rows[0][a]+rows[1][b]+rows[2][c])
					}
				}
			}
		}
		at, value := inOrder(rows)
		if sum := rows[0][at[0]] + rows[1][at[1]] + rows[2][at[2]]; math.Abs(value-best) > 1e-12 || math.Abs(sum-best) > 1e-12 ||
			at[1] < at[0]-untidy || at[2] < at[1]-untidy {
			t.Fatalf("places %v give %v and say %v, the best is %v", at, sum, value, best)
		}
	}
}

// A roll upwards whose bass shows an equal peak too late: the order decides.
func TestARollGoesOneWay(t *testing.T) {
	row := func(peaks map[int]float64) []float64 {
		v := make([]float64, 60)
		for i := range v {
			v[i] = -20
		}
		for i, p := range peaks {
			v[i] = math.Log(p)
		}
		return v
	}
	rows := [][]float64{row(map[int]float64{5: 0.4, 50: 0.6}), row(map[int]float64{20: 1}), row(map[int]float64{35: 1})}
	if at := chordPlaces(rows); !slices.Equal(at, []int{5, 20, 35}) {
		t.Errorf("places %v, want 5, 20, 35", at)
	}
	if at := chordPlaces(rows[:2]); !slices.Equal(at, []int{50, 20}) {
		t.Errorf("two strings may go either way: places %v, want 50, 20", at)
	}
}

// A sine lies in the band of its pitch, and one 20 dB softer shows 20 dB less.
func TestSonogramOfSines(t *testing.T) {
	sp, err := newSpectrograph(0)
	if err != nil {
		t.Fatal(err)
	}
	for _, midi := range []int{45, 69, 88} {
		g := newSonogram(sp.bank, 100, 0)
		for n, amplitude := range []float64{0.5, 0.05} {
			x := make([]float32, RateHz)
			for i := range x {
				x[i] = float32(amplitude * math.Sin(2*math.Pi*float64(i)/RateHz*hzAt(midi, 0)))
			}
			band := make([]float32, len(sp.bank.centreHz))
			sp.at(band, x, RateHz/2)
			g.set(20*n, band)
		}
		loud, soft, at := g.column(0), g.column(20), g.bandOf(midi-lowestMidi)
		if top := slices.Index(loud, slices.Max(loud)); top < at-1 || top > at+1 {
			t.Errorf("pitch %d: loudest band %d, its own is %d", midi, top, at)
		}
		if d := float64(peakOf(loud, at, at)-peakOf(soft, at, at)) / 2; math.Abs(d-20) > 0.5 {
			t.Errorf("pitch %d: ten times the amplitude is %.1f dB, want 20", midi, d)
		}
	}
}

// A phone far away changes nothing that the nets see: a take 40 dB softer is lifted by as much.
func TestAQuietTakeIsLifted(t *testing.T) {
	loud, soft := make([]float32, RateHz), make([]float32, RateHz)
	for i := range loud {
		loud[i] = float32(0.14 * math.Sin(2*math.Pi*440*float64(i)/RateHz))
		soft[i] = loud[i] / 100
	}
	if d := lift(soft) - lift(loud); math.Abs(float64(d)-40) > 0.1 {
		t.Errorf("lifted by %.2f dB more, want 40", d)
	}
	if l := lift(make([]float32, RateHz)); l != 0 {
		t.Errorf("silence is lifted by %v dB", l)
	}
	if l := lift(nil); l != 0 {
		t.Errorf("nothing is lifted by %v dB", l)
	}
}
