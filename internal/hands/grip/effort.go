package grip

// effort of a move in millimetres, as a beginner feels it: how far the hand travels, more where there
// is little time, how far fingers stand beyond what is easy, and what barres, weak fingers and lifted
// notes cost beside that. Our own round figures.
func (p *Piece) effort(prev *state, s *slice, h *hold) (mm float64) {
	var c cuts
	p.meet(prev, h, &c)
	if h.low > 0 && prev.pos != noPos {
		pos, _ := anchor(prev, h, &c)
		share := 0.5 + []float64{1.5, 1, 0.6, 0.3}[s.gap]
		if prev.open == 1 {
			share *= 0.6
		}
		mm += share * p.neck.alongMm(int(prev.pos), int(pos))
	}
	for str := int8(1); str <= prev.strsUp; str++ {
		if hn := prev.held[str]; hn.note != 0 && c[str] != fine {
			mm += 30
		}
	}
	lo, hi := int8(127), int8(0)
	for i, st := range h.stops {
		if st.String == 0 || st.Finger == 0 {
			continue
		}
		if st.Finger == 1 {
			lo, hi = min(lo, st.String), max(hi, st.String)
		}
		if st.Finger == 4 {
			mm += 8
		}
		if own := prev.fing[st.Finger]; own.lo > 0 && own.age == 0 && relation(own, st) > 1 {
			mm += 10
		}
		beyond := func(o Stop) {
			if o.Finger > 0 && o.Finger != st.Finger {
				a, b := min(o.Finger, st.Finger), max(o.Finger, st.Finger)
				mm += 2 * max(0, p.neck.tips(o, st)-p.neck.easy[a][b])
			}
		}
		for _, o := range h.stops[:i] {
			beyond(o)
		}
		for str := int8(1); str <= prev.strsUp; str++ {
			if hn := prev.held[str]; hn.note != 0 && c[str] == fine {
				beyond(Stop{str, hn.fret, hn.finger})
			}
		}
	}
	if hi > lo {
		mm += 25 + 6*float64(hi-lo)
	}
	return mm + 40*p.trouble(prev, s, h)
}

// Minimax narrows the lattice to the ways whose hardest move is as easy as it can be (Hori and
// Sagayama 2016), and gives that move's effort in mm. The best way is then the best of these.
func (l *Lattice) Minimax() float64 {
	n := len(l.edges)
	efforts := make([][]float64, n)
	reach := make([][]float64, n+1) // least hardest move on the way to a state
	reach[0] = []float64{0}
	for t := range n {
		s := &l.p.slices[t]
		efforts[t] = make([]float64, len(l.edges[t]))
		reach[t+1] = make([]float64, len(l.states[t+1]))
		for i := range reach[t+1] {
			reach[t+1][i] = -minusInf
		}
		for i, e := range l.edges[t] {
			efforts[t][i] = l.p.effort(&l.states[t][e.from], s, &s.grips[e.grip])
			reach[t+1][e.to] = min(reach[t+1][e.to], max(reach[t][e.from], efforts[t][i]))
		}
	}
	hardest := -minusInf
	for _, x := range reach[n] {
		hardest = min(hardest, x)
	}
	for t := range n { // forward again over what is left
		for i := range l.best[t+1] {
			l.best[t+1][i] = minusInf
		}
		kept := l.edges[t][:0]
		for i, e := range l.edges[t] {
			if efforts[t][i] > hardest+1e-9 || l.best[t][e.from] <= minusInf {
				continue
			}
			if x := l.best[t][e.from] + float64(e.move) + l.p.slices[t].grips[e.grip].score; x > l.best[t+1][e.to] {
				l.best[t+1][e.to], l.pred[t][e.to] = x, int32(len(kept))
			}
			kept = append(kept, e)
		}
		l.edges[t] = kept
	}
	l.backward()
	return hardest
}
