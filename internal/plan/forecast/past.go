package forecast

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// Step is one work on a student's way.
type Step struct {
	Load  float64 // how much it asks, 1: as much as the usual work; 0 counts as 1
	Weeks float64 // with a recording that it took, or has taken so far; a week in which two works were finished counts for the first
	Ago   float64 // teaching weeks since it was finished
}

func (s Step) load() float64 {
	if s.Load <= 0 {
		return 1
	}
	return s.Load
}

// Past is how one student has gone on so far.
type Past struct {
	Done []Step // finished, the oldest first
	Now  Step   // what is being learnt; no Weeks: nothing was begun
	Came []bool // for each teaching week, the oldest first, whether a recording came
}

// Missed is the share of teaching weeks without a recording; 0 where none is known.
func (p Past) Missed() float64 {
	n := 0
	for _, came := range p.Came {
		if !came {
			n++
		}
	}
	return float64(n) / float64(max(len(p.Came), 1))
}

// Beta is what is believed of a share.
type Beta struct{ Yes, No float64 }

func (b Beta) Mean() float64 { return b.Yes / (b.Yes + b.No) }

// Studio is what all students of a studio tell about one of whom little is known.
type Studio struct {
	Pace   Gamma   // units of load per week with a recording
	Even   float64 // how evenly works take their time: 1 as by chance, more is more even
	Came   Beta    // share of teaching weeks with a recording, outside pauses
	Pauses float64 // chance in a week that a pause of three weeks or more begins
	Pause  float64 // its length in weeks, on average
	Drift  float64 // by how much pace changes, as logarithm per square root of a week
	Stick  float64 // how much a week is like the one before: correlation of recordings coming
	Seen   int     // students with four or more finished works
}

// Where little is known. Our choices, no source.
const (
	usualEven, usualDrift  = 1.0, 0.03
	usualPauses, usualRest = 0.01, 5.0
	pauseFrom              = 3
	enough                 = 4 // finished works, below which the studio speaks
)

// Learn finds what holds in a studio.
func Learn(all []Past) Studio {
	s := Studio{Even: evenness(all)}
	var tallies []Tally
	var shares, weeks []float64
	starts, open, paused := 0.0, 0.0, 0.0
	for _, p := range all {
		var t Tally
		for _, d := range p.Done {
			t.Finished, t.Weeks = t.Finished+d.load(), t.Weeks+d.Weeks
		}
		t.Weeks += p.Now.Weeks
		if t.Weeks > 0 {
			tallies = append(tallies, t)
		}
		if len(p.Done) >= enough {
			s.Seen++
		}
		yes, no, n, rest := attendance(p.Came)
		starts, paused, open = starts+n, paused+rest, open+yes+no
		if yes+no >= 8 {
			shares, weeks = append(shares, yes/(yes+no)), append(weeks, yes+no)
		}
	}
	s.Pace = Prior(tallies, 1/s.Even)
	s.Came = shareOf(shares, weeks)
	s.Pauses = (starts + usualPauses*200) / (open + 200) // as if 200 usual weeks were seen before
	s.Pause = (paused + usualRest*4) / (starts + 4)
	s.Stick = stickiness(all)
	s.Drift = drift(all, s.Even)
	return s
}

// of is what holds for one student: what the studio tells, bent by what the student's own weeks show.
func (s Studio) of(p Past) Studio {
	// How much the studio's word weighs. How evenly works go differs much from family to family, and a dozen works tell of it; that
	// two halves of a way differ is mostly chance.
	const works, pauses, halves = 4.0, 1.5, 12.0
	if s.Seen == 0 { // nothing was learnt from anybody
		return s
	}
	if n := float64(len(p.Done)); n >= enough {
		y := make([]float64, len(p.Done))
		for i, d := range p.Done {
			y[i] = d.Weeks / d.load()
		}
		if m, v := stat.MeanVariance(y, nil); m > 0 {
			s.Even = (n - 1 + works) / ((n-1)*v/(m*m) + works/s.Even)
		}
	}
	yes, no, starts, _ := attendance(p.Came)
	if s.Pauses > 0 {
		s.Pauses = (pauses + starts) / (pauses/s.Pauses + yes + no)
	}
	if l2, weeks, ok := apart(p, s.Even); ok {
		s.Drift = math.Sqrt(max(l2+halves*weeks*s.Drift*s.Drift, 0) / (weeks * (1 + halves)))
	}
	return s
}

