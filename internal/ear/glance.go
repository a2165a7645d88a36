package ear

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// A glance compares a take with a score by the order of its pitches alone: no tempo, any beginning, leaps
// at a price. It is a hundred times quicker than following, so that it can be cast on every score at
// every height.
const (
	glanceFloor  = 0.1 // pitches less likely than this are not looked at
	glanceOmit   = 0.9 // a moment left out, and each one more
	glanceBeside = 0.7 // a stroke that is no moment
	glanceLeap   = 3.5
	glanceMost   = 2 // moments left out in a row
)

// glanced is a clear stroke with the pitches that likely began there.
type glanced struct {
	pitches []int // indices of activity rows
	likely  []float32
	sum     float32
	weight  float32 // how clearly anything began
}

// glanceStrokes keeps the strokes at which a pitch clearly began.
func glanceStrokes(strokes []stroke) []glanced {
	var out []glanced
	for i := range strokes {
		k := &strokes[i]
		if k.clear <= clearStroke {
			continue
		}
		g := glanced{weight: float32(k.clear)}
		for p, v := range k.likely {
			if v > glanceFloor {
				g.pitches, g.likely, g.sum = append(g.pitches, p), append(g.likely, v), g.sum+v
			}
		}
		out = append(out, g)
	}
	return out
}

// glimpsed is how like a take a score looked at a glance.
type glimpsed struct {
	work, shift int
	gain        float64 // for each stroke
}

// glance finds the scores that look most like the take, each at its best height: first as the tuning
// allows, then elsewhere.
func (r *Repertoire) glance(ctx context.Context, strokes []glanced, near []int) ([]glimpsed, error) {
	var all []glimpsed
	if len(strokes) == 0 {
		return nil, nil
	}
	var g glancer
	var began [pitchCount]float32
	for i := range strokes {
		for k, p := range strokes[i].pitches {
			began[p] += strokes[i].likely[k] * strokes[i].weight
		}
	}
	for i, w := range r.works {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if len(w.kinds) == 0 {
			continue
		}
		best := glimpsed{work: i, gain: math.Inf(-1)}
		for n, shift := range slices.Concat(near, elsewhere) {
			if contained(&began, &w, shift) < containedLeast {
				continue
			}
			gain := g.gain(strokes, &w, shift) / float64(len(strokes))
			if n >= len(near) {
				gain -= awayPrice
			}
			if gain > best.gain {
				best.gain, best.shift = gain, shift
			}
		}
		if !math.IsInf(best.gain, -1) {
			all = append(all, best)
		}
	}
	slices.SortStableFunc(all, func(a, b glimpsed) int { return cmp.Compare(b.gain, a.gain) })
	return all[:min(len(all), mostLikely)], nil
}

// awayPrice is what a capo that nobody told of costs, for each stroke.
const awayPrice = 0.15

// containedLeast is the least share of what began in a take that has to be pitches of a score, at some height, for
// a closer look at it there. Of takes with their own score 0.82 and more were (120 simulated takes, every tenth note
// wrong in some); a diatonic score in a key that is not near shares less than two thirds.
const containedLeast = 0.7

// contained is the share of what began that is one of the pitches of a score that lies shift semitones lower.
func contained(began *[pitchCount]float32, w *work, shift int) float32 {
	var in, all float32
	for p, v := range began {
		all += v
		if midi := p + lowestMidi - shift; midi >= 0 && midi < len(w.has) && w.has[midi] {
			in += v
		}
	}
	return in / all
}

// glancer holds what a glance writes on.
type glancer struct {
	fit      []float32 // of one stroke, by kind
	at, next []float32 // best gain at each moment
	masks    [][]float32
}

// gain is the gain of the best path of the strokes through a score that lies shift semitones lower.
func (g *glancer) gain(strokes []glanced, w *work, shift int) float64 {
	m := len(w.kinds)
	g.at, g.next = fill(g.at, m), fill(g.next, m)
	g.look(w.route.kinds, shift)
	var top float32 // of the last stroke
	for i := range strokes {
		s := &strokes[i]
		for k := range w.route.kinds {
			g.fit[k] = s.weight * g.fits(s, k, w.route.kinds[k], shift)
		}
		leap := top - glanceLeap
		if i == 0 {
			leap = 0
		}
		top = -1e9
		for j, k := range w.kinds {
			v := leap
			for d := 1; d <= 1+glanceMost && d <= j; d++ {
				v = max(v, g.at[j-d]-glanceOmit*float32(d-1))
			}
			v = max(v+g.fit[k], g.at[j]-glanceBeside*s.weight)
			g.next[j] = v
			top = max(top, v)
		}
		g.at, g.next = g.next, g.at
	}
	return float64(top)
}

// fill makes a slice of n zeros.
func fill(s []float32, n int) []float32 {
	if cap(s) < n {
		return make([]float32, n)
	}
	s = s[:n]
	clear(s)
	return s
}

// look prepares the masks of strangers.
func (g *glancer) look(kinds [][]int, shift int) {
	g.fit = fill(g.fit, len(kinds))
	for len(g.masks) < len(kinds) {
		g.masks = append(g.masks, make([]float32, pitchCount))
	}
	for k, pitches := range kinds {
		maskStrangers(g.masks[k], pitches, shift)
	}
}

// fits is fitKind for a glance.
func (g *glancer) fits(s *glanced, k int, pitches []int, shift int) float32 {
	mask := g.masks[k]
	var own, strange float32
	n := 0
	for _, midi := range pitches {
		p := midi + shift - lowestMidi
		if p < 0 || p >= pitchCount {
			continue
		}
		n++
		if i := slices.Index(s.pitches, p); i >= 0 {
			own += s.likely[i]
		}
	}
	if n == 0 {
		return worstMatch
	}
	for i, p := range s.pitches {
		strange += mask[p] * s.likely[i]
	}
	v := matchGain*own/float32(n) - strangerCost*min(1.2, strange/(strange+own+0.15)) - matchOffset
	return max(worstMatch, v)
}
