package grip

// state is what the hand remembers after a slice.
type state struct {
	pos    int8 // fret of the first finger; noPos before anything was stopped
	low    int8 // lowest finger that told the position
	open   int8 // 1: the last slice asked nothing of the hand
	fing   [5]placed
	held   [MaxStrings + 1]heldNote // by string: what still sounds when the next slice comes
	topS   Stop                     // of the last slice's highest and lowest note
	lowS   Stop
	topIs  int32
	lowIs  int32
	strsUp int8 // highest string number in held that is used
	used   [5]lastUse
	rang   [MaxStrings + 1]lastNote
}

// lastNote is what was last struck on a string, and in which slice, counted from 1.
type lastNote struct {
	slice uint16 // 0 none; wraps round after 65,535, long after anything that matters
	fret  int8
}

// lastUse is where a finger was last set down, and when.
type lastUse struct {
	str, fret int8
	atQ       float32
}

const noPos = -9

// placed is where a finger was last put: a range of strings at a fret. lo 0: it was not used lately.
type placed struct{ lo, hi, fret, age int8 }

type heldNote struct {
	note   int32 // 1 + index; 0 none
	finger int8
	fret   int8
}

func start() state { return state{pos: noPos} }

// oldest is the age at which a finger's place is forgotten, in slices that stopped a string.
const oldest = 6

// tail is how long before its written end a note may be let go, in quarters.
const tailQ = 0.04

// cuts tells which held strings a grip lets go, and why.
type cuts [MaxStrings + 1]fault

// meet works out which held notes survive a grip.
func (p *Piece) meet(prev *state, h *hold, c *cuts) (any bool) {
	barreLo, barreHi, barreFret := int8(127), int8(0), int8(-1)
	for _, st := range h.stops {
		if st.Finger == 1 {
			barreLo, barreHi, barreFret = min(barreLo, st.String), max(barreHi, st.String), st.Fret
		}
	}
	for s := int8(1); s <= prev.strsUp; s++ {
		c[s] = fine
		held := prev.held[s]
		if held.note == 0 {
			continue
		}
		hs := Stop{s, held.fret, held.finger}
		for _, st := range h.stops {
			if st.String == 0 {
				continue
			}
			if st.String == s {
				c[s] = sameString
				if st == hs {
					c[s] = fine
				}
				break
			}
			if f := p.neck.together(hs, st); f != fine {
				c[s] = f
				break
			}
			if p.limits.NoStretch && !p.unstretched(hs, st) {
				c[s] = tooFar
				break
			}
		}
		if c[s] == fine && barreHi > barreLo && s > barreLo && s < barreHi && held.fret < barreFret {
			c[s] = crossed
		}
		if c[s] == fine && held.finger == 1 && barreFret == held.fret && barreFret > 0 { // the held finger becomes a barre
			lo, hi := min(s, barreLo), max(s, barreHi)
			if hi > lo {
				if p.limits.NoBarre {
					c[s] = sameFinger
				}
				for _, st := range h.stops {
					if st.String > lo && st.String < hi && st.Fret < barreFret {
						c[s] = crossed
					}
				}
				for t := lo + 1; t < hi; t++ {
					if prev.held[t].note != 0 && prev.held[t].fret < barreFret && c[s] == fine {
						c[s] = crossed
					}
				}
			}
		}
		any = any || c[s] != fine
	}
	return any
}

// anchor is the position with what is held and what is struck.
func anchor(prev *state, h *hold, c *cuts) (pos, low int8) {
	pos, low = h.pos, h.low
	for s := int8(1); s <= prev.strsUp; s++ {
		if hn := prev.held[s]; hn.note != 0 && c[s] == fine && hn.finger > 0 && (low == 0 || hn.finger < low) {
			low, pos = hn.finger, hn.fret-(hn.finger-1)
		}
	}
	return pos, low
}

// step is the state after a grip.
func (p *Piece) step(prev *state, s *slice, h *hold) state {
	var next state
	p.stepInto(&next, prev, s, h)
	return next
}

