package findings

import (
	"fmt"
	"math"
	"slices"

	"antiphon/internal/ear"
)

// Limits for the beat. A listener notices a lasting change of tempo from about 5 to 6 % on (a just
// noticeable difference of 4.4 % for single changes in slow sequences, Friberg & Sundberg 1995, from
// memory; ours are set above it), and people at ease keep a beat to some 4 to 6 %.
const (
	driftPct    = 6.0  // a stretch this much faster or slower than the rest of the pass is worth a word
	driftEndPct = 9.0  // a pass that ends this much faster or slower than it began
	driftBars   = 2    // shortest stretch
	driftFitR   = 0.75 // correlation of pace with place from which a pass is said to speed up or slow down
	driftMin    = 6    // shortest pass, in bars, of which this is asked
	unsteadyPct = 12.0 // spread of neighbouring intervals about the local tempo
	tempoPct    = 8.0  // distance from the mark or the goal; the tempo itself is always shown

	stopS     = 0.35 // a stop lasts at least this much longer than written
	stopBeats = 0.6  // and this many beats
	stopRatio = 1.5  // and the note before it becomes this much longer

	pairRatio = 1.18 // long to short where equal notes are written
	pairCount = 12   // pairs needed
	pairAgree = 0.85 // share of pairs that lean the same way
)

// hesitations are stops after which the player went on from the same place, grouped over passes.
func (s *scene) hesitations() []Finding {
	type stop struct{ atS, overS, want float64 }
	found := map[int][]stop{} // by the first note after the stop
	var order []int
	add := func(note int, st stop) {
		if found[note] == nil {
			order = append(order, note)
		}
		found[note] = append(found[note], st)
	}
	for i, l := range s.lines {
		for k, st := range l.steps {
			if st.stop {
				want := st.wantS / s.localPace(&l, k)
				add(st.to.notes[0], stop{st.from.s, st.gotS - want, want})
			}
		}
		if i == 0 || len(l.points) == 0 || len(s.lines[i-1].points) == 0 || s.jumpBetween(s.lines[i-1].pass, l.pass) {
			continue
		}
		a, b := s.lines[i-1].points[len(s.lines[i-1].points)-1], l.points[0]
		want := s.secondsAsMarked(a.q, b.q) / max(s.lines[i-1].pace, 0.1)
		if b.q > a.q && b.s-a.s-want >= stopS {
			add(b.notes[0], stop{a.s, b.s - a.s - want, want})
		}
	}
	var out []Finding
	for _, note := range order {
		n, stops := s.h.Score[note], found[note]
		longest := stops[0]
		f := Finding{Kind: Hesitation, Unit: "s", FromBar: s.barName(n.BarIndex), ToBar: s.barName(n.BarIndex), Evidence: []string{n.ID}}
		for _, st := range stops {
			if st.overS > longest.overS {
				longest = st
			}
			f.AtS = append(f.AtS, st.atS)
		}
		f.FromS, f.ToS, f.Size = longest.atS, longest.atS+longest.want+longest.overS, longest.overS
		f.AtS = append([]float64{longest.atS}, slices.DeleteFunc(f.AtS, func(v float64) bool { return v == longest.atS })...)
		f.Confidence = min(0.95, 0.6+0.2*longest.overS)
		where := "before " + s.barsInWords(n.BarIndex, n.BarIndex)
		if n.Onset.Cmp(s.score.Bars[n.BarIndex].Start) != 0 {
			where = "in " + s.barsInWords(n.BarIndex, n.BarIndex) + " before " + s.beatInWords(n)
		}
		if len(stops) > 1 {
			f.Text = fmt.Sprintf("A stop %s, %s; the longest lasts %.1f seconds.", where, timesInWords(len(stops)), longest.overS)
		} else {
			f.Text = fmt.Sprintf("A stop of %.1f seconds %s.", longest.overS, where)
		}
		out = append(out, f)
	}
	return out
}

func (s *scene) jumpBetween(a, b ear.Pass) bool {
	for _, j := range s.h.Jumps {
		if j.StopS >= a.StartS-0.5 && j.StopS <= b.StartS+0.5 && j.ResumeS >= a.EndS-0.5 && j.ResumeS <= b.StartS+0.5 {
			return true
		}
	}
	return false
}

