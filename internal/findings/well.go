package findings

import (
	"fmt"
	"math"

	"antiphon/internal/dsp"
)

// Limits for what went well: as careful as those for what did not.
const (
	steadyBars = 4   // shortest stretch worth naming
	steadyPct  = 4.0 // no bar of it is farther from the stretch's own pace
	steadyMost = 2   // stretches named
	evenPct    = 7.0 // spread of its intervals about their own local tempo
	cleanBars  = 4   // shortest pass that is called clean
)

// wentWell names whole passes in which nothing was wrong, missing or added, and otherwise the longest
// stretches that were both right and in steady time.
func (s *scene) wentWell() []Finding {
	var out []Finding
	for i := range s.lines {
		l := &s.lines[i]
		if !l.pass.Complete || len(l.errors) > 0 || len(l.points) < 8 || s.roundCount() > 1 && i > 0 {
			continue
		}
		from, to := l.points[0].bar, l.points[len(l.points)-1].bar
		n := max(from, to) - min(from, to) + 1
		if n < cleanBars {
			continue
		}
		out = append(out, Finding{Kind: Clean, FromS: l.pass.StartS, ToS: l.pass.EndS, FromBar: l.pass.FromBar, ToBar: l.pass.ToBar,
			Size: float64(n), Unit: "bars", Confidence: 0.75, Evidence: s.ids(l.points),
			Text: fmt.Sprintf("%s from beginning to end; no wrong or missing note was heard.", capital(s.barsInWords(from, to)))})
		break
	}
	return append(out, s.steadyStretches(len(out) > 0)...)
}

// steadyStretches are the longest stretches in steady time; clean: that all notes are right is already told.
func (s *scene) steadyStretches(clean bool) []Finding {
	type run struct {
		l      *line
		bars   []barPace
		within float64
	}
	var runs []run
	for i := range s.lines {
		l := &s.lines[i]
		stops := map[int]bool{}
		for _, st := range l.steps {
			if st.stop {
				stops[st.from.bar] = true
			}
		}
		for from := 0; from < len(l.bars); {
			best, bestWithin := 0, 0.0
			for to := from + steadyBars; to <= len(l.bars); to++ {
				b := l.bars[from:to]
				w, ok := s.steadyWithin(l, b, stops)
				if !ok {
					break
				}
				best, bestWithin = to-from, w
			}
			if best == 0 {
				from++
				continue
			}
			runs = append(runs, run{l: l, bars: l.bars[from : from+best], within: bestWithin})
			from += best
		}
	}
	var out []Finding
	seen := map[int]bool{}
	for len(out) < steadyMost {
		best := -1
		for i, r := range runs {
			if len(r.bars) > 0 && !seen[r.bars[0].bar] && (best < 0 || len(r.bars) > len(runs[best].bars)) {
				best = i
			}
		}
		if best < 0 {
			break
		}
		r := runs[best]
		first, last := r.bars[0], r.bars[len(r.bars)-1]
		for _, b := range r.bars {
			seen[b.bar] = true
		}
		runs[best].bars = nil
		right := ": no wrong or missing note heard, and in steady time"
		if clean {
			right = ": in steady time" // that the notes are right is told of the whole
		}
		out = append(out, Finding{Kind: Steady, FromS: first.s, ToS: last.endS, FromBar: s.barName(first.bar), ToBar: s.barName(last.bar),
			Size: r.within, Unit: "%", Confidence: 0.75, Evidence: s.ids(within(r.l.points, first.s, last.endS)),
			Text: capital(s.barsInWords(first.bar, last.bar)) + right + s.atPace(r.bars) + "."})
	}
	return out
}

// atPace is ", at about 66 a minute"; "" where the pace is unknown. How even the time is, is told once,
// with the pass: a second figure of another kind for the same bars only puzzles.
func (s *scene) atPace(bars []barPace) string {
	var bpm []float64
	for _, b := range bars {
		if b.pace > 0 {
			bpm = append(bpm, s.bpm(b.pace, b.bar))
		}
	}
	if m := dsp.Median(bpm); m > 0 {
		return fmt.Sprintf(", at about %.0f a minute", m)
	}
	return ""
}

// steadyWithin is how far the bars of a stretch are from its own mean pace, in %; not ok where one of
// them is too far, wrong or free.
func (s *scene) steadyWithin(l *line, bars []barPace, stops map[int]bool) (float64, bool) {
	var sum float64
	n := 0
	for i, b := range bars {
		if b.free || stops[b.bar] || l.errors[b.bar] > 0 || b.bar != bars[0].bar+i {
			return 0, false
		}
		if b.pace > 0 && l.pace > 0 && 100*math.Abs(b.pace/l.pace-1) >= driftPct {
			return 0, false // steady in itself, but away from the rest of the pass
		}
		if b.pace > 0 {
			sum += math.Log(b.pace)
			n++
		}
	}
	if n < steadyBars-1 {
		return 0, false
	}
	mean := sum / float64(n)
	worst := 0.0
	for _, b := range bars {
		if b.pace > 0 {
			worst = max(worst, 100*math.Abs(math.Exp(math.Log(b.pace)-mean)-1))
		}
	}
	return worst, worst <= steadyPct && spreadPct(l, bars[0].s, bars[len(bars)-1].endS) <= evenPct
}

// spreadPct is the robust spread of the intervals of a stretch about their median pace, in %
// (1.4826 times the median absolute deviation, which is the standard deviation of normal errors).
func spreadPct(l *line, fromS, toS float64) float64 {
	var logs []float64
	for _, st := range l.steps {
		if st.from.s >= fromS-1e-9 && st.to.s <= toS+1e-9 && !st.held && st.wantS > 0 {
			logs = append(logs, math.Log(st.gotS/st.wantS))
		}
	}
	m := dsp.Median(logs)
	for i := range logs {
		logs[i] = math.Abs(logs[i] - m)
	}
	return 100 * 1.4826 * dsp.Median(logs)
}
