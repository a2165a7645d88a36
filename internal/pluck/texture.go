package pluck

import "math/bits"

// Windows of the texture, in moments before and after. Chosen on the development set.
const (
	homeWindow  = 3
	grainWindow = 4
	lineWindow  = 3
	tuneShare   = 0.85 // of single notes
)

// texture says of every note what music it stands in.
func (l *layout) texture() {
	for k := range l.moments {
		mo := &l.moments[k]
		for _, n := range mo.notes {
			n.under = l.goesUnder(k, n)
			if !n.under {
				mo.used |= 1 << n.place.String
			}
		}
	}
	l.runs()
	tune := l.tune()
	for k := range l.moments {
		grain := l.grain(k)
		line := tune && grain > 0 && l.bare(k)
		for j, n := range l.moments[k].notes {
			n.line = line
			n.grain = grain
			if !n.under || j > 0 {
				n.home, n.homes = l.home(k, n)
			}
		}
	}
}

// tune reports whether the music is a melody alone, but for a chord here and there.
func (l *layout) tune() bool {
	single := 0
	for k := range l.moments {
		if mo := &l.moments[k]; len(mo.notes) == 1 && !mo.notes[0].under {
			single++
		}
	}
	return float64(single) >= tuneShare*float64(len(l.moments))
}

// bare reports whether only single notes are played around a moment, none of them held below others.
func (l *layout) bare(k int) bool {
	for j := max(k-lineWindow, 0); j <= min(k+lineWindow, len(l.moments)-1); j++ {
		if mo := &l.moments[j]; len(mo.notes) != 1 || mo.notes[0].under {
			return false
		}
	}
	return true
}

// runs marks scales: at least minRun single notes, each a step from the last, with nothing held below.
func (l *layout) runs() {
	for k := 0; k < len(l.moments); {
		end := k
		for end < len(l.moments) && len(l.moments[end].notes) == 1 && !l.moments[end].notes[0].under {
			if d := 0; end > k {
				d = l.moments[end].notes[0].Midi - l.moments[end-1].notes[0].Midi
				if d == 0 || d < -2 || d > 2 {
					break
				}
			}
			end++
		}
		if end-k >= minRun {
			for _, mo := range l.moments[k:end] {
				mo.notes[0].run = true
			}
		}
		k = max(end, k+1)
	}
}

// goesUnder reports whether the note is the lowest of its moment and sounds on while higher ones follow.
func (l *layout) goesUnder(k int, n *note) bool {
	if l.moments[k].notes[0] != n {
		return false
	}
	if k+1 >= len(l.moments) {
		return false
	}
	next := &l.moments[k+1]
	return next.atQ < n.endQ-0.05 && next.notes[0].Midi > n.Midi
}

// grain is how scale-like the line around a moment goes: 0 leaps, 2 steps.
func (l *layout) grain(k int) int {
	steps, moves := 0, 0
	for j := max(k-grainWindow, 1); j <= min(k+grainWindow, len(l.moments)-1); j++ {
		x, y := l.top(j-1), l.top(j)
		if x == nil || y == nil {
			continue
		}
		moves++
		if d := x.Midi - y.Midi; d >= -2 && d <= 2 && d != 0 {
			steps++
		}
	}
	switch {
	case 3*steps >= 2*moves && moves > 0:
		return 2
	case 3*steps >= moves && moves > 0:
		return 1
	}
	return 0
}

// top is the highest note of a moment, unless that is a bass alone.
func (l *layout) top(k int) *note {
	notes := l.moments[k].notes
	n := notes[len(notes)-1]
	if n.under && len(notes) == 1 {
		return nil
	}
	return n
}

// home counts the strings in use around a moment, basses apart, and where the note's own stands.
func (l *layout) home(k int, n *note) (rank, size int) {
	used := uint64(1) << n.place.String
	for j := max(k-homeWindow, 0); j <= min(k+homeWindow, len(l.moments)-1); j++ {
		used |= l.moments[j].used
	}
	return bits.OnesCount64(used & (1<<n.place.String - 1)), bits.OnesCount64(used)
}

// tremolo fixes a m i (or i m i without a) where a bass is followed by three quick strokes on one
// treble note, at least twice in a row: common practice, p a m i.
func (l *layout) tremolo() {
	group := func(k int) bool {
		if k+3 >= len(l.moments) {
			return false
		}
		for j := 1; j <= 3; j++ {
			mo := &l.moments[k+j]
			if len(mo.notes) != 1 || mo.notes[0].Midi != l.moments[k+1].notes[0].Midi || l.moments[k+j-1].secs > 0.3 {
				return false
			}
		}
		return l.moments[k].notes[0].place.String > l.moments[k+1].notes[0].place.String && len(l.moments[k].notes) == 1
	}
	for k := 0; k+7 < len(l.moments); k++ {
		if !group(k) || !group(k+4) {
			continue
		}
		for ; group(k); k += 4 {
			for j, f := range []finger{p, a, m, i} {
				if l.noA && f == a {
					f = i
				}
				if n := l.moments[k+j].notes[0]; n.must == none {
					n.must = f
				}
			}
		}
		k--
	}
}
