package ear

import (
	"math"

	"antiphon/internal/dsp"
)

// A stroke is also looked at partial by partial, with a spectrum just before and one just after it:
// each partial of a pitch that no other pitch shares votes on whether the pitch began there. Votes
// do not depend on how strong a guitar's partials are to each other, as templates do.
const (
	voteBefore  = RateHz / 20 // samples; the windows of 93 ms just meet
	voteAfter   = RateHz * 52 / 1000
	votePartial = 10
	voteTopHz   = 5200
	sharedHz    = 18 // closer partials cannot be told apart
)

type ballot struct {
	before, after []float32
	floor         []float32 // running median of after, to tell a peak from its surroundings
}

// booth takes ballots at strokes.
type booth struct {
	x       []float32
	spectra *dsp.Spectra
	b       ballot
	at      int // the sample it was filled for
}

func newBooth(x []float32) (*booth, error) {
	s, err := dsp.NewSpectra(shortWindow)
	if err != nil {
		return nil, err
	}
	return &booth{x: x, spectra: s, at: -1,
		b: ballot{before: make([]float32, s.Bins()), after: make([]float32, s.Bins())}}, nil
}

// open fills the ballot for a stroke at an activity frame.
func (v *booth) open(frame int) *ballot {
	c := frame * activityHop
	if v.at != c {
		v.at = c
		v.spectra.At(v.b.before, v.x, c-voteBefore)
		v.spectra.At(v.b.after, v.x, c+voteAfter)
		const topBin = (voteTopHz + 200) * shortWindow / RateHz
		v.b.floor = dsp.RunningMedian(v.b.after[:topBin], 25)
	}
	return &v.b
}

// votes of one pitch.
type votes struct {
	riseDb float64 // mean growth of the partials that are its own, −6 to 18 dB
	clear  float64 // mean height of these over their surroundings, 0 to 24 dB
	own    float64 // how many there are
	allDb  float64 // mean growth of all its partials
	first  float64 // growth of the fundamental
}

// count takes the votes for a pitch of fundamental f0; others are the fundamentals of pitches that
// sound or begin at the same time.
func (b *ballot) count(f0 float64, others []float64) votes {
	const binHz = float64(RateHz) / shortWindow
	var v votes
	all, w := 0.0, 0.0
	for n := 1; n <= votePartial; n++ {
		hz := partialHz(f0, n)
		if hz > voteTopHz {
			break
		}
		k := int(math.Round(hz / binHz))
		if k < 2 || k+2 >= len(b.floor) {
			continue
		}
		reach := 1
		if hz*0.012 > 1.5*binHz { // 20 cents
			reach = 2
		}
		was, now := peakNear(b.before, k, reach), peakNear(b.after, k, reach)
		ground := float64(b.floor[k]) + 1e-7
		rise := 20 * math.Log10((now+ground)/(was+ground))
		rise = min(max(rise, -6), 18)
		weight := 1 / math.Sqrt(float64(n))
		v.allDb += weight * rise
		all += weight
		if n == 1 {
			v.first = rise
		}
		free := true
		for _, o := range others {
			if math.Abs(math.Remainder(hz, o)) < sharedHz && hz > o*0.7 && hz < o*14.5 {
				free = false
				break
			}
		}
		if free {
			v.riseDb += weight * rise
			v.clear += weight * min(max(20*math.Log10((now+1e-9)/ground), 0), 24)
			w += weight
			v.own++
		}
	}
	if all > 0 {
		v.allDb /= all
	}
	if w > 0 {
		v.riseDb /= w
		v.clear /= w
	}
	return v
}

func peakNear(m []float32, k, reach int) float64 {
	top := m[k]
	for i := k - reach; i <= k+reach; i++ {
		top = max(top, m[i])
	}
	return float64(top)
}
