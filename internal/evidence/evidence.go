// Package evidence lays a hearing out along its score, pass by pass and bar by bar: when each note was
// heard against where it belongs, how loud, what was heard in its place, and one sentence for each bar.
//
// It draws nothing and judges nothing. Notes are named by the ids of the score, so that whoever draws
// them finds their place on the engraved page.
package evidence

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"antiphon/internal/ear"
	"antiphon/internal/music"
)

// Line is one pass laid out bar by bar, for text and page alike.
type Line struct {
	Pass  ear.Pass
	Bars  []Measure // those of which something was heard or missed, in order of the score
	Clock Clock
	Jump  *ear.Jump // how the player came here; nil for the first pass
}

// Measure is one bar of a pass.
type Measure struct {
	Index   int     // into Score.Bars
	Label   string  // as printed; where nothing is printed, its place in the file
	StartQ  float64 // quarters from the start of the score
	LengthQ float64
	FromS   float64 // by the tempo around it; may lie outside the pass
	ToS     float64
	Heard   []Placed // in order of time
	Missed  []ear.Missed
	Written int // notes of the score in this bar, reached by this pass or not
}

// Placed is a played note with its place in the bar.
type Placed struct {
	ear.Played
	PlaceQ float64 // quarters from the bar line where it belongs; of an added note where it fell
	AtQ    float64 // quarters from the bar line where it was heard
	EndQ   float64
}

// Clock turns places of the score into seconds and back, within one pass.
type Clock struct{ q, s []float64 }

// newClock goes through the places that the local tempo gives the notes, at most one point for each
// place and always forward.
func newClock(h *ear.Hearing, played []ear.Played) Clock {
	at := map[float64][]float64{}
	for _, n := range played {
		if n.Note >= 0 && !h.Score[n.Note].Grace {
			q := h.Score[n.Note].Onset.Q()
			at[q] = append(at[q], n.OnsetS-finite(n.TimingMs)/1000)
		}
	}
	qs := make([]float64, 0, len(at))
	for q := range at {
		qs = append(qs, q)
	}
	slices.Sort(qs)
	var c Clock
	for _, q := range qs {
		v := at[q]
		slices.Sort(v)
		s := v[len(v)/2]
		if n := len(c.s); n > 0 && s <= c.s[n-1]+1e-3 {
			continue
		}
		c.q, c.s = append(c.q, q), append(c.s, s)
	}
	return c
}

// brokenLine is the value at x of the broken line through xs, ys, carried on at both ends.
func brokenLine(xs, ys []float64, x, slope float64) float64 {
	n := len(xs)
	switch {
	case n == 0:
		return 0
	case n == 1:
		return ys[0] + (x-xs[0])*slope
	}
	i := min(max(sort.SearchFloat64s(xs, x), 1), n-1)
	return ys[i-1] + (x-xs[i-1])*(ys[i]-ys[i-1])/(xs[i]-xs[i-1])
}

// Seconds is when a place of the written score, in quarters from its start, was or would have been
// played in this pass: between two heard notes in a straight line, outside them at the nearest pace.
func (c Clock) Seconds(q float64) float64 {
	return brokenLine(c.q, c.s, q, 60.0/music.DefaultQuarterBpm)
}

// Quarters is the place of the score at a moment of the pass.
func (c Clock) Quarters(s float64) float64 {
	return brokenLine(c.s, c.q, s, music.DefaultQuarterBpm/60.0)
}

// Points are the places in quarters and their seconds that the clock goes through, both growing. They
// are not to be changed.
func (c Clock) Points() (q, s []float64) { return c.q, c.s }

// Span is the part of the score, in quarters, between the first and the last heard place; ok is false
// where fewer than two places were heard.
func (c Clock) Span() (fromQ, toQ float64, ok bool) {
	if len(c.q) < 2 {
		return 0, 0, false
	}
	return c.q[0], c.q[len(c.q)-1], true
}

// Lay lays a hearing out; score is the one that it was made with.
func Lay(h *ear.Hearing, score *music.Score) []Line {
	var out []Line
	for i, p := range h.Passes {
		var played []ear.Played
		var gone []ear.Missed
		for _, n := range h.Played {
			if n.Pass == p.N {
				played = append(played, n)
			}
		}
		for _, m := range h.Missed {
			if m.Pass == p.N {
				gone = append(gone, m)
			}
		}
		v := Line{Pass: p, Clock: newClock(h, played)}
		if i > 0 {
			v.Jump = jumpInto(h, p)
		}
		v.Bars = bars(h, score, v.Clock, played, gone)
		out = append(out, v)
	}
	return out
}

// jumpInto is the jump that ends where a pass begins.
func jumpInto(h *ear.Hearing, p ear.Pass) *ear.Jump {
	for i := range h.Jumps {
		if j := &h.Jumps[i]; math.Abs(j.ResumeS-p.StartS) < 0.5 {
			return j
		}
	}
	return nil
}

func bars(h *ear.Hearing, score *music.Score, c Clock, played []ear.Played, gone []ear.Missed) []Measure {
	written := map[int]int{}
	for _, n := range h.Score {
		if !n.Cue {
			written[n.BarIndex]++
		}
	}
	at := map[int]*Measure{}
	view := func(index int) *Measure {
		if at[index] == nil {
			b := &Measure{Index: index, Label: fmt.Sprint(index + 1), Written: written[index]}
			if index < len(score.Bars) {
				bar := score.Bars[index]
				b.StartQ, b.LengthQ = bar.Start.Q(), bar.Length.Q()
				if bar.Number != "" {
					b.Label = bar.Number
				}
			}
			b.FromS, b.ToS = c.Seconds(b.StartQ), c.Seconds(b.StartQ+b.LengthQ)
			at[index] = b
		}
		return at[index]
	}
	for _, n := range played {
		if n.Note < 0 {
			continue
		}
		w := h.Score[n.Note]
		b := view(w.BarIndex)
		place := w.Onset.Q() - b.StartQ
		// A hair of time is a hair of place: the local tempo turns the one into the other.
		perQ := max(0.05, c.Seconds(w.Onset.Q()+0.5)-c.Seconds(w.Onset.Q()-0.5))
		late := n.OnsetS - c.Seconds(w.Onset.Q())
		length := max(n.OffsetS-n.OnsetS, 0.05) / perQ
		b.Heard = append(b.Heard, Placed{n, place, place + late/perQ, place + late/perQ + length})
	}
	for _, m := range gone {
		b := view(h.Score[m.Note].BarIndex)
		b.Missed = append(b.Missed, m)
	}
	var out []Measure
	for _, b := range at {
		out = append(out, *b)
	}
	slices.SortFunc(out, func(a, b Measure) int { return cmp.Compare(a.Index, b.Index) })
	for _, n := range played { // added notes go where they fell
		if n.Note >= 0 || len(out) == 0 {
			continue
		}
		i := 0
		for k := range out {
			if out[k].FromS <= n.OnsetS {
				i = k
			}
		}
		b := &out[i]
		place := min(max(c.Quarters(n.OnsetS)-b.StartQ, 0), b.LengthQ)
		b.Heard = append(b.Heard, Placed{n, place, place, place + 0.25})
	}
	for i := range out {
		slices.SortStableFunc(out[i].Heard, func(a, b Placed) int { return cmp.Compare(a.OnsetS, b.OnsetS) })
	}
	// A bar ends where the next one begins, unless something was left out between them.
	for i := 1; i < len(out); i++ {
		if out[i].Index == out[i-1].Index+1 {
			out[i-1].ToS = out[i].FromS
		}
	}
	return out
}

func finite(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}
