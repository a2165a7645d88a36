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

// Width is how ranges are made wider or narrower and moved, as earlier ones showed: a time t about the middle m
// becomes m·Later·(t/m)^Wider. The zero Width changes nothing.
type Width struct{ Wider, Later float64 }

// believe is how many earlier forecasts weigh as much as the model's own word.
const believe = 40

// LearnWidth finds the width with which four in five earlier forecasts would have held.
func LearnWidth(all []Record) Width {
	var off, size []float64
	for _, r := range all {
		if !r.over() || r.Middle <= 0 || r.Low80 <= 0 || r.High80 <= r.Low80 || r.weeks() <= 0 {
			continue
		}
		l := math.Log(r.weeks() / r.Middle)
		half := math.Log(r.High80 / r.Middle)
		if l < 0 {
			half = math.Log(r.Middle / r.Low80)
		}
		if half > 0 {
			off, size = append(off, l), append(size, l/half)
		}
	}
	if len(off) < 10 {
		return Width{}
	}
	n := float64(len(off))
	slices.Sort(off)
	for i := range size {
		size[i] = math.Abs(size[i])
	}
	slices.Sort(size)
	trust := n / (n + believe)
	return Width{Wider: math.Pow(quantile(size, 0.8), trust), Later: math.Exp(trust * quantile(off, 0.5))}
}

func (w Width) apply(weeks []float64) {
	if w == (Width{}) || len(weeks) == 0 {
		return
	}
	m := quantile(slices.Sorted(slices.Values(weeks)), 0.5)
	if m <= 0 {
		return
	}
	for i, x := range weeks {
		weeks[i] = min(m*w.Later*math.Pow(x/m, w.Wider), mostWeeks)
	}
}