// pace finds stretches that run ahead or fall behind, and passes without a settled beat.
func (s *scene) pace() []Finding {
	var out []Finding
	for i := range s.lines {
		l := &s.lines[i]
		if f, ok := s.wholeDrift(l); ok {
			out = append(out, f)
		} else {
			out = append(out, s.stretches(l)...)
		}
	}
	return append(out, s.unsettled()...)
}

// unsettled finds passes without a settled beat; passes over the same bars are one finding.
func (s *scene) unsettled() []Finding {
	var out []Finding
	at := map[string]int{}
	for i := range s.lines {
		l := &s.lines[i]
		p := l.pass
		if p.SteadinessPct < unsteadyPct || len(l.points) < 8 || s.pairs(l).share >= pairAgree {
			continue
		}
		f := Finding{Kind: Unsteady, FromS: p.StartS, ToS: p.EndS, FromBar: p.FromBar, ToBar: p.ToBar, AtS: []float64{p.StartS},
			Size: p.SteadinessPct, Unit: "%", Confidence: min(0.9, 0.5+p.SteadinessPct/60), Evidence: s.ids(l.points)}
		key := p.FromBar + "\x00" + p.ToBar
		if k, ok := at[key]; ok {
			f.AtS = append(out[k].AtS, p.StartS)
			if out[k].Size > f.Size {
				f.FromS, f.ToS, f.Size, f.Confidence, f.Evidence = out[k].FromS, out[k].ToS, out[k].Size, out[k].Confidence, out[k].Evidence
			}
			out[k] = f
			continue
		}
		at[key] = len(out)
		out = append(out, f)
	}
	for i := range out {
		f := &out[i]
		f.Text = fmt.Sprintf("The beat is unsettled in %s: neighbouring notes differ by about %.0f %% from an even pulse", s.barWords(f.FromBar, f.ToBar), f.Size)
		if n := len(f.AtS); n > 1 {
			f.Text += fmt.Sprintf(" (%d passes)", n)
		}
		f.Text += "."
	}
	return out
}

// barWords is barsInWords for printed numbers.
func (s *scene) barWords(from, to string) string {
	if from == to {
		return s.barWord(from)
	}
	if from == "0" {
		return "the pickup to bar " + to
	}
	return "bars " + from + "–" + to
}

// bpm of a pace at a place, in the beats that the hearing counts.
func (s *scene) bpm(pace float64, bar int) float64 {
	if bar < 0 || bar >= len(s.score.Bars) {
		return 0
	}
	q, _ := s.score.TempoAt(s.score.Bars[bar].Start)
	return q * pace / s.unitQ
}

// wholeDrift finds a pass that speeds up or slows down all along.
func (s *scene) wholeDrift(l *line) (Finding, bool) {
	bars := measured(l.bars)
	if len(bars) < driftMin {
		return Finding{}, false
	}
	bars = bars[:len(bars)-1] // the last bar may close with a breath
	var x, y []float64
	for i, b := range bars {
		x, y = append(x, float64(i)), append(y, math.Log(b.pace))
	}
	slope, at0, r := fit(x, y)
	total := 100 * (math.Exp(slope*float64(len(bars)-1)) - 1)
	if math.Abs(total) < driftEndPct || math.Abs(r) < driftFitR {
		return Finding{}, false
	}
	first, last := bars[0], bars[len(bars)-1]
	kind, verb := Rushing, "gets faster"
	if total < 0 {
		kind, verb = Dragging, "gets slower"
	}
	from, to := s.bpm(math.Exp(at0), first.bar), s.bpm(math.Exp(at0+slope*float64(len(bars)-1)), last.bar)
	return Finding{Kind: kind, Aspect: "throughout", FromS: first.s, ToS: last.endS, FromBar: s.barName(first.bar), ToBar: s.barName(last.bar),
		Size: math.Abs(total), Unit: "%", Confidence: min(0.95, math.Abs(r)), Evidence: s.ids(within(l.points, first.s, last.endS)),
		Text: fmt.Sprintf("The playing %s all the way through %s: from about %.0f to %.0f a minute.", verb, s.barsInWords(first.bar, last.bar), from, to)}, true
}

