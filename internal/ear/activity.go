package ear

import (
	"context"
	"math"

	"antiphon/internal/dsp"
)

// Frames of activity are 10 ms apart.
const (
	activityHop = RateHz / 100
	activityFps = float64(RateHz) / activityHop
)

// activity is how strongly each pitch sounds at each moment of a take, on a compressed scale where
// 1 is a clear note of this take.
type activity struct {
	frames int
	x      []float32 // frames × pitchCount
}

func (a *activity) row(t int) []float32 { return a.x[t*pitchCount : (t+1)*pitchCount] }

// mean is the mean activity of pitch index p over frames [from, to), clipped to the take.
func (a *activity) mean(p, from, to int) float64 {
	from, to = max(from, 0), min(to, a.frames)
	if from >= to {
		return 0
	}
	var sum float32
	for t := from; t < to; t++ {
		sum += a.x[t*pitchCount+p]
	}
	return float64(sum) / float64(to-from)
}

// after and before are the activity on both sides of a possible onset, clear of the window's smear.
func (a *activity) after(p, t int) float64  { return a.mean(p, t+3, t+9) }
func (a *activity) before(p, t int) float64 { return a.mean(p, t-8, t-3) }
func (a *activity) rise(p, t int) float64   { return a.after(p, t) - a.before(p, t) }

// decompose explains the spectra of four frames, a lane each, as sums of pitches and noise, by
// multiplicative updates that lessen the Kullback–Leibler divergence (Lee & Seung 2001) with a fixed
// dictionary.
type decompose struct {
	dict   *dictionary
	v, q   []dsp.Lanes // spectra, and spectra over their explanation
	h      []dsp.Lanes // weights of the rows of the dictionary
	active []int32
}

const (
	updates   = 30
	settled   = 8    // after so many, rows that explain next to nothing are dropped now and then:
	dropShare = 2e-3 // those below this share of the strongest row in all four frames
)

func newDecompose(d *dictionary) *decompose {
	return &decompose{dict: d, v: make([]dsp.Lanes, d.bands), q: make([]dsp.Lanes, d.bands), h: make([]dsp.Lanes, len(d.rows))}
}

// explain fills d.h from d.v.
func (d *decompose) explain() {
	rows := d.dict.rows
	const floor = 1e-9
	for i := range d.v {
		for j := range d.v[i] {
			d.v[i][j] += 1e-7
		}
	}
	d.active = d.active[:0]
	for r := range rows {
		h := dsp.DotLanes(rows[r].at, rows[r].w, d.v)
		for j := range h {
			h[j] = max(h[j], 1e-8) * 0.1
			if r >= pitchCount {
				h[j] *= 0.3
			}
		}
		d.h[r] = h
		d.active = append(d.active, int32(r))
	}
	for round := range updates {
		for i := range d.q {
			d.q[i] = dsp.Lanes{floor, floor, floor, floor}
		}
		for _, r := range d.active {
			row, h := &rows[r], d.h[r]
			dsp.SpreadLanes(d.q, row.at, row.w, h)
		}
		for i := range d.q {
			q, v := &d.q[i], &d.v[i]
			q[0], q[1], q[2], q[3] = v[0]/q[0], v[1]/q[1], v[2]/q[2], v[3]/q[3]
		}
		var top dsp.Lanes
		for _, r := range d.active {
			g, h := dsp.DotLanes(rows[r].at, rows[r].w, d.q), &d.h[r]
			for j := range h {
				h[j] = max(h[j]*g[j], floor)
				top[j] = max(top[j], h[j])
			}
		}
		if round >= settled && round%4 == 0 {
			d.drop(top)
		}
	}
}

func (d *decompose) drop(top dsp.Lanes) {
	kept := d.active[:0]
	for _, r := range d.active {
		h := d.h[r]
		if h[0] > top[0]*dropShare || h[1] > top[1]*dropShare || h[2] > top[2]*dropShare || h[3] > top[3]*dropShare {
			kept = append(kept, r)
		} else {
			d.h[r] = dsp.Lanes{}
		}
	}
	d.active = kept
}

// listenForPitches measures the activity of every pitch over a take.
func listenForPitches(ctx context.Context, x []float32, s *spectrograph, d *dictionary, progress func(float64)) (*activity, *sonogram, error) {
	frames := len(x)/activityHop + 1
	a := &activity{frames: frames, x: make([]float32, frames*pitchCount)}
	g := newSonogram(s.bank, frames, lift(x))
	dec := newDecompose(d)
	tops := make([]float32, 0, frames/2+1)
	band := make([]float32, d.bands)
	// The windows overlap so far that every other frame can be read off its neighbours.
	for t := 0; t < frames; t += 8 {
		if t%256 == 0 {
			if err := ctx.Err(); err != nil {
				return nil, nil, err
			}
			progress(float64(t) / float64(frames))
		}
		for j := range 4 {
			s.at(band, x, (t+2*j)*activityHop)
			g.set(t+2*j, band)
			for i, v := range band {
				dec.v[i][j] = v
			}
		}
		dec.explain()
		for j := range 4 {
			u := t + 2*j
			if u >= frames {
				break
			}
			row, top := a.row(u), float32(0)
			for p := range row {
				row[p] = dec.h[p][j]
				top = max(top, row[p])
			}
			tops = append(tops, top)
			if u > 0 {
				was, between := a.row(u-2), a.row(u-1)
				for p := range between {
					between[p] = (was[p] + row[p]) / 2
				}
			}
		}
	}
	ref := dsp.Percentile(tops, 0.8) + 1e-9
	for i, h := range a.x {
		if h > ref*1e-4 {
			a.x[i] = float32(math.Pow(float64(h/ref), compression))
		} else {
			a.x[i] = 0
		}
	}
	g.measureLoud()
	return a, g, nil
}

// compression brings soft notes nearer to loud ones.
const compression = 0.7
