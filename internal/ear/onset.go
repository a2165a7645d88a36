package ear

import (
	"math"
	"slices"

	"antiphon/internal/dsp"
	"antiphon/internal/music"
)

func hzAt(midi int, cents float64) float64 { return music.Hz(float64(midi)+cents/100, 440) }

const partialWindow = 1024 // 46 ms: short enough to place an onset, long enough to tell partials apart

// partials reads short spectra on the grid of flux frames, and keeps the latest.
type partials struct {
	x       []float32
	spectra *dsp.Spectra
	frames  int
	ring    [256][]float32
	holds   [256]int
}

func newPartials(x []float32) (*partials, error) {
	s, err := dsp.NewSpectra(partialWindow)
	if err != nil {
		return nil, err
	}
	p := &partials{x: x, spectra: s, frames: len(x)/fluxHop + 1}
	for i := range p.ring {
		p.ring[i] = make([]float32, s.Bins())
		p.holds[i] = -1
	}
	return p, nil
}

func (p *partials) at(t int) []float32 {
	i := t & 255
	if p.holds[i] != t {
		p.spectra.At(p.ring[i], p.x, t*fluxHop)
		p.holds[i] = t
	}
	return p.ring[i]
}

// rise is how fast the partials of a pitch that it shares with none of the others grow, for flux
// frames from, from+1, …: the sum over partials of √magnitude, after less before.
func (p *partials) rise(dst []float64, f0 float64, others []float64, from int) {
	const binHz = float64(RateHz) / partialWindow
	var own, all []int
	for h := 1; h <= 12; h++ {
		hz := f0 * float64(h)
		if hz < 120 || hz > 5000 {
			continue
		}
		k := int(math.Round(hz / binHz))
		all = append(all, k)
		free := true
		for _, o := range others {
			if d := math.Remainder(hz, o); math.Abs(d) <= 32 && hz > o/2 && hz < 16.5*o {
				free = false
				break
			}
		}
		if free {
			own = append(own, k)
		}
	}
	if len(own) == 0 {
		own = all
	}
	// A step in the take is a ramp as long as the window: the mean of what follows less the mean of
	// what went before is steadier than the slope at one point.
	sums := make([]float64, len(dst)+2*riseFar+1) // running sum of strength, from − riseFar on
	for i := range len(dst) + 2*riseFar {
		t, strength := from-riseFar+i, 0.0
		if t >= 0 && t < p.frames {
			m := p.at(t)
			for _, k := range own {
				strength += math.Sqrt(float64(max(m[k-1], m[k], m[k+1])))
			}
		}
		sums[i+1] = sums[i] + strength
	}
	for i := range dst {
		c := i + riseFar
		dst[i] = max(0, sums[c+riseFar]-sums[c+riseNear]-(sums[c-riseNear+1]-sums[c-riseFar+1]))
	}
}

// Flux frames before and after a place that its rise is taken over.
const riseNear, riseFar = 2, 5

// window is the stretch of fine frames around a stroke in which its notes may begin.
type window struct {
	from int
	flux []float64
}

// around opens the window of the stroke at activity frame t0.
func (e *evidence) around(t0 int) window {
	const finePerFrame = activityHop / fineHop
	from := max(0, finePerFrame*(t0-windowBackFr))
	to := min(len(e.x)/fineHop, finePerFrame*(t0+windowAheadFr))
	w := window{from: from, flux: make([]float64, max(1, to-from))}
	e.attacks.flux(w.flux, from)
	return w
}

const (
	windowBackFr  = 10
	windowAheadFr = 20
)

