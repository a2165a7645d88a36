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

func ageBucket(a int8) int { return min(int(a), 2) }

// shiftBucket of a move of the hand: 6 none, below it towards the nut.
func (n *Neck) shiftBucket(from, to int8) int {
	d := int(to) - int(from)
	if d == 0 {
		return 6
	}
	b := 1
	if a := max(d, -d); a > 1 {
		mm := n.alongMm(int(from), int(to))
		switch {
		case mm <= 75:
			b = 2
		case mm <= 110:
			b = 3
		case mm <= 145:
			b = 4
		case mm <= 200:
			b = 5
		default:
			b = 6
		}
	}
	if d < 0 {
		return 6 - b
	}
	return 6 + b
}

// relation of a stop to where its finger was.
func relation(pl placed, st Stop) int {
	switch {
	case pl.lo == 0:
		return 0
	}
	d := int(st.Fret) - int(pl.fret)
	if d < 0 {
		d = -d
	}
	if st.String >= pl.lo && st.String <= pl.hi {
		return 1 + min(d, 3)
	}
	if d == 0 {
		if st.String == pl.lo-1 || st.String == pl.hi+1 {
			return 5
		}
		return 6
	}
	if d == 1 {
		return 7
	}
	return 8
}

// moveFeatures are those of going from a state to a grip.
func (p *Piece) moveFeatures(out []int32, prev *state, s *slice, h *hold) []int32 {
	gap := int(s.gap)
	var c cuts
	if prev.strsUp > 0 {
		p.meet(prev, h, &c)
		for str := int8(1); str <= prev.strsUp; str++ {
			hn := prev.held[str]
			if hn.note == 0 {
				continue
			}
			if c[str] != fine {
				reason := 0
				switch c[str] {
				case sameFinger:
					reason = 1
				case crossed, tooFar:
					reason = 2
				}
				rest := p.Notes[hn.note-1].EndQ - s.at
				lost := 0
				if rest > 1.1 {
					lost = 2
				} else if rest > 0.55 {
					lost = 1
				}
				isBass := 0
				if r := p.sets[hn.note-1].role; r == bass {
					isBass = 1
				}
				out = append(out, int32(oCut+(reason*3+lost)*2+isBass))
				continue
			}
			if hn.finger == 0 {
				continue
			}
			hs := Stop{str, hn.fret, hn.finger}
			for _, st := range h.stops {
				if st.Finger == 0 || st.Finger == hn.finger || st.String == 0 {
					continue
				}
				out = append(out, pairFeature(hs, st),
					int32(oHeldFit+clip(int(st.Fret-hn.fret)-int(st.Finger-hn.finger), -3, 3)+3))
				if w := p.neck.wide(hs, st); w > 0 {
					out = append(out, int32(oHeldWide+w))
				}
			}
		}
	}
	if h.low > 0 {
		pos, low := anchor(prev, h, &c)
		out = append(out, int32(oPos+clip(int(pos), 0, 13)), int32(oPosKey+p.tonic*7+clip(int(pos), 0, 6)),
			int32(oHighPos+int(s.high)*14+clip(int(pos), 0, 13)),
			int32(oCover+int(s.cover[clip(int(pos), 0, len(s.cover)-1)])*3+clip((int(pos)-1)/2, 0, 2)))
		if prev.pos != noPos {
			b := p.neck.shiftBucket(prev.pos, pos)
			out = append(out, int32(oShift+(b*4+gap)*2+int(prev.open)), int32(oShiftLow+(b*5+int(prev.low))*5+int(low)))
		}
	}
	for k, st := range h.stops {
		if st.String == 0 {
			continue
		}
		f := &p.sets[s.from+k]
		out = p.ringFeatures(out, prev, s, k, st)
		if b := f.before; b >= 0 {
			var bs Stop
			if int32(b+1) == prev.topIs {
				bs = prev.topS
			} else if int32(b+1) == prev.lowIs {
				bs = prev.lowS
			}
			if bs.String > 0 {
				o := 0
				if bs.Finger == 0 {
					o = 2
				}
				if st.Finger == 0 {
					o++
				}
				out = append(out, int32(oLine+(int(f.into)*5+clip(int(st.String-bs.String), -2, 2)+2)*4+o))
			}
		}
		if st.Finger == 0 {
			b := 0
			if prev.pos > 1 {
				b = clip(int(prev.pos)-1, 1, 5)
			}
			out = append(out, int32(oOpenHigh+b*4+int(f.role)))
			continue
		}
		if prev.open == 1 {
			out = append(out, int32(oStillOpen+int(st.Finger)*4+gap))
		}
		own := prev.fing[st.Finger]
		rel := relation(own, st)
		age := ageBucket(own.age)
		out = append(out, int32(oSameFinger+(rel*3+age)*4+int(st.Finger)-1))
		if age == 0 {
			out = append(out, int32(oSameGap+rel*4+gap))
		}
		for g := int8(1); g <= 4; g++ {
			pl := prev.fing[g]
			if g == st.Finger || pl.lo == 0 {
				continue
			}
			if pl.fret == st.Fret && st.String >= pl.lo && st.String <= pl.hi {
				out = append(out, int32(oRefinger+(ageBucket(pl.age)*5+int(g))*5+int(st.Finger)))
			}
			if pl.age <= 2 {
				out = nearFeatures(out, pl, g, st)
			}
			if pl.age > 1 {
				continue
			}
			d := int(st.Fret) - int(pl.fret)
			same, sr := 0, 1
			switch {
			case st.String < pl.lo:
				sr = 0
			case st.String > pl.hi:
				sr = 2
			default:
				same = 1
			}
			if pl.age == 0 {
				out = append(out, int32(oAfter+(((int(g)-1)*4+int(st.Finger)-1)*9+clip(d, -4, 4)+4)*3+sr))
			}
			out = append(out, int32(oFit+((clip(d-int(st.Finger-g), -3, 3)+3)*2+same)*8+int(min(pl.age, 1))*4+gap))
		}
	}
	return out
}