// stretches finds runs of bars away from the typical pace of the pass. A slower end is how music
// closes, and is not reported.
func (s *scene) stretches(l *line) []Finding {
	bars := measured(l.bars)
	if len(bars) < driftMin || l.pace <= 0 {
		return nil
	}
	var out []Finding
	for i := 0; i < len(bars); {
		away := func(b barPace) float64 { return 100 * (b.pace/l.pace - 1) }
		sign := 0.0
		if d := away(bars[i]); math.Abs(d) >= driftPct {
			sign = math.Copysign(1, d)
		}
		if sign == 0 {
			i++
			continue
		}
		j, sum := i, 0.0
		for j < len(bars) && sign*away(bars[j]) >= driftPct && (j == i || bars[j].bar == bars[j-1].bar+1) {
			sum += away(bars[j])
			j++
		}
		run := bars[i:j]
		closing := sign < 0 && j >= len(bars)-1
		i = j
		if len(run) < driftBars || closing {
			continue
		}
		size := math.Abs(sum) / float64(len(run))
		kind, word := Rushing, "faster"
		if sign < 0 {
			kind, word = Dragging, "slower"
		}
		first, last := run[0], run[len(run)-1]
		out = append(out, Finding{Kind: kind, FromS: first.s, ToS: last.endS, FromBar: s.barName(first.bar), ToBar: s.barName(last.bar),
			Size: size, Unit: "%", Confidence: min(0.95, 0.45+0.03*size+0.05*float64(len(run))), Evidence: s.ids(within(l.points, first.s, last.endS)),
			Text: fmt.Sprintf("%s about %.0f %% %s than the rest.", capital(s.barsInWords(first.bar, last.bar))+" "+be(len(run)), size, word)})
	}
	return out
}

func be(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

// againstMark compares the tempo with the goal, or with the score's own mark.
func (s *scene) againstMark() []Finding {
	want, whose := s.h.Tempo.MarkedBpm, "the score says %.0f"
	if s.opt.GoalBpm > 0 {
		want, whose = s.opt.GoalBpm, "%.0f was asked for"
	}
	got := s.h.Tempo.MedianBpm
	if want <= 0 || got <= 0 || s.roundCount() > 1 {
		return nil
	}
	size := 100 * (got/want - 1)
	if math.Abs(size) < tempoPct {
		return nil
	}
	word := "faster"
	if size < 0 {
		word = "slower"
	}
	first, last := s.h.Passes[0], s.h.Passes[len(s.h.Passes)-1]
	return []Finding{{Kind: Tempo, Aspect: word, FromS: first.StartS, ToS: last.EndS, FromBar: first.FromBar, ToBar: last.ToBar, Size: size, Unit: "%",
		Confidence: 0.9, Text: fmt.Sprintf("Played at about %.0f a minute; "+whose+" (%.0f %% %s).", got, want, math.Abs(size), word)}}
}

// measured are the bars with a pace of their own, in which the score does not ask for freedom.
func measured(bars []barPace) []barPace {
	var out []barPace
	for _, b := range bars {
		if b.pace > 0 && !b.free {
			out = append(out, b)
		}
	}
	return out
}

func within(points []point, fromS, toS float64) []point {
	var out []point
	for _, p := range points {
		if p.s >= fromS-1e-9 && p.s <= toS+1e-9 {
			out = append(out, p)
		}
	}
	return out
}

func (s *scene) ids(points []point) []string {
	var out []string
	for _, p := range points {
		for _, n := range p.notes {
			out = append(out, s.h.Score[n].ID)
		}
	}
	return out
}

// fit is the least-squares line through points, with the correlation; zeros for fewer than two.
func fit(x, y []float64) (slope, at0, r float64) {
	n := float64(len(x))
	if n < 2 {
		return 0, 0, 0
	}
	var mx, my, sxx, syy, sxy float64
	for i := range x {
		mx, my = mx+x[i]/n, my+y[i]/n
	}
	for i := range x {
		sxx += (x[i] - mx) * (x[i] - mx)
		syy += (y[i] - my) * (y[i] - my)
		sxy += (x[i] - mx) * (y[i] - my)
	}
	if sxx == 0 || syy == 0 {
		return 0, my, 0
	}
	slope = sxy / sxx
	return slope, my - slope*mx, sxy / math.Sqrt(sxx*syy)
}