// weights says how likely each fine frame of a window is the onset of a pitch: where the attack is,
// where the pitch's own partials rise, and where its activity rises, all three.
func (e *evidence) weights(w window, midi, t0, back, ahead int, others []int) []float64 {
	const finePerFrame, finePerFlux = activityHop / fineHop, fluxHop / fineHop
	p := e.at(midi)
	lo, hi := max(0, t0-back), min(e.act.frames-1, t0+ahead)
	width, reach := 4.0, 6.0
	if len(others) >= rollStrings {
		width, reach = 9, 12
	}
	th, top := t0, 0.1
	if p >= 0 {
		for t := lo; t <= hi; t++ {
			if r := e.act.rise(p, t) * gauss(float64(t-t0)/width); r > top {
				th, top = t, r
			}
		}
	}
	var hz []float64
	for _, o := range others {
		if o != midi {
			hz = append(hz, e.hz(o))
		}
	}
	n := len(w.flux)
	coarse := make([]float64, n/finePerFlux+2)
	e.parts.rise(coarse, e.hz(midi), hz, w.from/finePerFlux)
	own, near, out := make([]float64, n), make([]float64, n), make([]float64, n)
	var topFlux, topOwn float64
	for i := range n {
		share := float64(i%finePerFlux) / finePerFlux
		own[i] = coarse[i/finePerFlux]*(1-share) + coarse[i/finePerFlux+1]*share
		d := float64(w.from+i-finePerFrame*th) / finePerFrame
		near[i] = 1e-9
		if math.Abs(d) <= reach && float64(w.from+i) <= finePerFrame*float64(t0+ahead+1) {
			near[i] += gauss(1.5 * d / reach)
		}
		if near[i] > 0.3 {
			topFlux, topOwn = max(topFlux, w.flux[i]), max(topOwn, own[i])
		}
	}
	for i := range out {
		out[i] = (fluxFloor + w.flux[i]/(topFlux+1e-9)) * (ownFloor + own[i]/(topOwn+1e-9)) * near[i]
	}
	return out
}

// How little an onset may show in attack and in its own partials, against the most in the window.
const fluxFloor, ownFloor = 0.15, 0.3

// The flux of a pluck peaks a little after its onset: 2.2 ms in the median on 13 takes by one measure of
// an onset, 0 on 180 takes by another; this lies between.
const onsetBiasS = -0.0012

// time is the time of a frame of the window, sharpened by a parabola through its peak.
func (w window) time(i int) float64 {
	return max(0, (float64(w.from)+peakAt(w.flux, i))*fineHop/RateHz+onsetBiasS)
}

func argmax(w []float64) int {
	k := 0
	for i, v := range w {
		if v > w[k] {
			k = i
		}
	}
	return k
}

// onset is the refined onset of one pitch near a stroke.
func (e *evidence) onset(midi, t0, back, ahead int, others []int) float64 {
	w := e.around(t0)
	return w.time(argmax(e.weights(w, midi, t0, back, ahead, others)))
}

// Of a chord of three strings and more, a roll or strum goes one way, mostly upwards; strings that
// are not struck together are struck one after the other.
const (
	rollStrings   = 3
	togetherPrice = 0.6 // log price of two strings at one place, against peaks of their own
	downwardPrice = 1.0 // log price of a stroke from high to low; less for two strings
)

// chordOnsets refines the onsets of pitches (low to high) that begin at one moment.
func (e *evidence) chordOnsets(pitches []int, t0, back, ahead int) []float64 {
	w := e.around(t0)
	out := make([]float64, len(pitches))
	rows := make([][]float64, len(pitches))
	for k, midi := range pitches {
		rows[k] = e.weights(w, midi, t0, back, ahead, pitches)
	}
	price := downwardPrice
	if len(pitches) < rollStrings {
		price = 0.2
	}
	at, up := inOrder(rows)
	slices.Reverse(rows)
	if down, v := inOrder(rows); v-price > up {
		slices.Reverse(down)
		at = down
	}
	for k, i := range at {
		out[k] = w.time(i)
	}
	return out
}

// inOrder finds the likeliest places, one in each row of weights, that do not go back.
func inOrder(rows [][]float64) (at []int, value float64) {
	n := len(rows[0])
	from := make([][]int, len(rows))
	acc, next := make([]float64, n), make([]float64, n)
	for i, v := range rows[0] {
		acc[i] = math.Log(v + 1e-30)
	}
	for k := 1; k < len(rows); k++ {
		from[k] = make([]int, n)
		best, b := math.Inf(-1), 0 // of the places well before i
		for i, v := range rows[k] {
			if c := i - apart; c >= 0 && acc[c] > best {
				best, b = acc[c], c
			}
			next[i], from[k][i] = acc[i]-togetherPrice, i
			if best > next[i] {
				next[i], from[k][i] = best, b
			}
			next[i] += math.Log(v + 1e-30)
		}
		acc, next = next, acc
	}
	i := argmax(acc)
	value = acc[i]
	at = make([]int, len(rows))
	for k := len(rows) - 1; k >= 0; k-- {
		at[k] = i
		if k > 0 {
			i = from[k][i]
		}
	}
	return at, value
}

// apart is the fewest fine frames between two strings struck one after the other.
const apart = 2
