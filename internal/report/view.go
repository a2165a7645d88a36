package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/music"
)

// passView is one pass laid out bar by bar, for text and page alike.
type passView struct {
	pass  ear.Pass
	bars  []barView
	clock clock
	jump  *ear.Jump // how the player came here; nil for the first pass
}

// barView is one bar of a pass.
type barView struct {
	index    int
	label    string
	startQ   float64
	lengthQ  float64
	fromS    float64
	toS      float64
	heard    []heardNote
	notHeard []ear.Missed
}

// heardNote is a played note with its place in the bar.
type heardNote struct {
	ear.Played
	placeQ float64 // quarters from the bar line where it belongs; of an added note where it fell
	atQ    float64 // quarters from the bar line where it was heard
	endQ   float64
}

// clock turns places of the score into seconds and back, within one pass.
type clock struct{ q, s []float64 }

// newClock goes through the places that the local tempo gives the notes, at most one point for each
// place and always forward.
func newClock(h *ear.Hearing, played []ear.Played) clock {
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
	var c clock
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

func (c clock) seconds(q float64) float64 {
	return brokenLine(c.q, c.s, q, 60.0/music.DefaultQuarterBpm)
}

func (c clock) quarters(s float64) float64 {
	return brokenLine(c.s, c.q, s, music.DefaultQuarterBpm/60.0)
}

// passes lays the hearing out.
func (r Report) passes() []passView {
	h := r.Hearing
	var out []passView
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
		v := passView{pass: p, clock: newClock(h, played)}
		if i > 0 {
			v.jump = r.jumpInto(p)
		}
		v.bars = r.bars(v.clock, played, gone)
		out = append(out, v)
	}
	return out
}

// jumpInto is the jump that ends where a pass begins.
func (r Report) jumpInto(p ear.Pass) *ear.Jump {
	for i := range r.Hearing.Jumps {
		if j := &r.Hearing.Jumps[i]; math.Abs(j.ResumeS-p.StartS) < 0.5 {
			return j
		}
	}
	return nil
}

func (r Report) bars(c clock, played []ear.Played, gone []ear.Missed) []barView {
	at := map[int]*barView{}
	view := func(index int) *barView {
		if at[index] == nil {
			b := &barView{index: index, label: fmt.Sprint(index + 1)}
			if index < len(r.Score.Bars) {
				bar := r.Score.Bars[index]
				b.startQ, b.lengthQ = bar.Start.Q(), bar.Length.Q()
				if bar.Number != "" {
					b.label = bar.Number
				}
			}
			b.fromS, b.toS = c.seconds(b.startQ), c.seconds(b.startQ+b.lengthQ)
			at[index] = b
		}
		return at[index]
	}
	for _, n := range played {
		if n.Note < 0 {
			continue
		}
		w := r.Hearing.Score[n.Note]
		b := view(w.BarIndex)
		place := w.Onset.Q() - b.startQ
		// A hair of time is a hair of place: the local tempo turns the one into the other.
		perQ := max(0.05, c.seconds(w.Onset.Q()+0.5)-c.seconds(w.Onset.Q()-0.5))
		late := n.OnsetS - c.seconds(w.Onset.Q())
		length := max(n.OffsetS-n.OnsetS, 0.05) / perQ
		b.heard = append(b.heard, heardNote{n, place, place + late/perQ, place + late/perQ + length})
	}
	for _, m := range gone {
		b := view(r.Hearing.Score[m.Note].BarIndex)
		b.notHeard = append(b.notHeard, m)
	}
	var bars []barView
	for _, b := range at {
		bars = append(bars, *b)
	}
	slices.SortFunc(bars, func(a, b barView) int { return cmp.Compare(a.index, b.index) })
	for _, n := range played { // added notes go where they fell
		if n.Note >= 0 || len(bars) == 0 {
			continue
		}
		i := 0
		for k := range bars {
			if bars[k].fromS <= n.OnsetS {
				i = k
			}
		}
		b := &bars[i]
		place := min(max(c.quarters(n.OnsetS)-b.startQ, 0), b.lengthQ)
		b.heard = append(b.heard, heardNote{n, place, place, place + 0.25})
	}
	for i := range bars {
		slices.SortStableFunc(bars[i].heard, func(a, b heardNote) int { return cmp.Compare(a.OnsetS, b.OnsetS) })
	}
	// A bar ends where the next one begins, unless something was left out between them.
	for i := 1; i < len(bars); i++ {
		if bars[i].index == bars[i-1].index+1 {
			bars[i-1].toS = bars[i].fromS
		}
	}
	return bars
}

// counts of what was not as written in a bar.
func (b barView) counts() (wrong, extra, missed int) {
	for _, n := range b.heard {
		switch n.Verdict {
		case ear.Wrong:
			wrong++
		case ear.Extra:
			extra++
		}
	}
	return wrong, extra, len(b.notHeard)
}

// heardName spells a pitch that was heard, with signs: as written where it is the written one, else
// as the key would, "F♮" where the key has F sharp.
func (r Report) heardName(n ear.Played) string {
	bar := 0
	part := ""
	if n.Note >= 0 {
		w := r.Hearing.Score[n.Note]
		if w.Midi == n.Midi {
			return sign(w.Name, false)
		}
		bar, part = w.BarIndex, w.Part
	}
	fifths := 0
	for i, p := range r.Score.Parts {
		if p.ID != part && (part != "" || i > 0) {
			continue
		}
		for _, a := range p.Attributes {
			if a.Key != nil && a.Bar <= bar {
				fifths = a.Key.Fifths
			}
		}
	}
	p := music.SpellMidi(n.Midi, fifths)
	if p.Alter == 0 && findings.AlteredByKey(p.Step, fifths) {
		return string(p.Step) + "♮"
	}
	return sign(p.Name(), false)
}
