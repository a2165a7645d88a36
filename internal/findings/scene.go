package findings

import (
	"math"
	"slices"
	"sort"

	"antiphon/internal/dsp"
	"antiphon/internal/ear"
	"antiphon/internal/music"
)

// scene is a hearing laid out by pass, as the finders need it.
type scene struct {
	h     *ear.Hearing
	score *music.Score
	opt   Options
	unitQ float64
	lines []line // one for each pass, in order
}

// line is one pass as moments in order of time.
type line struct {
	pass   ear.Pass
	points []point
	steps  []step  // between neighbouring points
	pace   float64 // typical pace against the score's tempo: 1 as marked, below 1 slower
	bars   []barPace
	errors map[int]int // wrong, missed and added notes by bar index, however unsure
}

// point is a written moment that was heard.
type point struct {
	q, s  float64
	bar   int
	notes []int // indices into Hearing.Score
}

// step leads from one heard moment to the next.
type step struct {
	from, to point
	wantS    float64 // seconds at the score's own tempo
	gotS     float64
	held     bool // a fermata, a change of tempo that the score asks for, or a jump: says nothing about the beat
	stop     bool // a hesitation
}

// barPace is how fast one bar was played against the score's tempo, stops left out.
type barPace struct {
	bar  int
	s    float64 // first heard moment
	endS float64
	pace float64
	free bool // the score itself asks to slow down or speed up here
}

func newScene(h *ear.Hearing, score *music.Score, opt Options) *scene {
	s := &scene{h: h, score: score, opt: opt, unitQ: h.Tempo.BeatUnitQ}
	if s.unitQ <= 0 {
		s.unitQ = 1
	}
	free := s.freeBars()
	held := s.heldNotes()
	for _, p := range h.Passes {
		l := line{pass: p, points: s.points(p.N), errors: map[int]int{}}
		s.steps(&l, free, held)
		s.paceOf(&l, free)
		for _, n := range h.Played {
			if n.Pass == p.N && n.Verdict != ear.Right {
				l.errors[s.barOfPlayed(l, n)]++
			}
		}
		for _, m := range h.Missed {
			if m.Pass == p.N {
				l.errors[h.Score[m.Note].BarIndex]++
			}
		}
		s.lines = append(s.lines, l)
	}
	return s
}

// points are the heard moments of a pass in order of time, chords as one; grace notes say nothing
// about the beat and are left out.
func (s *scene) points(pass int) []point {
	var out []point
	var times [][]float64
	for _, n := range s.h.Played {
		if n.Pass != pass || n.Note < 0 || s.h.Score[n.Note].Grace {
			continue
		}
		w := s.h.Score[n.Note]
		q := w.Onset.Q()
		i := len(out) - 1
		for i >= 0 && i >= len(out)-3 && math.Abs(out[i].q-q) > 1e-9 { // members of a chord may cross their neighbours by a hair
			i--
		}
		if i >= 0 && i >= len(out)-3 && n.OnsetS-out[i].s < 1 {
			out[i].notes = append(out[i].notes, n.Note)
			times[i] = append(times[i], n.OnsetS)
			out[i].s = dsp.Median(times[i])
			continue
		}
		out = append(out, point{q: q, s: n.OnsetS, bar: w.BarIndex, notes: []int{n.Note}})
		times = append(times, []float64{n.OnsetS})
	}
	return out
}

