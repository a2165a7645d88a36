package ear

import (
	"math"
	"slices"

	"antiphon/internal/dsp"
	"antiphon/internal/music"
)

// beatAt is one matched moment in time: where it stands in the score and when it was played.
type beatAt struct {
	q, s   float64
	moment int
	notes  []int // indices into Hearing.Played
}

// pulse measures tempo, steadiness and the timing of each note.
func (h *Hearing) pulse(r *route) {
	unit := r.score.BeatUnitAt(music.Beats{}).Q()
	h.Tempo.BeatUnitQ = unit
	if r.marked {
		h.Tempo.MarkedBpm = 60 / r.spq / unit
	}
	momentOf := map[int]int{}
	for i, m := range r.moments {
		for _, n := range m.notes {
			momentOf[n] = i
		}
	}
	var allBeats, allSpread, even []float64
	for i := range h.Passes {
		p := &h.Passes[i]
		line := h.matched(p.N, momentOf, r)
		beats := beatTimes(line, unit)
		if len(beats) == 0 && len(line) > 1 { // less than a beat, as in a short exercise that begins with rests
			a, b := line[0], line[len(line)-1]
			beats = []float64{unit * (b.s - a.s) / (b.q - a.q)}
		}
		allBeats = append(allBeats, beats...)
		if len(beats) > 0 {
			p.Bpm = 60 / dsp.Percentile(beats, 0.5)
		}
		spread := h.timing(line, r)
		p.SteadinessPct = spreadPct(spread)
		allSpread = append(allSpread, spread...)
		even = append(even, evenPairs(line)...)
		h.curve(line, r, unit)
	}
	if len(allBeats) > 0 {
		h.Tempo.MedianBpm = 60 / dsp.Percentile(allBeats, 0.5)
	}
	h.Tempo.SteadinessPct = spreadPct(allSpread)
	if len(even) > 0 {
		var sum float64
		for _, v := range even {
			sum += v
		}
		h.Tempo.NPVI = 100 * sum / float64(len(even))
	}
}

// matched lists the moments of one pass in order of score, each at the median of its right notes.
func (h *Hearing) matched(pass int, momentOf map[int]int, r *route) []beatAt {
	at := map[int]*beatAt{}
	for i, n := range h.Played {
		if n.Pass != pass || n.Note < 0 || r.notes[n.Note].Grace {
			continue
		}
		m := momentOf[n.Note]
		if at[m] == nil {
			at[m] = &beatAt{q: r.moments[m].q, moment: m}
		}
		at[m].notes = append(at[m].notes, i)
	}
	var line []beatAt
	for _, b := range at {
		var s []float64
		for _, i := range b.notes {
			s = append(s, h.Played[i].OnsetS)
		}
		b.s = dsp.Percentile(s, 0.5)
		line = append(line, *b)
	}
	slices.SortFunc(line, func(a, b beatAt) int { return a.moment - b.moment })
	// Notes of neighbouring moments may cross in time by a hair; time has to go forward.
	kept := line[:0]
	for _, b := range line {
		if n := len(kept); n == 0 || b.s > kept[n-1].s+0.005 {
			kept = append(kept, b)
		}
	}
	return kept
}

// beatTimes are the lengths in seconds of the beats of a pass, between interpolated beat places.
func beatTimes(line []beatAt, unit float64) []float64 {
	var out []float64
	if len(line) < 2 {
		return nil
	}
	place := func(q float64) float64 {
		i, _ := slices.BinarySearchFunc(line, q, func(b beatAt, q float64) int {
			switch {
			case b.q < q-1e-9:
				return -1
			case b.q > q+1e-9:
				return 1
			}
			return 0
		})
		if i < len(line) && math.Abs(line[i].q-q) < 1e-6 {
			return line[i].s
		}
		a, b := line[i-1], line[i]
		return a.s + (q-a.q)/(b.q-a.q)*(b.s-a.s)
	}
	first, last := line[0].q, line[len(line)-1].q
	for k := math.Ceil(first/unit - 1e-9); (k+1)*unit <= last+1e-9; k++ {
		out = append(out, place((k+1)*unit)-place(k*unit))
	}
	return out
}

// localBars is how many bars to each side the local tempo is taken over (DESIGN: ±2).
const localBars = 2