func (p *Piece) stepInto(next, prev *state, s *slice, h *hold) {
	var c cuts
	p.meet(prev, h, &c)
	*next = state{pos: prev.pos, low: prev.low, fing: prev.fing, used: prev.used, rang: prev.rang}
	for str := int8(1); str <= prev.strsUp; str++ {
		if hn := prev.held[str]; hn.note != 0 && c[str] == fine && p.Notes[hn.note-1].EndQ > s.next+tailQ {
			next.held[str] = hn
			next.strsUp = str
		}
	}
	if h.low > 0 {
		next.pos, next.low = anchor(prev, h, &c)
		for f := 1; f <= 4; f++ {
			pl := &next.fing[f]
			if pl.lo == 0 {
				continue
			}
			pl.age++
			off := int(pl.fret) - int(next.pos) - (f - 1)
			if pl.age > oldest || off < -1 || off > 1 {
				*pl = placed{}
			}
		}
		var fresh [5]bool
		for _, st := range h.stops {
			if st.Finger == 0 {
				continue
			}
			next.used[st.Finger] = lastUse{st.String, st.Fret, float32(s.at)}
			pl := &next.fing[st.Finger]
			if fresh[st.Finger] {
				pl.lo, pl.hi = min(pl.lo, st.String), max(pl.hi, st.String)
				continue
			}
			fresh[st.Finger] = true
			*pl = placed{st.String, st.String, st.Fret, 0}
		}
		for f := int8(1); f <= 4; f++ { // a finger in the way of those now down has moved
			pl := &next.fing[f]
			if pl.lo == 0 || fresh[f] {
				continue
			}
			for g := int8(1); g <= 4; g++ {
				if fresh[g] && ((g > f) == (next.fing[g].fret < pl.fret)) && next.fing[g].fret != pl.fret {
					*pl = placed{}
					break
				}
			}
		}
		for str := int8(1); str <= next.strsUp; str++ { // what is still held stays young
			if hn := next.held[str]; hn.note != 0 && hn.finger > 0 && !fresh[hn.finger] {
				next.fing[hn.finger] = placed{str, str, hn.fret, 1}
			}
		}
	} else {
		next.open = 1
	}
	for k, st := range h.stops {
		if st.String == 0 {
			continue
		}
		i := s.from + k
		next.rang[st.String] = lastNote{s.number, st.Fret}
		if p.Notes[i].EndQ > s.next+tailQ {
			next.held[st.String] = heldNote{int32(i + 1), st.Finger, st.Fret}
			next.strsUp = max(next.strsUp, st.String)
		} else {
			next.held[st.String] = heldNote{}
		}
		if next.lowIs == 0 {
			next.lowIs, next.lowS = int32(i+1), st
		}
		next.topIs, next.topS = int32(i+1), st
	}
}

// key tells states apart that matter; ages of fingers do not.
func (st *state) key() uint64 {
	h := uint64(14695981039346656037)
	mix := func(x uint64) {
		h ^= x
		h *= 1099511628211
		h ^= h >> 29
	}
	mix(uint64(uint8(st.pos)) | uint64(uint8(st.low))<<8 | uint64(uint8(st.open))<<16 |
		uint64(uint8(st.topS.String))<<24 | uint64(uint8(st.topS.Finger))<<32 | uint64(uint8(st.lowS.String))<<40 | uint64(uint8(st.lowS.Finger))<<48)
	for f := 1; f <= 4; f++ {
		pl := st.fing[f]
		old := uint64(0)
		if pl.age > 0 {
			old = 1
		}
		mix(uint64(uint8(pl.lo)) | uint64(uint8(pl.hi))<<8 | uint64(uint8(pl.fret))<<16 | old<<24)
	}
	for s := int8(1); s <= st.strsUp; s++ {
		if hn := st.held[s]; hn.note != 0 {
			mix(uint64(hn.note)<<24 | uint64(uint8(s))<<16 | uint64(uint8(hn.finger))<<8 | uint64(uint8(hn.fret)))
		}
	}
	return h
}
