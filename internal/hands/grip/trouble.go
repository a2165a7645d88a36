package grip

// What no weight may outbid: a move that cannot be made. Costs are far above what the model gives.
const (
	tooFastCost = 25
	slurCost    = 25
	limitCost   = 20
)

// How fast a hand moves: nobody's travels at more than about 2 m/s, and to lift a finger and set it
// down elsewhere takes 60 ms at the least. From memory.
const (
	topMmPerS = 1900
	liftS     = 0.065
)

// trouble is the cost of what cannot be played in the time there is, or not as slurred.
func (p *Piece) trouble(prev *state, s *slice, h *hold) (cost float64) {
	if p.limits.NoBarre || p.limits.NoStretch {
		cost += p.beyondLimits(prev, h)
	}
	perQ := p.Notes[s.from].SPerQ
	for k, st := range h.stops {
		if st.String == 0 {
			continue
		}
		n := &p.Notes[s.from+k]
		if n.SlurFrom > 0 {
			var from Stop
			switch int32(n.SlurFrom) {
			case prev.topIs:
				from = prev.topS
			case prev.lowIs:
				from = prev.lowS
			}
			if from.String > 0 && (from.String != st.String || from.Finger == st.Finger && from.Fret != st.Fret) {
				cost += slurCost
			}
		}
		if perQ == 0 || st.Finger == 0 {
			continue
		}
		u := prev.used[st.Finger]
		if u.str == 0 || u.fret == st.Fret {
			continue
		}
		free := float64(float32(s.at)-u.atQ) * perQ
		mm := p.neck.alongMm(int(u.fret), int(st.Fret))
		if u.str != st.String {
			free -= liftS
			mm = p.neck.tips(Stop{u.str, u.fret, 1}, st)
		}
		if mm > 5 && (free <= 0 || mm/free > topMmPerS) {
			cost += tooFastCost
		}
	}
	return cost
}

// beyondLimits is the cost of a grip that, while what is held is kept as written, makes a barre or a
// stretch for a player who does none. Letting the held note go would do, but nobody can be sure of it.
func (p *Piece) beyondLimits(prev *state, h *hold) (cost float64) {
next:
	for str := int8(1); str <= prev.strsUp; str++ {
		held := prev.held[str]
		if held.note == 0 || held.finger == 0 {
			continue
		}
		hs := Stop{str, held.fret, held.finger}
		worst := 0.0
		for _, st := range h.stops {
			switch {
			case st.String == 0 || st.Finger == 0:
			case st.String == str:
				continue next // it ends there anyway
			case p.limits.NoBarre && st.Finger == held.finger && st.Fret == held.fret:
				worst = limitCost
			case p.limits.NoStretch && p.neck.together(hs, st) == fine && !p.unstretched(hs, st):
				worst = limitCost
			}
		}
		cost += worst
	}
	return cost
}
