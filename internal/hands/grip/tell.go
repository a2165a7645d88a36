package grip

import "math"

// Account is what a stretch of a way scores by kind; minus the cost.
type Account [kinds]float64

// Account adds up the edges that go through the slices from on.
func (l *Lattice) Account(from int, edges Way) (a Account) {
	var feats []int32
	for k, e := range edges {
		t := from + k
		s := &l.p.slices[t]
		x := l.edges[t][e]
		h := &s.grips[x.grip]
		for _, f := range h.feats {
			a[kindOf(f)] += float64(l.m.W[f])
		}
		feats = l.p.moveFeatures(feats[:0], &l.states[t][x.from], s, h)
		for _, f := range feats {
			a[kindOf(f)] += float64(l.m.W[f])
		}
		a[Habit] += h.hint
		a[Common] += h.favour
		a[Position] += l.p.rule(h)
		a[Speed] -= l.p.trouble(&l.states[t][x.from], s, h)
	}
	return a
}

// Facts is what a hand does on a stretch of a way, in figures.
type Facts struct {
	ShiftMm   float64 // travelled along the neck by the first finger's place
	Shifts    int
	WidestMm  float64 // between fingertips held together
	Barres    int
	FullBarre int // of five strings and more
	Open      int
	Fourth    int
	Lost      int // held notes let go early
	Positions []int
}

// Facts gathers them.
func (l *Lattice) Facts(from int, edges Way) (f Facts) {
	for k, e := range edges {
		t := from + k
		s := &l.p.slices[t]
		x := l.edges[t][e]
		prev, h := &l.states[t][x.from], &s.grips[x.grip]
		var c cuts
		l.p.meet(prev, h, &c)
		for str := int8(1); str <= prev.strsUp; str++ {
			if prev.held[str].note != 0 && c[str] != fine {
				f.Lost++
			}
		}
		next := &l.states[t+1][x.to]
		if h.low > 0 {
			if prev.pos != noPos && prev.pos != next.pos {
				f.ShiftMm += l.p.neck.alongMm(int(prev.pos), int(next.pos))
				f.Shifts++
			}
			if n := len(f.Positions); n == 0 || f.Positions[n-1] != int(next.pos) {
				f.Positions = append(f.Positions, int(next.pos))
			}
		}
		lo, hi := int8(127), int8(0)
		for i, st := range h.stops {
			switch {
			case st.String == 0:
				continue
			case st.Finger == 0:
				f.Open++
				continue
			case st.Finger == 4:
				f.Fourth++
			case st.Finger == 1:
				lo, hi = min(lo, st.String), max(hi, st.String)
			}
			for _, o := range h.stops[:i] {
				if o.Finger > 0 && o.Finger != st.Finger {
					f.WidestMm = math.Max(f.WidestMm, l.p.neck.tips(o, st))
				}
			}
			for str := int8(1); str <= prev.strsUp; str++ {
				if hn := prev.held[str]; hn.note != 0 && c[str] == fine && hn.finger > 0 && hn.finger != st.Finger {
					f.WidestMm = math.Max(f.WidestMm, l.p.neck.tips(Stop{str, hn.fret, hn.finger}, st))
				}
			}
		}
		if hi > lo {
			f.Barres++
			if hi-lo >= 4 {
				f.FullBarre++
			}
		}
	}
	return f
}

// StopsOf gives the stops that a stretch of a way takes, and the index of the first note.
func (l *Lattice) StopsOf(from int, edges Way) (first int, stops []Stop) {
	first = l.p.slices[from].from
	for k, e := range edges {
		s := &l.p.slices[from+k]
		stops = append(stops, s.grips[l.edges[from+k][e].grip].stops...)
	}
	return first, stops
}

// Lost lists the held notes that a way lets go before their written end, each with the note (by
// index) for which it goes.
func (l *Lattice) Lost(w Way) (lost [][2]int) {
	for t, e := range w {
		x := l.edges[t][e]
		var c cuts
		prev := &l.states[t][x.from]
		if !l.p.meet(prev, &l.p.slices[t].grips[x.grip], &c) {
			continue
		}
		for str := int8(1); str <= prev.strsUp; str++ {
			if hn := prev.held[str]; hn.note != 0 && c[str] != fine {
				lost = append(lost, [2]int{int(hn.note - 1), l.p.slices[t].from})
			}
		}
	}
	return lost
}
