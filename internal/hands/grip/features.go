package grip

// A feature is a place in the weight vector: everything that the model looks at is yes or no.
// Each block below is a table; its comment says what its rows and columns are.
const (
	oRole       = 0                   // role 4 × finger 5
	oFret       = oRole + 4*5         // fret 14 × finger 5
	oString     = oFret + 14*5        // string 7 × finger 5
	oPlace      = oString + 7*5       // string 7 × fret up to 5 × finger 5
	oRank       = oPlace + 7*6*5      // rank of the place, lowest fret first 4 × open 2 × role 4
	oRegion     = oRank + 4*2*4       // string 7 × stretch of the neck 5
	oLength     = oRegion + 7*5       // length 3 × finger 5
	oInto       = oLength + 3*5       // interval before 10 × finger 5
	oOut        = oInto + 10*5        // interval after 10 × finger 5
	oDegree     = oOut + 10*5         // degree of the scale 12 × finger 5
	oPair       = oDegree + 12*5      // fingers 6 × fret distance 8 × strings 4: held together
	oStretch    = oPair + 6*8*4       // how wide 5
	oCount      = oStretch + 5        // fingers down 5 × notes 7
	oBarre      = oCount + 5*7        // strings 7 × fret 4
	oPos        = oBarre + 7*4        // position 14
	oPosKey     = oPos + 14           // tonic 12 × position 7
	oShift      = oPosKey + 12*7      // distance 13 × gap 4 × open before 2
	oShiftLow   = oShift + 13*4*2     // distance 13 × lowest finger before 5 and now 5
	oSameFinger = oShiftLow + 13*5*5  // relation 9 × age 3 × finger 4
	oSameGap    = oSameFinger + 9*3*4 // relation 9 × gap 4
	oRefinger   = oSameGap + 9*4      // age 3 × finger before 5 × finger now 5
	oAfter      = oRefinger + 3*5*5   // finger before 4 × finger now 4 × fret distance 9 × strings 3
	oFit        = oAfter + 4*4*9*3    // misfit 7 × same string 2 × age 2 × gap 4
	oHeldFit    = oFit + 7*2*2*4      // misfit 7
	oHeldWide   = oHeldFit + 7        // how wide 5
	oCut        = oHeldWide + 5       // reason 3 × what is lost 3 × bass 2
	oLine       = oCut + 3*3*2        // interval 10 × string change 5 × open before and now 4
	oOpenHigh   = oLine + 10*5*4      // position 6 × role 4
	oStillOpen  = oOpenHigh + 6*4     // finger 5 after an open-string slice, gap 4
	oHighPos    = oStillOpen + 5*4    // highest note around 6 × position 14
	oHighRank   = oHighPos + 6*14     // highest note around 6 × rank 4 × open 2
	oPieceRank  = oHighRank + 6*4*2   // highest note of the piece 6 × rank 4 × open 2
	oNear       = oPieceRank + 6*4*2  // fingers 6 × fret distance 10 × strings 5: used one soon after the other
	oNearAge    = oNear + 6*10*5      // age 3 × misfit 7 × strings 3
	oCover      = oNearAge + 3*7*3    // share of the notes around that the position does not cover 6 × position 3
	oRing       = oCover + 6*3        // what sounded on the string 6: moments ago 6 × fret distance 5 × alone or not 2
	oSwitch     = oRing + 6*5*2       // the same pitch a moment ago elsewhere: moments ago 6 × open then and now 4
	oStay       = oSwitch + 6*4       // or in the same place: moments ago 6 × open 2
	features    = oStay + 6*2         // number of features
	unknownRank = 3
)

// Kind names what a feature is about, for reasons in words.
type Kind uint8

const (
	FingerChoice Kind = iota
	PlaceChoice
	OpenString
	Shape
	Stretch
	Barre
	Position
	Shift
	Hop
	Refinger
	Fit
	Cut
	Line
	Ring
	Habit  // what the same notes were taken with elsewhere in the piece
	Common // how many of the good ways agree
	Speed
	kinds
)

func kindOf(f int32) Kind {
	switch {
	case f < oRank:
		return FingerChoice
	case f < oLength:
		return PlaceChoice
	case f < oPair:
		return FingerChoice
	case f < oStretch:
		return Shape
	case f < oCount:
		return Stretch
	case f < oBarre:
		return Shape
	case f < oPos:
		return Barre
	case f < oShift:
		return Position
	case f < oSameFinger:
		return Shift
	case f < oRefinger:
		return Hop
	case f < oAfter:
		return Refinger
	case f < oHeldFit:
		return Fit
	case f < oHeldWide:
		return Shape
	case f < oCut:
		return Stretch
	case f < oLine:
		return Cut
	case f < oOpenHigh:
		return Line
	case f < oHighPos:
		return OpenString
	case f < oHighRank:
		return Position
	case f < oNear:
		return PlaceChoice
	case f < oCover:
		return Fit
	case f < oRing:
		return Position
	case f < oSwitch:
		return Ring
	}
	return Refinger
}