// steps fills in the ways between the points of a line and marks the stops.
func (s *scene) steps(l *line, free map[int]bool, held map[int]bool) {
	known := map[int]bool{} // notes that this pass accounts for
	for _, p := range l.points {
		for _, n := range p.notes {
			known[n] = true
		}
	}
	for _, m := range s.h.Missed {
		if m.Pass == l.pass.N {
			known[m.Note] = true
		}
	}
	for i := 1; i < len(l.points); i++ {
		a, b := l.points[i-1], l.points[i]
		st := step{from: a, to: b, gotS: b.s - a.s}
		st.wantS = s.secondsAsMarked(a.q, b.q)
		st.held = b.q <= a.q || st.gotS <= 0 || free[a.bar] || slices.ContainsFunc(a.notes, func(n int) bool { return held[n] })
		first := sort.Search(len(s.h.Score), func(n int) bool { return s.h.Score[n].Onset.Q() > a.q+1e-9 })
		for n := first; n < len(s.h.Score) && s.h.Score[n].Onset.Q() < b.q-1e-9; n++ {
			if !known[n] && !s.h.Score[n].Grace {
				st.held = true // a first ending stepped over, or something else not of this pass
				break
			}
		}
		l.steps = append(l.steps, st)
	}
	l.pace = typicalPace(l.steps)
	for i := range l.steps {
		st := &l.steps[i]
		if st.held || l.pace <= 0 {
			continue
		}
		want := st.wantS / s.localPace(l, i)
		over := st.gotS - want
		st.stop = over >= max(stopS, stopBeats*s.beatS(l, st.from.q)) && st.gotS >= stopRatio*want
	}
}

// beatS is how long one beat lasts in a pass around a place.
func (s *scene) beatS(l *line, q float64) float64 {
	return s.secondsAsMarked(q, q+s.unitQ) / max(l.pace, 1e-6)
}

// localPace is the typical pace of the steps around i.
func (s *scene) localPace(l *line, i int) float64 {
	lo, hi := max(0, i-6), min(len(l.steps), i+7)
	if p := typicalPace(l.steps[lo:hi]); p > 0 && hi-lo >= 6 {
		return p
	}
	return l.pace
}

// typicalPace is the median of the pace of steps, weighted by their written length; 0 without any.
func typicalPace(steps []step) float64 {
	type wv struct{ v, w float64 }
	var all []wv
	var sum float64
	for _, st := range steps {
		if st.held || st.stop || st.wantS <= 0 || st.gotS <= 0 {
			continue
		}
		all = append(all, wv{st.wantS / st.gotS, st.wantS})
		sum += st.wantS
	}
	slices.SortFunc(all, func(a, b wv) int {
		switch {
		case a.v < b.v:
			return -1
		case a.v > b.v:
			return 1
		}
		return 0
	})
	var run float64
	for _, x := range all {
		if run += x.w; run >= sum/2 {
			return x.v
		}
	}
	return 0
}

// paceOf measures each bar of a line.
func (s *scene) paceOf(l *line, free map[int]bool) {
	l.pace = typicalPace(l.steps)
	var want, got float64
	for i, st := range l.steps {
		if n := len(l.bars); n == 0 || l.bars[n-1].bar != st.from.bar {
			l.bars = append(l.bars, barPace{bar: st.from.bar, s: st.from.s, free: free[st.from.bar]})
			want, got = 0, 0
		}
		b := &l.bars[len(l.bars)-1]
		b.endS = st.to.s
		if !st.held && !st.stop {
			want, got = want+st.wantS, got+st.gotS
			b.pace = want / got
		}
		if i+1 == len(l.steps) && st.to.bar != st.from.bar { // the last bar may be one long note
			l.bars = append(l.bars, barPace{bar: st.to.bar, s: st.to.s, endS: st.to.s})
		}
	}
}

// secondsAsMarked is the time from one place to another at the score's own tempo.
func (s *scene) secondsAsMarked(fromQ, toQ float64) float64 {
	var sum float64
	at := fromQ
	for at < toQ-1e-12 {
		next := toQ
		bpm := float64(music.DefaultQuarterBpm)
		for i, t := range s.score.Tempos {
			if i == 0 || t.At.Q() <= at+1e-9 {
				bpm = t.QuarterBpm()
			}
			if q := t.At.Q(); q > at+1e-9 && q < next {
				next = q
			}
		}
		if bpm <= 0 {
			bpm = music.DefaultQuarterBpm
		}
		sum += (next - at) * 60 / bpm
		at = next
	}
	return sum
}

// barOfPlayed is the bar of a note; an added one belongs to the bar in which it fell.
func (s *scene) barOfPlayed(l line, n ear.Played) int {
	if n.Note >= 0 {
		return s.h.Score[n.Note].BarIndex
	}
	bar := 0
	for i, p := range l.points {
		if i > 0 && p.s > n.OnsetS {
			break
		}
		bar = p.bar
	}
	return bar
}
