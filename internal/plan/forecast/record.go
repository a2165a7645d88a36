package forecast

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Record is an earlier forecast and what came of it, all in teaching weeks from its day.
type Record struct {
	Low80, Low50, Middle, High50, High80 float64
	Since                                float64 // weeks that have passed since
	Came                                 float64 // when it was finished; 0: not yet

	Raw    *[5]float64 // the same five as the model had them before its Width; nil: as they were said
	Missed float64     // share of teaching weeks without a recording until then, 0 to 1
}

// model is what the model itself said, before a Width.
func (r Record) model() Record {
	if r.Raw != nil {
		r.Low80, r.Low50, r.Middle, r.High50, r.High80 = r.Raw[0], r.Raw[1], r.Raw[2], r.Raw[3], r.Raw[4]
	}
	return r
}

// RecordOf keeps what a forecast said.
func RecordOf(a Answer, since, came float64) Record {
	q := func(p float64) float64 { return quantile(a.Weeks, p) }
	return Record{Low80: q(0.1), Low50: q(0.25), Middle: q(0.5), High50: q(0.75), High80: q(0.9), Since: since, Came: came, Raw: a.Raw, Missed: a.Missed}
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

// believe is how many earlier forecasts weigh as much as the model's own word. near is how far apart in missed weeks two
// students may be and still tell of each other, as the width of a bell; far is what all others weigh beside it.
const (
	believe = 200 // with 40, ranges of a whole studio became too wide, as early forecasts, of which little was known, spoke for the later ones
	near    = 0.1
	far     = 0.15
)

// weighed is a value and how much it tells.
type weighed struct{ value, weight float64 }

// LearnWidth finds the width with which four in five of the wide ranges, and half of the narrow ones, of earlier forecasts
// would have held, most of all those made for students who missed about as many weeks: where weeks are uneven, so is
// what comes.
func LearnWidth(all []Record, missed float64) Width {
	var off, size80, size50 []weighed
	n, sum, squares := 0, 0.0, 0.0
	for _, said := range all {
		r := said.model()
		if !said.over() || r.Low80 <= 0 || r.Low50 <= r.Low80 || r.Middle <= r.Low50 || r.High50 <= r.Middle || r.High80 <= r.High50 || r.weeks() <= 0 {
			continue
		}
		z := (r.Missed - missed) / near
		w := far + (1-far)*math.Exp(-z*z/2)
		n, sum, squares = n+1, sum+w, squares+w*w
		l := math.Log(r.weeks() / r.Middle)
		wide, narrow := math.Log(r.High80/r.Middle), math.Log(r.High50/r.Middle)
		if l < 0 {
			wide, narrow = math.Log(r.Middle/r.Low80), math.Log(r.Middle/r.Low50)
		}
		off = append(off, weighed{l, w})
		size80, size50 = append(size80, weighed{math.Abs(l) / wide, w}), append(size50, weighed{math.Abs(l) / narrow, w})
	}
	if n < 10 {
		return Width{}
	}
	count := sum * sum / squares // as many as tell alike (Kish)
	trust := count / (count + believe)
	return Width{Wider: math.Pow(weighedQuantile(size80, 0.8), trust), Inner: math.Pow(weighedQuantile(size50, 0.5), trust), Later: math.Exp(trust * weighedQuantile(off, 0.5))}
}

// weighedQuantile is the value below which that share of the weight lies.
func weighedQuantile(all []weighed, p float64) float64 {
	slices.SortFunc(all, func(a, b weighed) int { return cmp.Compare(a.value, b.value) })
	sum := 0.0
	for _, x := range all {
		sum += x.weight
	}
	so := 0.0
	for _, x := range all {
		if so += x.weight; so >= p*sum {
			return x.value
		}
	}
	return all[len(all)-1].value
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
