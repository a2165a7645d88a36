package media

import "math"

// sides listens to how the two channels of a take relate, to find those that must not be added up.
type sides struct {
	frames     float64
	l, r       float64 // sums
	ll, rr, lr float64 // sums of products
	sumL, sumR float32 // of the current four frames
	inSum      int
	block      block   // being filled
	loudest    []block // at most blocks of them
}

// block is a short excerpt of both channels at a quarter of the rate.
type block struct {
	l, r   []float32
	energy float64
}

const (
	coarser   = 4    // frames averaged into one for the excerpts
	blockLen  = 2048 // 0.37 s at 22050 Hz
	blocks    = 8    // 3 s of the loudest sound are enough to see a delay
	reachS    = 0.06 // longest delay that is looked for
	both      = -1
	deadDb    = 20   // a channel this much quieter holds nothing but noise
	cancels   = -0.2 // correlation below which the mean loses more than it adds
	lateLike  = 0.75 // likeness of the channels at their best delay …
	lateGain  = 0.05 // … and its least gain over no delay
	lateFloor = 3    // least delay, in coarse samples (0.54 ms): microphones of one phone are closer
)

func (s *sides) add(l, r float32) {
	s.frames++
	s.l += float64(l)
	s.r += float64(r)
	s.ll += float64(l * l)
	s.rr += float64(r * r)
	s.lr += float64(l * r)
	s.sumL += l
	s.sumR += r
	if s.inSum++; s.inSum == coarser {
		s.coarse(s.sumL/coarser, s.sumR/coarser)
		s.sumL, s.sumR, s.inSum = 0, 0, 0
	}
}

func (s *sides) coarse(l, r float32) {
	b := &s.block
	b.l, b.r = append(b.l, l), append(b.r, r)
	b.energy += float64(l*l + r*r)
	if len(b.l) < blockLen {
		return
	}
	weakest := -1
	if len(s.loudest) < blocks {
		s.loudest = append(s.loudest, block{})
		weakest = len(s.loudest) - 1
	} else {
		for i := range s.loudest {
			if weakest < 0 || s.loudest[i].energy < s.loudest[weakest].energy {
				weakest = i
			}
		}
		if s.loudest[weakest].energy >= b.energy {
			weakest = -1
		}
	}
	if weakest >= 0 {
		s.loudest[weakest], s.block = s.block, s.loudest[weakest]
	}
	b.l, b.r, b.energy = b.l[:0], b.r[:0], 0
}

// verdict says which channel alone is to be used, 0 or 1, and why; or both.
func (s *sides) verdict(rateHz int) (only int, why string) {
	if s.frames == 0 {
		return both, ""
	}
	ll := s.ll - s.l*s.l/s.frames // without a constant offset
	rr := s.rr - s.r*s.r/s.frames
	lr := s.lr - s.l*s.r/s.frames
	louder := 0
	if rr > ll {
		louder = 1
	}
	name := [2]string{"left", "right"}
	if loud, quiet := max(ll, rr), min(ll, rr); loud > 0 && quiet <= loud*math.Pow(10, -deadDb/10.0) {
		return louder, "Only the " + name[louder] + " channel carries the playing; the other was left out."
	}
	if ll*rr <= 0 {
		return both, ""
	}
	like := lr / math.Sqrt(ll*rr)
	if like < cancels {
		return louder, "The two channels cancel each other out (one is upside down); only the " + name[louder] + " one was used."
	}
	if like > 1-lateGain {
		return both, ""
	}
	if lag, peak := s.delay(rateHz); peak >= lateLike && peak >= math.Abs(like)+lateGain && (lag >= lateFloor || lag <= -lateFloor) {
		first := 0
		if lag < 0 {
			first = 1
		}
		return first, "One channel comes later than the other; only the " + name[first] + " one, which is first, was used."
	}
	return both, ""
}

// delay is how much later the right channel is, in coarse samples, and how alike the two are then, 0 to 1.
func (s *sides) delay(rateHz int) (lag int, likeness float64) {
	reach := int(reachS * float64(rateHz) / coarser)
	for k := -reach; k <= reach; k++ {
		var lr, ll, rr float64
		for _, b := range s.loudest {
			for i := max(0, -k); i < len(b.l)-max(0, k); i++ {
				x, y := float64(b.l[i]), float64(b.r[i+k])
				lr += x * y
				ll += x * x
				rr += y * y
			}
		}
		if ll > 0 && rr > 0 {
			if v := math.Abs(lr) / math.Sqrt(ll*rr); v > likeness {
				lag, likeness = k, v
			}
		}
	}
	return lag, likeness
}
