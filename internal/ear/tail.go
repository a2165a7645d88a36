package ear

import "math"

// Where the playing stops, or goes on elsewhere, the last notes are still held, and there may be more.
const (
	tailMostS   = 4.0 // what begins so long after the last note of a stretch is weighed, while that is held,
	tailGapS    = 0.1 // but not so near to the next stretch
	lastS       = 0.5 // the last note was missed only if the recording goes on so long after it was due
	brokenClear = 0.5 // a note on which the playing broke off is a stroke as clear as this
)

// tail weighs what began after node i, where the playing stops or goes on elsewhere, while the last notes
// are still held.
func (j *judge) tail(i int) {
	nd := j.path[i]
	k, m := &j.strokes[nd.stroke], &j.route.moments[nd.moment]
	held := 0.0
	for _, n := range m.notes {
		held = max(held, j.route.notes[n].Duration.Q())
	}
	spq := j.route.spq
	if i > 0 && j.path[i].kind == onward {
		was := j.path[i-1]
		spq = (k.s - j.strokes[was.stroke].s) / (m.q - j.route.moments[was.moment].q)
	}
	end, last := k.s+min(held*spq, tailMostS), len(j.strokes)
	if i+1 < len(j.path) {
		last = int(j.path[i+1].stroke)
		end = min(end, j.strokes[last].s-tailGapS)
	}
	broken := -1
	if i+1 == len(j.path) || j.path[i+1].kind == leap { // after a pause the moment comes later
		broken = j.broken(i, spq, last)
	}
	for c := int(nd.stroke) + 1; c < last && j.strokes[c].s < end; c++ {
		s := &j.strokes[c]
		if c == broken {
			break
		}
		next := j.act.frames
		if c+1 < len(j.strokes) {
			next = j.strokes[c+1].frame
		}
		var echoes []int
		if s.s-k.s < echoS || len(m.pitches) >= rollStrings && s.s-k.s < rollS {
			echoes = m.pitches
		}
		sc := j.setScene(s, i+1, k.frame, next, nil, m.pitches)
		sc.due = (s.s - k.s) / max(end-k.s, tailGapS)
		j.strange(sc, stranger{pass: j.pass[i], scene: -1, s: s.s, gapS: end - k.s}, echoes, nil)
	}
}

// broken looks for the note on which the playing broke off: where the moment after node i was due, something
// began that did not look like it. It is weighed as that moment, wrong as it may be. It gives the stroke, -1
// for none; only strokes before last are looked at.
func (j *judge) broken(i int, spq float64, last int) int {
	nd := j.path[i]
	ms := j.route.moments
	next := int(nd.moment) + 1
	if next >= len(ms) {
		return -1
	}
	k := &j.strokes[nd.stroke]
	gap := spq * (ms[next].q - ms[nd.moment].q)
	due, found := k.s+gap, -1
	for c := int(nd.stroke) + 1; c < last; c++ {
		off := math.Abs(j.strokes[c].s - due)
		if j.strokes[c].clear > brokenClear && off < min(inPlaceS, inPlaceQ*gap) && (found < 0 || off < math.Abs(j.strokes[found].s-due)) {
			found = c
		}
	}
	m := &ms[next]
	if found < 0 {
		if i+1 == len(j.path) && next+1 == len(ms) && due < j.seconds()-lastS { // only the last is left: it was missed or hardly touched
			soft := j.softStroke(m, due, min(softShare*gap, softMostS))
			sc := j.setScene(soft, i+1, k.frame, j.act.frames, m.pitches, ms[nd.moment].pitches)
			sc.kind, sc.soft, sc.offS = m.kind, true, soft.s-due
			j.weigh(sc, m, softScene-next, j.pass[i], due)
		}
		return -1
	}
	s, after := &j.strokes[found], j.act.frames
	if found+1 < len(j.strokes) {
		after = j.strokes[found+1].frame
	}
	sc := j.setScene(s, i+1, k.frame, after, m.pitches, ms[nd.moment].pitches)
	sc.kind, sc.due, sc.linked = m.kind, (s.s-due)/gap, 0.5
	from := len(j.claims)
	j.weigh(sc, m, found, j.pass[i], s.s)
	for c := range j.claims[from:] {
		j.claims[from+c].unasked = true
	}
	return found
}
