package ear

import (
	"math"

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
// frames from to to (exclusive): the sum over partials of √magnitude, 10 ms later less 10 ms before.
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
	strength := func(t int) float64 {
		if t < 0 || t >= p.frames {
			return 0
		}
		m, sum := p.at(t), 0.0
		for _, k := range own {
			sum += math.Sqrt(float64(max(m[k-1], m[k], m[k+1])))
		}
		return sum
	}
	for i := range dst {
		dst[i] = max(0, strength(from+i+2)-strength(from+i-2))
	}
}

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
	windowAheadFr = 14
)

// weights says how likely each fine frame of a window is the onset of a pitch: where the attack is,
// where the pitch's own partials rise, and where its activity rises, all three.
func (e *evidence) weights(w window, midi, t0, back, ahead int, others []int) []float64 {
	const finePerFrame, finePerFlux = activityHop / fineHop, fluxHop / fineHop
	p := e.at(midi)
	lo, hi := max(0, t0-back), min(e.act.frames-1, t0+ahead)
	width := 4.0
	if len(others) > 1 {
		width = 6
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
		if math.Abs(d) <= 6 {
			near[i] += gauss(d / 4)
		}
		if near[i] > 0.3 {
			topFlux, topOwn = max(topFlux, w.flux[i]), max(topOwn, own[i])
		}
	}
	for i := range out {
		out[i] = (0.15 + w.flux[i]/(topFlux+1e-9)) * (0.15 + own[i]/(topOwn+1e-9)) * near[i]
	}
	return out
}

// The flux of a pluck peaks a little before or after its onset; measured on plucks at known places.
const onsetBiasS = -0.0022

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

// chordOnsets refines the onsets of pitches (low to high) that begin together: of three or more, a
// roll goes upwards, so their times may not decrease; the likeliest such times are found together.
func (e *evidence) chordOnsets(pitches []int, t0, back, ahead int) []float64 {
	w := e.around(t0)
	out := make([]float64, len(pitches))
	rows := make([][]float64, len(pitches))
	for k, midi := range pitches {
		rows[k] = e.weights(w, midi, t0, back, ahead, pitches)
	}
	if len(pitches) < 3 {
		for k, row := range rows {
			out[k] = w.time(argmax(row))
		}
		return out
	}
	n := len(w.flux)
	from := make([][]int, len(rows))
	acc := make([]float64, n)
	for k, row := range rows {
		from[k] = make([]int, n)
		best, at := math.Inf(-1), 0
		for i := range n {
			if k > 0 && acc[i] >= best {
				best, at = acc[i], i
			}
			from[k][i] = at
			if k == 0 {
				best = 0
			}
			acc[i] = best + math.Log(row[i]+1e-30)
		}
	}
	i := argmax(acc)
	for k := len(rows) - 1; k >= 0; k-- {
		out[k] = w.time(i)
		i = from[k][i]
	}
	return out
}
