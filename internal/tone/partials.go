package tone

import (
	"math"

	"antiphon/internal/dsp"
	"antiphon/internal/ear"
	"antiphon/internal/media"
)

// How partials are read.
const (
	attackS      = 0.012 // the noise of the finger is over by then
	longWindow   = 4096  // 186 ms at the ear's rate
	shortWindow  = 2048  // 93 ms, for notes that are soon followed by others
	longClearS   = 0.165 // so long no other note may begin
	shortClearS  = 0.085
	shortFromHz  = 150.0 // lower notes need the long window
	highestHz    = 6000.0
	mostPartials = 26
	fewest       = 6     // partials that must be seen of a note
	apartBins    = 3.0   // partials of two notes that are nearer are not told apart
	togetherS    = 0.03  // notes that begin within it are one stroke of the hand
	leastAboveDb = 8.0   // a partial is seen where it stands so far above what lies around it
	reachShare   = 0.012 // of its frequency, to each side, where a partial is looked for
	stiffness    = 4e-5  // Fletcher's B, a middling nylon string: see guitar.Stiffness
	recent       = 64    // notes before this one that may still sound
)

// reading is what one stroke left in its partials.
type reading struct {
	played  int // index into ear.Hearing.Played
	midi    int
	visit   int     // of the bars as played
	ratio   float64 // length of the open string over the sounding one
	bright  float64
	partial []partial
}

// partial is one of a note's own.
type partial struct {
	k, hz  float64
	octave float64 // above middleHz
	db     float64
	seen   bool // false: it is no louder than db
}

const middleHz = 600

// reader reads partials out of a take.
type reader struct {
	x           []float32
	long, short *dsp.Spectra
	l, s        []float32
}

func newReader(pcm media.PCM) (*reader, error) {
	long, err := dsp.NewSpectra(longWindow)
	if err != nil {
		return nil, err
	}
	short, err := dsp.NewSpectra(shortWindow)
	if err != nil {
		return nil, err
	}
	return &reader{pcm.Samples, long, short, make([]float32, long.Bins()), make([]float32, short.Bins())}, nil
}

// sounding is a note as it lies in the take.
type sounding struct{ onsetS, untilS, hz float64 }

// read measures the partials of all[i]; ok is false where too few of them are its own.
func (r *reader) read(all []sounding, i int) (out reading, ok bool) {
	n := all[i]
	spectra, power, window := r.long, r.l, longWindow
	if clear := clearS(all, i); clear < longClearS {
		if clear < shortClearS || n.hz < shortFromHz {
			return out, false
		}
		spectra, power, window = r.short, r.s, shortWindow
	}
	spectra.PowerAt(power, r.x, int((n.onsetS+attackS)*ear.RateHz)+window/2)
	binHz := float64(ear.RateHz) / float64(window)
	others := besides(all, i, n.onsetS+attackS+float64(window)/ear.RateHz)
	f0, amplitude, moment, seen := n.hz, 0.0, 0.0, 0
	for k := 1; k <= mostPartials; k++ {
		p := partial{k: float64(k), hz: partialHz(f0, k)}
		if p.hz > highestHz {
			break
		}
		if shared(others, p.hz, apartBins*binHz) {
			continue
		}
		at, level := peak(power, p.hz, binHz)
		floor := around(power, p.hz, f0, binHz)
		if p.seen = level > floor*math.Pow(10, leastAboveDb/10); p.seen {
			seen++
			if k <= 6 { // the pitch as it sounds, for the higher ones
				f0 += 0.3 * (at/partialHz(1, k) - f0)
			}
			a := math.Sqrt(level)
			amplitude, moment = amplitude+a, moment+a*p.hz
		}
		p.db, p.octave = 10*math.Log10(max(level, floor)+1e-20), math.Log2(p.hz/middleHz)
		out.partial = append(out.partial, p)
	}
	if seen < fewest {
		return out, false
	}
	out.bright = moment / amplitude / n.hz
	return out, true
}

// clearS is how long no other note begins.
func clearS(all []sounding, i int) float64 {
	for _, m := range all[i+1:] {
		if d := m.onsetS - all[i].onsetS; d > togetherS {
			return d
		}
	}
	return math.Inf(1)
}

// besides are the pitches of the notes that sound with all[i] until endS.
func besides(all []sounding, i int, endS float64) (hz []float64) {
	const samePitch = 0.01 // struck again: one string
	for j := max(0, i-recent); j < len(all) && all[j].onsetS < endS; j++ {
		if j != i && all[j].untilS > all[i].onsetS-0.02 && math.Abs(all[j].hz/all[i].hz-1) > samePitch {
			hz = append(hz, all[j].hz)
		}
	}
	return hz
}

func partialHz(f0 float64, k int) float64 {
	return f0 * float64(k) * math.Sqrt(1+stiffness*float64(k*k))
}

// shared says that a partial of another note may lie too near. How stiff its string is, is not known.
func shared(others []float64, hz, apart float64) bool {
	for _, f := range others {
		for k := int(math.Ceil((hz + apart) / f)); k >= 1 && partialHz(f, k) > hz-apart; k-- {
			if float64(k)*f < hz+apart {
				return true
			}
		}
	}
	return false
}

// peak is the highest power near a frequency, with its place.
func peak(power []float32, hz, binHz float64) (at, level float64) {
	reach, mid := max(1, int(math.Ceil(reachShare*hz/binHz))), int(math.Round(hz/binHz))
	best := min(mid, len(power)-1)
	for b := max(1, mid-reach); b <= min(len(power)-2, mid+reach); b++ {
		if power[b] > power[best] {
			best = b
		}
	}
	return float64(best) * binHz, float64(power[best])
}

// around is what lies between the partials, half a note to each side at most.
func around(power []float32, hz, f0, binHz float64) float64 {
	reach := min(f0/2, 220) / binHz
	from, to := max(1, int(hz/binHz-reach)), min(len(power)-1, int(hz/binHz+reach)+1)
	return 1.5 * float64(dsp.Percentile(power[from:max(from, to)], 0.35))
}
