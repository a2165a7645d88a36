package studio

import (
	"slices"
	"strconv"

	"antiphon/internal/plan"
	"antiphon/internal/plan/memory"
)

// scoreBars are the bars of a score by their numbers. Of two bars with one number the first is meant.
type scoreBars struct {
	names []string
	at    map[string]int
}

func barsNamed(names []string) *scoreBars {
	s := &scoreBars{names: names, at: make(map[string]int, len(names))}
	for i, n := range slices.Backward(names) {
		s.at[n] = i
	}
	return s
}

// barsOf are the bars of a work: as its score was worked out, else those of the take that had most of them.
func (p *planning) barsOf(w WorkID, heard []HeardOnce) *scoreBars {
	if s := p.bars[w]; s != nil {
		return s
	}
	var names []string
	switch dm := p.demands[w]; {
	case dm != nil && dm.Numbers != nil:
		names = dm.Numbers
	case dm != nil && dm.Bars > 0:
		for i := range dm.Bars {
			names = append(names, strconv.Itoa(i+1))
		}
	default:
		for _, x := range heard {
			if x.Work == w && x.Bars != nil && len(x.Bars.Bar) > len(names) {
				names = x.Bars.Bar
			}
		}
		return barsNamed(names) // another student's take may have more
	}
	s := barsNamed(names)
	p.bars[w] = s
	return s
}

// of is the bar that a remark is about; not there where it is about none, though a bar may have no number.
func (s *scoreBars) of(r SaidOnce) (int, bool) {
	i, ok := s.at[r.Bar]
	return i, ok && r.Bar != ""
}

// stretch from one bar to another; "" is the score's beginning or end.
func (s *scoreBars) stretch(from, to string) (plan.Stretch, bool) {
	out := plan.Stretch{From: 0, To: len(s.names) - 1}
	ok := len(s.names) > 0
	if from != "" {
		i, there := s.at[from]
		out.From, ok = i, ok && there
	}
	if to != "" {
		i, there := s.at[to]
		out.To, ok = i, ok && there
	}
	return out, ok && out.From <= out.To
}

// barFact is what was heard of one bar in one take; with nothing written it was not played.
type barFact struct {
	written, right, stops, told int
	bpm                         float64
}

// lay puts a take's bars where they stand in the score; nil where they are not known.
func (s *scoreBars) lay(b *HeardBars) []barFact {
	if b == nil || !b.whole() {
		return nil
	}
	out := make([]barFact, len(s.names))
	for i, name := range b.Bar {
		if k, ok := s.at[name]; ok {
			out[k] = barFact{b.Written[i], b.Right[i], atOr0(b.Stops, i), atOr0(b.Told, i), atOr0(b.Bpm, i)}
		}
	}
	return out
}

// laid are the takes of a student bar by bar, as they stand in History.Heard.
func (p *planning) laid(h *History) [][]barFact {
	out := make([][]barFact, len(h.Heard))
	for i, x := range h.Heard {
		if x.Bars != nil && !p.gone(string(x.Work)) {
			out[i] = p.barsOf(x.Work, h.Heard).lay(x.Bars)
		}
	}
	return out
}

// There is what was heard of some bars in one take.
type There struct {
	Notes int // that were to be played there
	Right int
	Stops int
	Bpm   float64 // quarter notes a minute; 0 not known
	Bars  int     // that were played
}

// there sums bars up.
func there(facts []barFact, runs ...plan.Stretch) There {
	var t There
	slow, known := 0.0, 0
	for _, r := range runs {
		for i := max(r.From, 0); i <= r.To && i < len(facts); i++ {
			f := facts[i]
			if f.written == 0 {
				continue
			}
			t.Notes, t.Right, t.Stops, t.Bars = t.Notes+f.written, t.Right+f.right, t.Stops+f.stops, t.Bars+1
			if f.bpm > 0 {
				slow, known = slow+1/f.bpm, known+1 // bars last as long as they are slow
			}
		}
	}
	if known > 0 {
		t.Bpm = float64(known) / slow
	}
	return t
}

// Share of the notes that were right.
func (t There) Share() float64 {
	if t.Notes == 0 {
		return 0
	}
	return min(max(float64(t.Right)/float64(t.Notes), 0), 1) // whatever an older program counted
}

func (t There) rating() memory.Rating {
	return memory.RateThere(memory.Heard{RightShare: t.Share(), Complete: true, Stops: t.Stops, Bpm: t.Bpm}, t.Notes)
}

// runs of a skill in a work; nil where nobody knows in which bars it is needed.
func (dm *Demand) runs(skill string) []plan.Stretch {
	if dm == nil {
		return nil
	}
	var out []plan.Stretch
	at := dm.Where[skill]
	for i := 0; i+1 < len(at); i += 2 {
		out = append(out, plan.Stretch{From: at[i], To: at[i+1]})
	}
	return out
}
