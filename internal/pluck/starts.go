package pluck

import "fmt"

// A run is at least so many single notes played by two fingers in turn.
const minRun = 5

// starts explains the first finger of every run of single notes that two fingers play in turn, by the
// string crossings that go against the hand from either start.
func (l *layout) starts() (out []Start) {
	for k := 0; k < len(l.moments); {
		end := l.runEnd(k)
		if end-k < minRun || !twiceOnString(l.stringsOf(k, end)) { // a broken chord is no line
			k++
			continue
		}
		x, y := l.moments[k].notes[0], l.moments[k+1].notes[0]
		strings := l.stringsOf(k, end)
		mine, other := BadCrossings(strings, x.finger.String(), y.finger.String()), BadCrossings(strings, y.finger.String(), x.finger.String())
		reason := fmt.Sprintf("%s–%s from %s: %s against the hand, from %s %d", x.finger, y.finger, x.finger, count(mine, "string crossing"), y.finger, other)
		switch {
		case x.given:
			reason += "; the start is given"
		case mine == other:
			reason += ", so either will do"
		case mine > other:
			reason += "; what comes before and after it decides"
		}
		out = append(out, Start{Note: x.ID, Finger: x.finger.String(), Reason: reason})
		k = end
	}
	return out
}

// twiceOnString reports whether two notes in a row lie on one string.
func twiceOnString(strings []int) bool {
	for k := 1; k < len(strings); k++ {
		if strings[k] == strings[k-1] {
			return true
		}
	}
	return false
}

// turn starts a run with the other finger where that makes fewer crossings against the hand, the run is
// a scale, nothing in it is given, and its neighbours allow it.
func (l *layout) turn() {
	for k := 0; k < len(l.moments); {
		end := l.runEnd(k)
		if end-k < minRun || !l.free(k, end) {
			k = max(k+1, end-1) // runs may share a note
			continue
		}
		x, y := l.moments[k].notes[0].finger, l.moments[k+1].notes[0].finger
		strings := l.stringsOf(k, end)
		if BadCrossings(strings, y.String(), x.String()) < BadCrossings(strings, x.String(), y.String()) {
			for j := k; j < end; j++ {
				n := l.moments[j].notes[0]
				n.finger = x + y - n.finger
			}
		}
		k = end
	}
}

func (l *layout) stringsOf(k, end int) []int {
	out := make([]int, 0, end-k)
	for _, mo := range l.moments[k:end] {
		out = append(out, mo.notes[0].place.String)
	}
	return out
}

// free reports whether the two fingers of a run may change places.
func (l *layout) free(k, end int) bool {
	for _, mo := range l.moments[k:end] {
		if n := mo.notes[0]; n.must != none || !n.run {
			return false
		}
	}
	// After the change the first note has the finger of the second, the last that of the one before it.
	return !l.has(k-1, l.moments[k+1].notes[0].finger) && !l.has(end, l.moments[end-2].notes[0].finger)
}

// has reports whether a moment is plucked by the finger; false where there is no such moment.
func (l *layout) has(k int, f finger) bool {
	if k < 0 || k >= len(l.moments) {
		return false
	}
	for _, n := range l.moments[k].notes {
		if n.finger == f {
			return true
		}
	}
	return false
}

// runEnd is the end of the run of single notes from k on in which two fingers of i m a take turns.
func (l *layout) runEnd(k int) int {
	f := func(j int) finger {
		if j >= len(l.moments) || len(l.moments[j].notes) != 1 {
			return none
		}
		return l.moments[j].notes[0].finger
	}
	x, y := f(k), f(k+1)
	if x <= p || y <= p || x == y {
		return k + 1
	}
	end := k + 2
	for f(end) == x && (end-k)%2 == 0 || f(end) == y && (end-k)%2 == 1 {
		end++
	}
	return end
}

// BadCrossings counts the crossings that go against the hand when two fingers take turns on a line of
// strings: to a higher string with the finger nearer the thumb, to a lower one with the finger further
// from it. Fingers other than p i m a count as nearest.
func BadCrossings(strings []int, first, second string) (bad int) {
	for k := 1; k < len(strings); k++ {
		from, to := fingerOf(first), fingerOf(second)
		if k%2 == 0 {
			from, to = to, from
		}
		up := strings[k] < strings[k-1]
		if down := strings[k] > strings[k-1]; up && to < from || down && to > from {
			bad++
		}
	}
	return bad
}
