package main

import (
	"math"
	"math/rand/v2"
)

// stroke is one note to be played by the strings of this package.
type stroke struct {
	onsetS, untilS float64
	midi, str      int
	db             float64
	bridgeMm       float64
}

// guitarStrings are a guitar of loops of delay: the pulse of a finger goes round, is heard at each turn, and
// runs from the place of the stroke to both ends, so that its second half arrives later and turned round
// (Smith 1992). It shares no line with the sum of partials that package sound makes.
//
// Body, room, length and nail are drawn for each guitar, since no two are alike.
type guitarStrings struct {
	scaleMm float64
	modes   []mode
	wallS   []float64 // delay of each reflection
	wall    []float64 // and its gain
	nail    float64   // 0 flesh to 1 nail
}

// mode is one resonance of the body, as a recursion.
type mode struct{ a1, a2, gain float64 }

func newStrings(rng *rand.Rand, roomy bool) guitarStrings {
	g := guitarStrings{scaleMm: 630 + 30*rng.Float64(), nail: rng.Float64()}
	for i, hz := range []float64{98, 197, 228, 310, 385, 460, 560, 680, 820, 1040, 1350, 1800, 2500} {
		hz *= 0.9 + 0.2*rng.Float64()
		q := 10 + 16*rng.Float64()
		r := math.Exp(-math.Pi * hz / q / rateHz)
		gain := (0.4 + rng.Float64()) / (1 + 0.1*float64(i)) * (1 - r) * 2
		g.modes = append(g.modes, mode{2 * r * math.Cos(2*math.Pi*hz/rateHz), -r * r, gain})
	}
	if roomy {
		for range 14 {
			t := 0.001 + 0.05*rng.Float64()
			gain := 0.4 * math.Exp(-t/0.03) * rng.Float64()
			if rng.IntN(2) == 0 {
				gain = -gain
			}
			g.wallS, g.wall = append(g.wallS, t), append(g.wall, gain)
		}
	}
	return g
}

const rateHz = 44100

func (g guitarStrings) play(strokes []stroke, seconds float64, rng *rand.Rand) []float32 {
	dry := make([]float64, int(seconds*rateHz))
	for _, s := range strokes {
		g.strike(dry, s, rng)
	}
	out := make([]float64, len(dry))
	prev := 0.0
	y1, y2 := make([]float64, len(g.modes)), make([]float64, len(g.modes))
	for i, x := range dry {
		y := 1.1*x + 0.7*(x-prev)
		prev = x
		for m := range g.modes {
			v := x*g.modes[m].gain + g.modes[m].a1*y1[m] + g.modes[m].a2*y2[m]
			y2[m], y1[m] = y1[m], v
			y += v
		}
		out[i] = y
	}
	wet := append([]float64{}, out...)
	for k, t := range g.wallS {
		d := int(t * rateHz)
		for i := d; i < len(wet); i++ {
			wet[i] += g.wall[k] * out[i-d]
		}
	}
	pcm, most := make([]float32, len(wet)), 1e-9
	for _, v := range wet {
		most = max(most, math.Abs(v))
	}
	for i, v := range wet {
		pcm[i] = float32(0.6 * v / most)
	}
	return pcm
}

// openMidi are the open strings by number; the first is 1.
var openMidi = [7]int{1: 64, 2: 59, 3: 55, 4: 50, 5: 45, 6: 40}

func (g guitarStrings) strike(dry []float64, s stroke, rng *rand.Rand) {
	fret := s.midi - openMidi[s.str]
	lengthMm := g.scaleMm * math.Exp2(-float64(fret)/12)
	hz := 440 * math.Exp2(float64(s.midi-69)/12)
	beta := min(s.bridgeMm/lengthMm, 0.9)
	from, until := int(s.onsetS*rateHz), min(len(dry), int(s.untilS*rateHz))
	width := (0.0016 - 0.0011*g.nail) * (0.8 + 0.4*rng.Float64()) * math.Exp2(-s.db/18)
	widthN := max(5, int(width*rateHz))
	pulse := make([]float64, widthN)
	low := 0.0
	for i := range pulse {
		low += 0.5 * (rng.NormFloat64() - low)
		pulse[i] = 0.5*(1-math.Cos(2*math.Pi*float64(i)/float64(widthN))) + 0.12*low
	}
	gain := math.Pow(10, s.db/20) / math.Sqrt(float64(widthN))
	angle := 0.3 + 0.7*rng.Float64()
	for plane, share := range []float64{math.Cos(angle), 0.5 * math.Sin(angle)} {
		period := rateHz / hz * math.Exp2(float64(plane)*0.6/1200)
		dark := 0.25 - 0.12*float64(min(1, max(0, 4-s.str)))
		loss := math.Pow(10, -3/(hz*(3.5+1.5*float64(plane))))
		delay := period - dark/(1-dark)
		n := int(delay)
		frac := delay - float64(n)
		line := make([]float64, n+2)
		state, last := 0.0, 0.0
		at := 0
		echo := beta * period
		for i := from; i < until; i++ {
			t := i - from
			// linear between two samples loses the highest partials, as strings do
			x := line[(at+1)%len(line)]*frac + line[(at+2)%len(line)]*(1-frac)
			state = (1-dark)*x + dark*state
			e := 0.0
			if t < widthN {
				e += pulse[t]
			}
			if b := float64(t) - echo; b >= 0 && b < float64(widthN-1) {
				k := int(b)
				e -= 0.93 * (pulse[k] + (b-float64(k))*(pulse[k+1]-pulse[k]))
			}
			v := loss*state + e
			line[at] = v
			at = (at + 1) % len(line)
			left := float64(until-i) / (0.02 * rateHz)
			dry[i] += gain * share * (v - 0.995*last) * 6 * min(1, left)
			last = v
		}
	}
}