// timing fills in TimingMs of the notes of a pass against a robust local line of time over score
// place, and returns the logs of the inter-onset intervals over those the line gives.
func (h *Hearing) timing(line []beatAt, r *route) []float64 {
	if len(line) < 4 {
		return nil
	}
	fit := make([]float64, len(line))
	slope := make([]float64, len(line))
	stops := stopsIn(line)
	for i, b := range line {
		reach := localBars * r.score.Bars[r.moments[b.moment].bar].Length.Q()
		first, last := i, i // the stretch without a stop that b stands in
		for first > 0 && !stops[first] {
			first--
		}
		for last+1 < len(line) && !stops[last+1] {
			last++
		}
		lo, hi := i, i
		for lo > first && b.q-line[lo-1].q <= reach {
			lo--
		}
		for hi < last && line[hi+1].q-b.q <= reach {
			hi++
		}
		for hi-lo < 4 && (lo > first || hi < last) {
			lo, hi = max(first, lo-1), min(last, hi+1)
		}
		fit[i], slope[i] = robustLine(line[lo:hi+1], b.q)
	}
	var logs []float64
	for i, b := range line {
		for _, n := range b.notes {
			h.Played[n].TimingMs = 1000 * (h.Played[n].OnsetS - fit[i])
		}
		if i > 0 && !stops[i] {
			want := (b.q - line[i-1].q) * (slope[i] + slope[i-1]) / 2
			if got := b.s - line[i-1].s; want > 0 && got > 0 {
				logs = append(logs, math.Log(got/want))
			}
		}
	}
	return logs
}

// A stop lasts so many times as long as the notes before it are written, and so many seconds longer.
const stopTimes, stopExtraS = 1.7, 0.5

// stopsIn says of each moment of a pass whether the player stopped before it: a tempo does not go on
// through a stop.
func stopsIn(line []beatAt) []bool {
	stops := make([]bool, len(line))
	var spqs []float64
	for i := 1; i < len(line); i++ {
		spqs = append(spqs, (line[i].s-line[i-1].s)/(line[i].q-line[i-1].q))
	}
	spq := dsp.Percentile(spqs, 0.5)
	for i := 1; i < len(line); i++ {
		got, want := line[i].s-line[i-1].s, (line[i].q-line[i-1].q)*spq
		stops[i] = got > stopTimes*want && got > want+stopExtraS
	}
	return stops
}

// robustLine fits s = c + slope·q by iteratively reweighted least squares (Huber weights at 1.5
// times the median deviation), and returns its value at q and its slope.
func robustLine(pts []beatAt, q float64) (at, slope float64) {
	w := make([]float64, len(pts))
	dev := make([]float64, len(pts))
	for i := range w {
		w[i] = 1
	}
	for range 5 {
		var sw, sq, ss, sqq, sqs float64
		for i, p := range pts {
			x := p.q - q
			sw += w[i]
			sq += w[i] * x
			ss += w[i] * p.s
			sqq += w[i] * x * x
			sqs += w[i] * x * p.s
		}
		if d := sw*sqq - sq*sq; d > 1e-12 {
			slope = (sw*sqs - sq*ss) / d
		}
		at = (ss - slope*sq) / sw
		for i, p := range pts {
			dev[i] = math.Abs(p.s - at - slope*(p.q-q))
		}
		limit := max(1.5*1.4826*dsp.Percentile(dev, 0.5), 1e-3)
		for i, d := range dev {
			w[i] = min(1, limit/max(d, 1e-9))
		}
	}
	return at, slope
}

// spreadPct is the robust spread of logs in %: one hesitation does not spoil it.
func spreadPct(logs []float64) float64 {
	if len(logs) == 0 {
		return 0
	}
	return 100 * spread(logs)
}

// evenPairs are the terms of the normalised pairwise variability index (Grabe & Low 2002) over
// neighbouring intervals that are written equal.
func evenPairs(line []beatAt) []float64 {
	var terms []float64
	for i := 2; i < len(line); i++ {
		q1, q2 := line[i-1].q-line[i-2].q, line[i].q-line[i-1].q
		if math.Abs(q1-q2) > 1e-6 {
			continue
		}
		d1, d2 := line[i-1].s-line[i-2].s, line[i].s-line[i-1].s
		terms = append(terms, math.Abs(d1-d2)/((d1+d2)/2))
	}
	return terms
}

// NPVI is the normalised pairwise variability index of a row of durations (Grabe & Low 2002): 0 for
// equal ones. Fewer than two durations give 0.
func NPVI(d []float64) float64 {
	if len(d) < 2 {
		return 0
	}
	var sum float64
	for i := 1; i < len(d); i++ {
		sum += math.Abs(d[i]-d[i-1]) / ((d[i] + d[i-1]) / 2)
	}
	return 100 * sum / float64(len(d)-1)
}

// curve adds the local tempo at each bar line of a pass.
func (h *Hearing) curve(line []beatAt, r *route, unit float64) {
	stops := stopsIn(line)
	for i, b := range line {
		if i > 0 && r.moments[b.moment].bar == r.moments[line[i-1].moment].bar {
			continue
		}
		length := r.score.Bars[r.moments[b.moment].bar].Length.Q()
		j := i
		for j+1 < len(line) && line[j].q-b.q < length && !stops[j+1] {
			j++
		}
		if line[j].q-b.q < length/2 || line[j].s <= b.s {
			continue
		}
		h.Tempo.Curve = append(h.Tempo.Curve, TempoPoint{S: b.s, Bar: r.moments[b.moment].label,
			Bpm: 60 * (line[j].q - b.q) / (line[j].s - b.s) / unit})
	}
}
