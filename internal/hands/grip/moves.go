package grip

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
