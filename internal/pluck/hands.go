package pluck

import "slices"

// hand is one way to pluck the notes of a moment: a finger for each, from the lowest string upwards.
type hand [6]finger

// ways lists the hands for k notes. Fingers go up the strings in the order p i m a; only p takes more
// than one string, and as few as it can: neighbours, or all that i m a leave it.
func (l *layout) ways(mo *moment) []hand {
	k := min(len(mo.notes), len(hand{}))
	top := a
	if l.noA {
		top = m
	}
	all := grown(mo, k, top)
	var out []hand
	for _, h := range all {
		if fits(mo, h, k) {
			out = append(out, h)
		}
	}
	if len(out) > 0 {
		return out
	}
	// The marks go against the order of the hand: keep them, and the order in what is around them.
	for _, h := range all {
		for j := range k {
			if f := mo.notes[j].must; f != none {
				h[j] = f
			}
		}
		if !slices.Contains(out, h) {
			out = append(out, h)
		}
	}
	return out
}

func grown(mo *moment, k int, top finger) (out []hand) {
	var grow func(h hand, j int, last finger)
	grow = func(h hand, j int, last finger) {
		if j == k {
			out = append(out, h)
			return
		}
		for f := p; f <= top; f++ {
			if f > last || f == p && last == p && (beside(mo, j) || k-j > int(top)) {
				h[j] = f
				grow(h, j+1, f)
			}
		}
	}
	grow(hand{}, 0, none)
	return out
}

// beside reports whether the note above is on the string beside note j-1's.
func beside(mo *moment, j int) bool {
	return j > 0 && mo.notes[j-1].place.String-mo.notes[j].place.String == 1
}

func fits(mo *moment, h hand, k int) bool {
	for j := range k {
		if f := mo.notes[j].must; f != none && f != h[j] {
			return false
		}
	}
	return true
}

// choose finds the best fingers for all moments by dynamic programming over the last two.
func (l *layout) choose(w []float64) {
	for k, h := range l.best(w) {
		for j, n := range l.moments[k].notes {
			n.finger = h[min(j, len(h)-1)]
		}
	}
	l.turn()
	for _, n := range l.all {
		if n.twin != nil {
			n.finger = n.twin.finger
		}
	}
}

// spares reports whether enough fingers are given to tell that the piece does without a.
func (l *layout) spares() bool {
	given := 0
	for _, n := range l.all {
		if n.given && n.must == a {
			return false
		}
		if n.given {
			given++
		}
	}
	return given >= enoughSpared
}

func (l *layout) best(w []float64) []hand {
	if len(l.moments) == 0 {
		return nil
	}
	ways := make([][]hand, len(l.moments))
	for k := range l.moments {
		ways[k] = l.ways(&l.moments[k])
	}
	// value[i*now+j]: the best sum with way i before and way j now.
	value := make([]float64, len(ways[0]))
	for j, h := range ways[0] {
		value[j] = l.alone(0, h, w)
	}
	before := 1
	from := make([][]int32, len(ways)) // per state, the way two moments ago
	for k := 1; k < len(ways); k++ {
		was, now := len(ways[k-1]), len(ways[k])
		next := make([]float64, was*now)
		from[k] = make([]int32, was*now)
		for j, h := range ways[k] {
			own := l.alone(k, h, w)
			back := make([]float64, before)
			if k >= 2 {
				for g := range back {
					back[g] = l.after2(k, ways[k-2][g], h, w)
				}
			}
			for i, b := range ways[k-1] {
				step := own + l.after(k, b, h, w)
				best, at := value[i]+back[0], 0
				for g := 1; g < before; g++ {
					if v := value[g*was+i] + back[g]; v > best {
						best, at = v, g
					}
				}
				next[i*now+j], from[k][i*now+j] = best+step, int32(at)
			}
		}
		value, before = next, was
	}
	at := 0
	for s := range value {
		if value[s] > value[at] {
			at = s
		}
	}
	last := len(ways) - 1
	out := make([]hand, len(ways))
	if last == 0 {
		out[0] = ways[0][at]
		return out
	}
	now := len(ways[last])
	i, j := at/now, at%now
	for k := last; k >= 1; k-- {
		out[k] = ways[k][j]
		g := int(from[k][i*len(ways[k])+j])
		i, j = g, i
	}
	out[0] = ways[0][j]
	return out
}
