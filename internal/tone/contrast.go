package tone

import (
	"antiphon/internal/music"
)

// A guitar and a room colour each note in their own way, and what one note sounds like may pass for a
// place. Where the same note was played at two places, that colour falls out of the difference: what is
// left must follow the difference of the two combs.
const (
	followsLeast = 0.5 // of the difference that two places would make: 1 where they are two, 0 where they are one
	followsNotes = 2   // notes that must have been played at both
	followsGain  = 0.6 // see estimated.gain; where no note was played at both, combs must explain so much
)

// follows is by what share the spectra of the same notes, played at a and at b, differ as the combs of the
// two do. notes is how many notes were played at both.
func follows(list []combed, at []Place, r []float64, a, b Place) (share float64, notes int) {
	type sum struct{ db, comb, n [mostPartials + 1]float64 }
	byPitch := map[int]*[2]sum{}
	for i := range list {
		n, side := &list[i], 0
		switch at[i] {
		case a:
		case b:
			side = 1
		default:
			continue
		}
		if byPitch[n.midi] == nil {
			byPitch[n.midi] = &[2]sum{}
		}
		s := &byPitch[n.midi][side]
		for _, p := range n.partial {
			if p.seen {
				k := int(p.k)
				s.db[k], s.comb[k], s.n[k] = s.db[k]+p.db, s.comb[k]+comb(p.k*r[i]*n.ratio), s.n[k]+1
			}
		}
	}
	var cd, cc float64
	for _, two := range byPitch {
		var octave, db, want, weight []float64
		for k := 1; k <= mostPartials; k++ {
			x, y := two[0].n[k], two[1].n[k]
			if x == 0 || y == 0 {
				continue
			}
			octave = append(octave, float64(k)) // any measure of height will do: it is taken off
			db = append(db, two[0].db[k]/x-two[1].db[k]/y)
			want = append(want, two[0].comb[k]/x-two[1].comb[k]/y)
			weight = append(weight, x*y/(x+y))
		}
		if len(db) < fewest-1 {
			continue
		}
		notes++
		level(octave, db, weight)
		level(octave, want, weight)
		for k := range db {
			cd, cc = cd+weight[k]*db[k]*want[k], cc+weight[k]*want[k]*want[k]
		}
	}
	if cc == 0 {
		return 0, 0
	}
	return cd / cc, notes
}

// level takes the straight line that fits best off y.
func level(x, y, weight []float64) {
	var w, wx, wxx, wy, wxy float64
	for i := range x {
		w, wx, wxx, wy, wxy = w+weight[i], wx+weight[i]*x[i], wxx+weight[i]*x[i]*x[i], wy+weight[i]*y[i], wxy+weight[i]*x[i]*y[i]
	}
	det := w*wxx - wx*wx
	if det <= 0 {
		return
	}
	a, b := (wxx*wy-wx*wxy)/det, (w*wxy-wx*wy)/det
	for i := range y {
		y[i] -= a + b*x[i]
	}
}

// doubted are the places that do not stand up against others of the same take: they are one place that
// sounded like two.
func (e estimated) doubted(at []Place, r []float64) map[Place]bool {
	out := map[Place]bool{}
	all := []Place{music.NearBridge, music.OverHole, music.OverNeck}
	present := map[Place]bool{}
	for _, p := range at {
		present[p] = true
	}
	for i, a := range all {
		for _, b := range all[i+1:] {
			if !present[a] || !present[b] {
				continue
			}
			share, notes := follows(e.notes, at, r, a, b)
			if notes >= followsNotes && share < followsLeast || notes < followsNotes && e.gain < followsGain {
				out[a], out[b] = true, true
			}
		}
	}
	return out
}
