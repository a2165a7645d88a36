package forecast

import (
	"fmt"
	"math"
	"slices"
)

// Record is an earlier forecast and what came of it, all in teaching weeks from its day.
type Record struct {
	Low80, Low50, Middle, High50, High80 float64
	Since                                float64 // weeks that have passed since
	Came                                 float64 // when it was finished; 0: not yet
}

// RecordOf keeps what a forecast said.
func RecordOf(a Answer, since, came float64) Record {
	q := func(p float64) float64 { return quantile(a.Weeks, p) }
	return Record{q(0.1), q(0.25), q(0.5), q(0.75), q(0.9), since, came}
}

// over says that the range has ended, so that it can be judged whatever came. To judge those alone that
// are finished would judge the quick ones.
func (r Record) over() bool { return r.Since >= r.High80 }

// weeks it took; where it is not finished, that have passed.
func (r Record) weeks() float64 {
	if r.Came > 0 {
		return r.Came
	}
	return r.Since
}

// Score says how good earlier forecasts were.
type Score struct {
	Judged int
	In50   float64 // share
	In80   float64
	Words  string
}

// Judge scores the records whose 80 % range is over.
func Judge(all []Record) Score {
	var s Score
	for _, r := range all {
		if !r.over() {
			continue
		}
		s.Judged++
		if r.Came > 0 && r.Low50 <= r.Came && r.Came <= r.High50 {
			s.In50++
		}
		if r.Came > 0 && r.Low80 <= r.Came && r.Came <= r.High80 {
			s.In80++
		}
	}
	if s.Judged == 0 {
		s.Words = "No earlier forecast has come to its end yet, so nobody knows how good they are here."
		return s
	}
	in80 := int(s.In80)
	s.In50, s.In80 = s.In50/float64(s.Judged), s.In80/float64(s.Judged)
	if s.Judged == 1 {
		s.Words = "One earlier forecast has come to its end, outside the range that should hold four in five."
		if in80 == 1 {
			s.Words = "One earlier forecast has come to its end, inside the range that should hold four in five."
		}
		return s
	}
	s.Words = fmt.Sprintf("Of %d earlier forecasts that have come to their end, %d ended inside the range that should hold four in five.", s.Judged, in80)
	return s
}

// Width is how ranges are made wider or narrower and moved, as earlier ones showed. On the scale of logarithms the ends of
// the 80 % range move away from the middle by Wider, those of the 50 % range by Inner, and all of it by Later. The
// zero Width changes nothing.
type Width struct{ Wider, Inner, Later float64 }

// believe is how many earlier forecasts weigh as much as the model's own word.
const believe = 40

// LearnWidth finds the width with which four in five of the wide ranges, and half of the narrow ones, of earlier forecasts
// would have held.
func LearnWidth(all []Record) Width {
	var off, size80, size50 []float64
	for _, r := range all {
		if !r.over() || r.Low80 <= 0 || r.Low50 <= r.Low80 || r.Middle <= r.Low50 || r.High50 <= r.Middle || r.High80 <= r.High50 || r.weeks() <= 0 {
			continue
		}
		l := math.Log(r.weeks() / r.Middle)
		wide, narrow := math.Log(r.High80/r.Middle), math.Log(r.High50/r.Middle)
		if l < 0 {
			wide, narrow = math.Log(r.Middle/r.Low80), math.Log(r.Middle/r.Low50)
		}
		off = append(off, l)
		size80, size50 = append(size80, math.Abs(l)/wide), append(size50, math.Abs(l)/narrow)
	}
	if len(off) < 10 {
		return Width{}
	}
	n := float64(len(off))
	slices.Sort(off)
	slices.Sort(size80)
	slices.Sort(size50)
	trust := n / (n + believe)
	return Width{Wider: math.Pow(quantile(size80, 0.8), trust), Inner: math.Pow(quantile(size50, 0.5), trust), Later: math.Exp(trust * quantile(off, 0.5))}
}

func (w Width) apply(weeks []float64) {
	if w == (Width{}) || len(weeks) == 0 {
		return
	}
	x := slices.Sorted(slices.Values(weeks))
	m := quantile(x, 0.5)
	if m <= 0 {
		return
	}
	far := func(p float64) float64 { return math.Abs(math.Log(max(quantile(x, p), 1e-6) / m)) }
	ends := [2][2]float64{{far(0.1), far(0.25)}, {far(0.9), far(0.75)}}
	for i, t := range weeks {
		side, sign := 1, 1.0
		if t < m {
			side, sign = 0, -1
		}
		wide, narrow := ends[side][0], ends[side][1]
		weeks[i] = min(m*w.Later*math.Exp(sign*w.stretch(math.Abs(math.Log(max(t, 1e-6)/m)), wide, narrow)), mostWeeks)
	}
}

// stretch moves a distance from the middle, where the ends of the ranges lie at wide and narrow.
func (w Width) stretch(l, wide, narrow float64) float64 {
	inner := min(w.Inner*narrow, w.Wider*wide)
	switch {
	case l <= narrow:
		return l * inner / max(narrow, 1e-9)
	case l <= wide:
		return inner + (l-narrow)/max(wide-narrow, 1e-9)*(w.Wider*wide-inner)
	}
	return w.Wider * l
}