// attendance counts weeks with and without a recording outside pauses, and pauses with their weeks.
func attendance(came []bool) (yes, no, pauses, paused float64) {
	for i := 0; i < len(came); {
		if came[i] {
			yes++
			i++
			continue
		}
		j := i
		for j < len(came) && !came[j] {
			j++
		}
		if j-i >= pauseFrom {
			pauses, paused = pauses+1, paused+float64(j-i)
		} else {
			no += float64(j - i)
		}
		i = j
	}
	return yes, no, pauses, paused
}

// shareOf is the belief about a share, from many observed ones.
func shareOf(shares, weeks []float64) Beta {
	if len(shares) < 4 {
		return Beta{8, 2}
	}
	m, v := stat.MeanVariance(shares, nil)
	m = min(max(m, 0.05), 0.97)
	var each float64
	for _, w := range weeks {
		each += 1 / w / float64(len(weeks))
	}
	v = max(v-m*(1-m)*each, 0.0005)
	total := min(max(m*(1-m)/v-1, 2), 200)
	return Beta{m * total, (1 - m) * total}
}

// evenness compares how long works of one student took for their load.
func evenness(all []Past) float64 {
	sum, n := 0.0, 0.0
	for _, p := range all {
		if len(p.Done) < enough {
			continue
		}
		y := make([]float64, len(p.Done))
		for i, d := range p.Done {
			y[i] = d.Weeks / d.load()
		}
		m, v := stat.MeanVariance(y, nil)
		if k := float64(len(y) - 1); m > 0 {
			sum, n = sum+k*v/(m*m), n+k
		}
	}
	cv2 := (sum + 20/usualEven) / (n + 20)
	return min(max(1/cv2, 0.2), 12)
}

// drift compares the later half of each student's works with the earlier one; what chance alone would give is
// taken off. Of a random walk the means of two halves lie a third of the whole time apart in variance.
func drift(all []Past, even float64) float64 {
	const weight = 4.0 // students like the usual one, seen before
	sum, weeks := weight*usualDrift*usualDrift*15, weight*15.0
	for _, p := range all {
		if l2, w, ok := apart(p, even); ok {
			sum, weeks = sum+l2, weeks+w
		}
	}
	return math.Sqrt(min(max(sum/weeks, 0.01*0.01), 0.15*0.15))
}

// apart is by how much the pace of a student's later works differs from that of the earlier, as a logarithm squared
// and less what chance gives, and over how many weeks a walk would have come so far.
func apart(p Past, even float64) (l2, weeks float64, ok bool) {
	n := len(p.Done)
	if n < 2*enough {
		return 0, 0, false
	}
	var load, took [2]float64
	for i, d := range p.Done {
		h := 2 * i / n
		load[h], took[h] = load[h]+d.load(), took[h]+d.Weeks
	}
	if took[0] == 0 || took[1] == 0 {
		return 0, 0, false
	}
	l := math.Log(load[1] / took[1] * took[0] / load[0])
	chance := 1/(even*float64(n/2)) + 1/(even*float64(n-n/2))
	return l*l - chance, (took[0] + took[1]) / 3, true
}

// stickiness is how much a week outside pauses is like the one before it, of the same student. A week of a pause tells nothing:
// pauses are counted by themselves, and whoever counts them here, too, takes every studio for one of long spells.
func stickiness(all []Past) float64 {
	var both, spread float64
	for _, p := range all {
		yes, no, _, _ := attendance(p.Came)
		if yes+no < 12 {
			continue
		}
		m := yes / (yes + no)
		paused := pauses(p.Came)
		for i := 1; i < len(p.Came); i++ {
			if paused[i-1] || paused[i] {
				continue
			}
			a, b := -m, -m
			if p.Came[i-1] {
				a++
			}
			if p.Came[i] {
				b++
			}
			both, spread = both+a*b, spread+m*(1-m)
		}
	}
	if spread == 0 {
		return 0
	}
	return min(max(both/(spread+10), 0), 0.6)
}

// pauses says of each week whether it lies in one.
func pauses(came []bool) []bool {
	out := make([]bool, len(came))
	for i := 0; i < len(came); i++ {
		j := i
		for j < len(came) && !came[j] {
			j++
		}
		for k := i; k < j; k++ {
			out[k] = j-i >= pauseFrom
		}
		i = max(i, j-1)
	}
	return out
}
