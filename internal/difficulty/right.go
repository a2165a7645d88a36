package difficulty

import "strings"

// right measures the right hand.
func (l *layout) right(bars []Bar) {
	var before *note
	for k := range l.moments {
		mo := &l.moments[k]
		b := &bars[mo.bar]
		var plucked []*note
		for _, n := range mo.notes {
			if !n.Slurred {
				plucked = append(plucked, n)
			}
			b.Strokes += strokesOf(n) - 1
		}
		b.Strokes++
		if len(plucked) != 1 {
			if len(plucked) > 1 {
				before = nil
			}
			continue
		}
		now := plucked[0]
		if before != nil && before.placed && now.placed && before.place.String != now.place.String {
			b.Crossings++
			x, y := strings.Index("pima", before.Pluck), strings.Index("pima", now.Pluck)
			up := now.place.String < before.place.String
			if before.Pluck != "" && now.Pluck != "" && x >= 0 && y >= 0 && x != y && up != (y > x) {
				b.AgainstHand++
			}
		}
		before = now
	}
	for i := range bars {
		if l.barS[i] > 0 {
			bars[i].NotesPerS = float64(bars[i].Strokes) / l.barS[i]
		}
	}
}

// strokesOf a note: a tremolo through the stem is played out, at so many strokes a quarter.
func strokesOf(n *note) int {
	if n.Tremolo == 0 {
		return 1
	}
	return max(int(n.Duration.Q()*float64(int(1)<<min(n.Tremolo, 5))), 1)
}