func region(fret int) int {
	switch {
	case fret == 0:
		return 0
	case fret <= 4:
		return 1
	case fret <= 7:
		return 2
	case fret <= 11:
		return 3
	}
	return 4
}

// wide is a bucket of how far two stops lie apart against what is easy for this hand.
func (n *Neck) wide(a, b Stop) int {
	x, y := a, b
	if x.Finger > y.Finger {
		x, y = y, x
	}
	easy := n.easy[x.Finger][y.Finger]
	if easy <= 0 {
		return 0
	}
	switch r := n.tips(x, y) / easy; {
	case r <= 1:
		return 0
	case r <= 1.2:
		return 1
	case r <= 1.4:
		return 2
	case r <= 1.6:
		return 3
	}
	return 4
}

// pairTable holds the place of two fingers in tables of six pairs.
func pairIndex(a, b int8) int {
	switch a*10 + b {
	case 12:
		return 0
	case 13:
		return 1
	case 14:
		return 2
	case 23:
		return 3
	case 24:
		return 4
	}
	return 5
}

func clip(x, lo, hi int) int { return min(max(x, lo), hi) }

// pairFeature of two stops that are held together by different fingers.
func pairFeature(a, b Stop) int32 {
	if a.Finger > b.Finger {
		a, b = b, a
	}
	d := clip(int(b.Fret-a.Fret), 0, 7)
	rel := 0
	switch ds := b.String - a.String; { // higher numbers lie towards the bass
	case ds == 1:
		rel = 0
	case ds > 1:
		rel = 1
	case ds == -1:
		rel = 2
	default:
		rel = 3
	}
	return int32(oPair + (pairIndex(a.Finger, b.Finger)*8+d)*4 + rel)
}

// holdFeatures are those of a grip by itself.
func (p *Piece) holdFeatures(out []int32, s *slice, h *hold) []int32 {
	down := 0
	var seen [5]bool
	lo, hi := int8(127), int8(0)
	for k, st := range h.stops {
		if st.String == 0 {
			continue
		}
		f := &p.sets[s.from+k]
		fi, fr, str := int(st.Finger), int(st.Fret), min(int(st.String), 6)
		open, rank := 0, p.rank(s.from+k, st)
		if fi == 0 {
			open = 1
		}
		out = append(out,
			int32(oRole+int(f.role)*5+fi),
			int32(oFret+min(fr, 13)*5+fi),
			int32(oString+str*5+fi),
			int32(oRank+(rank*2+open)*4+int(f.role)),
			int32(oHighRank+(int(s.high)*4+rank)*2+open),
			int32(oPieceRank+(p.high*4+rank)*2+open),
			int32(oRegion+str*5+region(fr)),
			int32(oLength+int(f.length)*5+fi),
			int32(oInto+int(f.into)*5+fi),
			int32(oOut+int(f.out)*5+fi),
			int32(oDegree+int(f.degree)*5+fi))
		if fr <= 5 {
			out = append(out, int32(oPlace+(str*6+fr)*5+fi))
		}
		if fi > 0 {
			if !seen[fi] {
				seen[fi] = true
				down++
			}
			if fi == 1 {
				lo, hi = min(lo, st.String), max(hi, st.String)
			}
		}
		for _, o := range h.stops[:k] {
			if o.String == 0 || o.Finger == 0 || fi == 0 || o.Finger == st.Finger {
				continue
			}
			out = append(out, pairFeature(o, st))
			if w := p.neck.wide(o, st); w > 0 {
				out = append(out, int32(oStretch+w))
			}
		}
	}
	if down > 0 {
		out = append(out, int32(oCount+down*7+min(len(h.stops), 6)))
	}
	if hi > lo && lo < 127 {
		out = append(out, int32(oBarre+min(int(hi-lo), 6)*4+barreFret(h)))
	}
	return out
}

func barreFret(h *hold) int {
	for _, st := range h.stops {
		if st.Finger == 1 {
			return clip((int(st.Fret)-1)/2, 0, 3)
		}
	}
	return 0
}

// rank of a place among those of the note: 0 the lowest fret.
func (p *Piece) rank(i int, st Stop) int {
	r := 0
	for s := 1; s <= p.neck.strings; s++ {
		if fret := p.Notes[i].Midi - p.neck.open[s]; fret >= 0 && fret < int(st.Fret) {
			r++
		}
	}
	return min(r, unknownRank)
}
