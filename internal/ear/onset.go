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

// strength fills own and all with the sum over partials of √magnitude, at flux frames from, from+1, …:
// over the partials of a pitch that it shares with none of the others, and over all of its partials.
// Where it shares every one, own is all.
func (p *partials) strength(own, all []float64, f0 float64, others []float64, from int) {
	const binHz = float64(RateHz) / partialWindow
	var mine, every []int
	for h := 1; h <= 12; h++ {
		hz := f0 * float64(h)
		if hz < 120 || hz > 5000 {
			continue
		}
		k := int(math.Round(hz / binHz))
		every = append(every, k)
		free := true
		for _, o := range others {
			if d := math.Remainder(hz, o); math.Abs(d) <= 32 && hz > o/2 && hz < 16.5*o {
				free = false
				break
			}
		}
		if free {
			mine = append(mine, k)
		}
	}
	if len(mine) == 0 {
		mine = every
	}
	sum := func(m []float32, bins []int) (strength float64) {
		for _, k := range bins {
			strength += math.Sqrt(float64(max(m[k-1], m[k], m[k+1])))
		}
		return strength
	}
	for i := range own {
		own[i], all[i] = 0, 0
		if t := from + i; t >= 0 && t < p.frames {
			m := p.at(t)
			own[i], all[i] = sum(m, mine), sum(m, every)
		}
	}
}

// window is the stretch of fine frames around a stroke in which its notes may begin.
type window struct {
	from int
	flux []float64
}

func (w window) fromS() float64 { return float64(w.from) * fineHop / RateHz }

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

// Of a glimpse: frames of flux, of the strength of partials and of activity.
const (
	fineFrames     = (windowBackFr + windowAheadFr) * activityHop / fineHop
	strengthFrames = (windowBackFr+windowAheadFr)*activityHop/fluxHop + 10
	glimpseFrames  = windowBackFr + windowAheadFr
	glimpseCount   = fineFrames + 2*strengthFrames + glimpseFrames + 5
)

// glimpse is all that says where in the window of a stroke the k-th of a chord's pitches begins: the
// attack, the strength of its own partials and of all, its activity, and its place in the chord.
func (e *evidence) glimpse(w window, pitches []int, k, t0, back, ahead int) []float32 {
	const finePerFlux = fluxHop / fineHop
	v := make([]float32, 0, glimpseCount)
	shape := func(x []float64) {
		top := 1e-9
		for _, y := range x {
			top = max(top, y)
		}
		for _, y := range x {
			v = append(v, float32(y/top))
		}
	}
	full := make([]float64, fineFrames)
	copy(full, w.flux)
	shape(full)
	var hz []float64
	for i, o := range pitches {
		if i != k {
			hz = append(hz, e.hz(o))
		}
	}
	own, all := make([]float64, strengthFrames), make([]float64, strengthFrames)
	e.parts.strength(own, all, e.hz(pitches[k]), hz, w.from/finePerFlux-5)
	shape(own)
	shape(all)
	p := e.at(pitches[k])
	for t := w.from / (activityHop / fineHop); len(v) < glimpseCount-5; t++ {
		var a float32
		if p >= 0 && t < e.act.frames {
			a = min(e.act.x[t*pitchCount+p], 2)
		}
		v = append(v, a)
	}
	place := float32(0.5)
	if len(pitches) > 1 {
		place = float32(k) / float32(len(pitches)-1)
	}
	return append(v, float32(min(len(pitches), 6))/6, place, float32(back)/windowBack, float32(ahead)/windowAhead, float32(pitches[k]-64)/12)
}

// places says, for each fine frame of a window, how likely the k-th of pitches that begin together near
// the stroke at activity frame t0 begins there: log probabilities.
func (e *evidence) places(w window, pitches []int, k, t0, back, ahead int) (logs []float64, inputs []float32) {
	inputs = e.glimpse(w, pitches, k, t0, back, ahead)
	logits := e.models.onset.run(inputs, &e.scratch)
	logs = make([]float64, len(logits))
	sum, top := 0.0, float64(slices.Max(logits))
	for i, v := range logits {
		logs[i] = float64(v) - top
		sum += math.Exp(logs[i])
	}
	for i := range logs {
		logs[i] -= math.Log(sum)
	}
	return logs, inputs
}

// time is the time of fine frame i, sharpened by what its neighbours are given.
func (w window) time(logs []float64, i int) float64 {
	var sum, weight float64
	for k := max(0, i-2); k <= min(len(logs)-1, i+2); k++ {
		p := math.Exp(logs[k] - logs[i])
		sum, weight = sum+p*float64(k), weight+p
	}
	return max(0, (float64(w.from)+sum/weight)*fineHop/RateHz)
}

// A chord of so many strings is rolled or strummed one way, mostly upwards.
const (
	rollStrings   = 3
	downwardPrice = 1.0 // log price of a stroke from high to low,
	freePrice     = 4.0 // and of strings struck in no order
	untidy        = 3   // fine frames by which a string may come before the one it follows
)

// chordPlaces picks a fine frame for each row of log probabilities, low string to high.
func chordPlaces(rows [][]float64) []int {
	free, alone := make([]int, len(rows)), 0.0
	for k, row := range rows {
		free[k] = argmax(row)
		alone += row[free[k]]
	}
	if len(rows) < rollStrings {
		return free
	}
	best, at := alone-freePrice, free
	if up, v := inOrder(rows); v > best {
		best, at = v, up
	}
	rows = slices.Clone(rows)
	slices.Reverse(rows)
	if down, v := inOrder(rows); v-downwardPrice > best {
		slices.Reverse(down)
		at = down
	}
	return at
}

// inOrder finds the likeliest frames, one a row, none of which lies more than untidy before the last.
func inOrder(rows [][]float64) (at []int, value float64) {
	n := len(rows[0])
	from := make([][]int, len(rows))
	acc := slices.Clone(rows[0])
	for k := 1; k < len(rows); k++ {
		from[k] = make([]int, n)
		next, b, seen := make([]float64, n), 0, 0
		for i, v := range rows[k] {
			for ; seen <= min(i+untidy, n-1); seen++ {
				if acc[seen] > acc[b] {
					b = seen
				}
			}
			next[i], from[k][i] = acc[b]+v, b
		}
		acc = next
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

func argmax(v []float64) int {
	k := 0
	for i, x := range v {
		if x > v[k] {
			k = i
		}
	}
	return k
}
