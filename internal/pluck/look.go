package pluck

// The model is a sum of weights of what is seen, each either there or not. The blocks below are tables
// in one row of weights; what each is about stands beside it.
const (
	atString = 0                // finger × string 1…6 × grain
	atRole   = atString + 4*6*3 // finger × sounds on below × alone × lowest of its moment
	atHome   = atRole + 4*8     // finger × rank of its string among those in use × how many are
	atMove   = atHome + 4*4*4   // finger × finger after it × string move, of single notes
	atReturn = atMove + 4*4*5   // back on the string of two notes ago, same finger or not × grain
	atTwice  = atReturn + 2*3   // another string than two notes ago with the same finger × grain
	atChord  = atTwice + 3      // finger × next finger × strings between, in a chord
	atAgain  = atChord + 4*4*3  // from or to a chord: string again with the same finger or another, finger on another string (p; others)
	features = atAgain + 4
)

// Rules that are not learnt: a finger of i m a that plays twice in a row, and p or a in a scale, which
// is for i and m.
const (
	otherLine = -3.0 // a, or p on a treble string, in a melody alone
	thumbRuns = -8.0
	ringRuns  = -3.0
	// Where enough marks are given and none is a, the piece is taken to do without it.
	ringSpared   = -2.0
	fullChord    = -6.0 // p on two strings of a chord of four, where a is free: common practice, p i m a
	enoughSpared = 6
	twiceQuick   = -14.0 // less than slowS apart
	twiceOver    = -8.0  // with a bass on either
	twiceSlow    = -8.0
	slowS        = 0.7
	thumbS       = 0.12
)

// seer is told of every feature.
type seer func(feature int)

func clip(x, lo, hi int) int { return min(max(x, lo), hi) }

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

func (l *layout) seeAlone(k int, h hand, see seer) {
	notes := l.moments[k].notes
	for j, n := range notes {
		if j >= len(h) {
			break
		}
		f := int(h[j])
		see(atString + (f*6+clip(n.low, 1, 6)-1)*3 + n.grain)
		see(atRole + f*8 + bit(n.under)*4 + bit(len(notes) == 1)*2 + bit(j == 0))
		if n.homes > 0 {
			see(atHome + (f*4+clip(n.home, 0, 3))*4 + clip(n.homes, 1, 4) - 1)
		}
		if j > 0 {
			gap := clip(notes[j-1].place.String-n.place.String, 1, 3) - 1
			see(atChord + (int(h[j-1])*4+f)*3 + gap)
		}
	}
}

// move of the hand from string to string: 0 two or more towards the bass … 4 two or more towards the treble.
func move(x, y *note) int { return clip(x.place.String-y.place.String, -2, 2) + 2 }

func (l *layout) seeAfter(k int, b, h hand, see seer) {
	was, now := l.moments[k-1].notes, l.moments[k].notes
	if len(was) == 1 && len(now) == 1 {
		see(atMove + (int(b[0])*4+int(h[0]))*5 + move(was[0], now[0]))
		return
	}
	for j, n := range now {
		for i, x := range was {
			if i >= len(b) || j >= len(h) {
				continue
			}
			switch {
			case x.place.String == n.place.String:
				see(atAgain + bit(b[i] == h[j]))
			case b[i] == h[j]:
				see(atAgain + 2 + bit(h[j] != p))
			}
		}
	}
}

func (l *layout) seeAfter2(k int, b, h hand, see seer) {
	was, now := l.moments[k-2].notes, l.moments[k].notes
	if len(was) != 1 || len(now) != 1 {
		return
	}
	if was[0].place.String == now[0].place.String {
		see(atReturn + bit(b[0] == h[0])*3 + now[0].grain)
	} else if b[0] == h[0] {
		see(atTwice + now[0].grain)
	}
}

// rule is the part of a step that is not learnt: one finger of i m a, alone or above a bass, does not
// play twice in a row.
func (l *layout) rule(k int, b, h hand) float64 {
	was, now := l.moments[k-1].notes, l.moments[k].notes
	if b[0] == p && h[0] == p && l.moments[k-1].secs < thumbS && was[0].place.String-now[0].place.String != 1 {
		return twiceQuick // too quick for the thumb, unless it goes on to the next string
	}
	if f := lone(b, len(was)); f == none || f != lone(h, len(now)) {
		return 0
	}
	switch {
	case len(was) > 1 || len(now) > 1:
		if now[len(now)-1].grain < 2 {
			return 0 // broken chords: a finger keeps its string from bass to bass
		}
		return twiceOver
	}
	if l.moments[k-1].secs >= slowS {
		return twiceSlow
	}
	return twiceQuick
}

// lone is the finger of i m a that plays, if just one does.
func lone(h hand, notes int) finger {
	f := none
	for _, x := range h[:min(notes, len(h))] {
		if x != p {
			if f != none {
				return none
			}
			f = x
		}
	}
	return f
}

func (l *layout) alone(k int, h hand, w []float64) (sum float64) {
	l.seeAlone(k, h, func(f int) { sum += w[f] })
	if l.moments[k].notes[0].run {
		switch h[0] {
		case p:
			sum += thumbRuns
		case a:
			sum += ringRuns
		}
	}
	if n := l.moments[k].notes[0]; n.line && !n.run && (h[0] == a || h[0] == p && n.place.String <= 3) {
		sum += otherLine
	}
	if k := len(l.moments[k].notes); k == 4 && !l.noA && !l.sparing && h[1] == p {
		sum += fullChord
	}
	if l.sparing {
		for _, f := range h[:min(len(h), len(l.moments[k].notes))] {
			if f == a {
				sum += ringSpared
			}
		}
	}
	return sum
}

func (l *layout) after(k int, b, h hand, w []float64) (sum float64) {
	l.seeAfter(k, b, h, func(f int) { sum += w[f] })
	return sum + l.rule(k, b, h)
}

func (l *layout) after2(k int, b, h hand, w []float64) (sum float64) {
	l.seeAfter2(k, b, h, func(f int) { sum += w[f] })
	return sum
}