// nearFeatures compare a stop with where another finger was a moment ago, whichever came first.
func nearFeatures(out []int32, pl placed, g int8, st Stop) []int32 {
	a, b := Stop{pl.lo, pl.fret, g}, st // by finger
	if st.String > pl.hi {
		a.String = pl.hi
	} else if st.String > pl.lo {
		a.String = st.String
	}
	if a.Finger > b.Finger {
		a, b = b, a
	}
	d := int(b.Fret - a.Fret)
	ds := int(b.String - a.String)
	side := 1
	if ds > 0 {
		side = 2
	} else if ds < 0 {
		side = 0
	}
	return append(out,
		int32(oNear+(pairIndex(a.Finger, b.Finger)*10+clip(d, -4, 5)+4)*5+clip(ds, -2, 2)+2),
		int32(oNearAge+(ageBucket(pl.age)*7+clip(d-int(b.Finger-a.Finger), -3, 3)+3)*3+side))
}

// ringFeatures look at what sounded on the string, and where the same pitch was, a few moments ago.
func (p *Piece) ringFeatures(out []int32, prev *state, s *slice, k int, st Stop) []int32 {
	const far = 6
	alone := 0
	if s.to-s.from == 1 {
		alone = 1
	}
	if r := prev.rang[st.String]; r.slice > 0 && s.number-r.slice <= far {
		d := int(st.Fret) - int(r.fret)
		if d < 0 {
			d = -d
		}
		b := 0
		switch {
		case d == 0:
		case d <= 2:
			b = 1
		case d <= 4:
			b = 2
		case d <= 7:
			b = 3
		default:
			b = 4
		}
		out = append(out, int32(oRing+((int(s.number-r.slice)-1)*5+b)*2+alone))
		if d == 0 {
			open := 0
			if st.Finger == 0 {
				open = 1
			}
			out = append(out, int32(oStay+(int(s.number-r.slice)-1)*2+open))
		}
	}
	midi := p.Notes[s.from+k].Midi
	for str := 1; str <= p.neck.strings; str++ {
		r := prev.rang[str]
		if int8(str) == st.String || r.slice == 0 || s.number-r.slice > far || p.neck.open[str]+int(r.fret) != midi {
			continue
		}
		o := 0
		if r.fret == 0 {
			o = 2
		}
		if st.Finger == 0 {
			o++
		}
		out = append(out, int32(oSwitch+(int(s.number-r.slice)-1)*4+o))
	}
	return out
}
