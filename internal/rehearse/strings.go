package rehearse

import (
	"math"
	"math/rand/v2"
	"sort"
)

// stringedVoice is a guitar made of delay lines: six strings, each swinging in two planes that are
// tuned and damped a little differently, meeting at one bridge that passes a little of every string
// to all the others. Digital waveguides: Smith 1992; two planes and sympathetic strings: Karjalainen,
// Välimäki and Tolonen 1998 (from memory). It knows its onsets to the sample.
type stringedVoice struct {
	steel   bool
	noise   float64 // finger and nail
	stretch float64 // how far a hard stroke is sharp at first, cents
}

// plane is one plane of swing of one string.
type plane struct {
	line    [2048]float64
	write   int
	periodN float64 // loop length in samples
	loss    float64 // gain for one round trip
	dark    float64 // one-pole coefficient of the loop
	state   float64
	detune  float64 // cents against the string
	pass    [2]float64
}

// stiff is the coefficient of the two all-pass sections that make high partials sharp.
const stiff = -0.22

// read gives what arrives at the bridge.
func (p *plane) read() float64 {
	// the one-pole, the two all-passes and the write itself each add their own delay at low frequencies
	d := p.periodN - p.dark/(1-p.dark) - p.passDelay() - 1
	i := int(d)
	f := d - float64(i)
	at := p.write - i
	a, b, c, e := p.line[(at+1)&2047], p.line[at&2047], p.line[(at-1)&2047], p.line[(at-2)&2047]
	// Lagrange, third order, between b and c
	x := a*(-f*(f-1)*(f-2)/6) + b*((f+1)*(f-1)*(f-2)/2) + c*(-(f+1)*f*(f-2)/2) + e*((f+1)*f*(f-1)/6)
	p.state = (1-p.dark)*x + p.dark*p.state
	y := p.state
	for k := range p.pass {
		v := y - stiff*p.pass[k]
		y = stiff*v + p.pass[k]
		p.pass[k] = v
	}
	return y * p.loss
}

func (p *plane) passDelay() float64 { return 2 * (1 - stiff) / (1 + stiff) }

// feed sends a sample back into the string.
func (p *plane) feed(x float64) {
	p.write = (p.write + 1) & 2047
	p.line[p.write] = x
}

// guitarString is one string under the fingers.
type guitarString struct {
	planes  [2]plane
	midi    float64 // as stopped
	cents   float64
	bend    float64 // cents, changes with time
	settled float64 // bend where it goes
	damp    float64 // extra loss for one round trip: 1 free
	ring    float64 // seconds to fall by 60 dB at the open string
}

func (s *guitarString) tune(steel bool) {
	hz := 440 * math.Exp2((s.midi-69)/12+(s.cents+s.bend)/1200)
	t60 := s.ring * math.Exp2(-math.Max(0, s.midi-40)/28)
	for i := range s.planes {
		p := &s.planes[i]
		p.periodN = RateHz / (hz * math.Exp2(p.detune/1200))
		p.loss = math.Pow(10, -3/(hz*t60)) * s.damp
		p.dark = 0.32
		if steel {
			p.dark = 0.12
		}
		if p.periodN > 2000 {
			p.periodN = 2000
		}
	}
}

// touchEvent is a change on a string at one sample.
type touchEvent struct {
	at    int
	str   int
	pluck *Pluck // nil: the string is damped, or let go where lift is set
	damp  float64
}

func (v stringedVoice) Play(plucks []Pluck, tuning Tuning, seconds float64, rng *rand.Rand) []float32 {
	out := make([]float32, int(seconds*RateHz))
	parts := map[int]bool{}
	for _, pk := range plucks {
		parts[pk.Part] = true
	}
	for part := 1; part <= 4; part++ {
		if parts[part] {
			v.playOne(out, plucks, part, tuning, rng)
		}
	}
	return out
}

func (v stringedVoice) playOne(out []float32, plucks []Pluck, part int, tuning Tuning, rng *rand.Rand) {
	var strs [7]guitarString
	for s := 1; s <= 6; s++ {
		g := &strs[s]
		g.midi, g.cents, g.damp = float64(openMidi[s]), tuning.centsOf(s), 1
		g.ring = 4 + 3*rng.Float64()
		if v.steel {
			g.ring = 8 + 5*rng.Float64()
		}
		g.planes[1].detune = 0.4 + 1.2*rng.Float64()
		g.tune(v.steel)
	}
	events := v.score(plucks, part, rng)
	body := newBody(rng, v.steel)
	excite := make([]excitation, 0, 16)
	next := 0
	vertical, horizontal := 0.0045, 0.0009 // share of a wave that the bridge takes; 6 × stays far below 1
	if v.steel {
		vertical, horizontal = 0.003, 0.0007
	}
	for i := range out {
		for next < len(events) && events[next].at <= i {
			e := events[next]
			next++
			s := &strs[e.str]
			if e.pluck == nil {
				s.damp = e.damp
				s.tune(v.steel)
				continue
			}
			if !e.pluck.Ghost {
				excite = append(excite, v.pluck(s, *e.pluck, i, rng))
			}
		}
		if i%64 == 0 {
			for s := 1; s <= 6; s++ {
				if strs[s].bend != strs[s].settled {
					strs[s].bend += (strs[s].settled - strs[s].bend) * 0.02
					strs[s].tune(v.steel)
				}
			}
		}
		var arrived [7][2]float64
		sumV, sumH := 0.0, 0.0
		for s := 1; s <= 6; s++ {
			arrived[s][0], arrived[s][1] = strs[s].planes[0].read(), strs[s].planes[1].read()
		}
		for k := 0; k < len(excite); k++ {
			e := &excite[k]
			if x, live := e.next(i); live {
				s := e.str
				arrived[s][0] += x * e.across
				arrived[s][1] += x * e.along
			} else {
				excite[k] = excite[len(excite)-1]
				excite = excite[:len(excite)-1]
				k--
			}
		}
		for s := 1; s <= 6; s++ {
			sumV += arrived[s][0]
			sumH += arrived[s][1]
		}
		bridge := vertical*sumV + horizontal*sumH
		for s := 1; s <= 6; s++ {
			strs[s].planes[0].feed(arrived[s][0] - vertical*sumV)
			strs[s].planes[1].feed(arrived[s][1] - horizontal*sumH)
		}
		out[i] += float32(body.pass(bridge))
	}
	for _, pk := range plucks {
		if pk.Part == part && pk.Ghost {
			deadStroke(out, pk, rng)
		}
	}
}

// score lays out what the fingers do: a touch before a stroke, the stroke, the damping at its end.
func (v stringedVoice) score(plucks []Pluck, part int, rng *rand.Rand) []touchEvent {
	var events []touchEvent
	sample := func(s float64) int { return max(0, int(math.Round(s*RateHz))) }
	for i := range plucks {
		pk := plucks[i]
		if pk.Part != part {
			continue
		}
		if !pk.Soft && !pk.Ghost {
			events = append(events, touchEvent{at: sample(pk.OnsetS - 0.005 - 0.014*rng.Float64()), str: pk.String, damp: 0.75})
		}
		events = append(events, touchEvent{at: sample(pk.OnsetS), str: pk.String, pluck: &plucks[i]})
		struck := false // by a slur or another stroke that takes over
		for _, later := range plucks {
			if later.Part == part && later.String == pk.String && later.OnsetS > pk.OnsetS && later.OnsetS <= pk.OffsetS+0.001 {
				struck = true
			}
		}
		if !struck {
			at := sample(pk.OffsetS)
			events = append(events, touchEvent{at: at, str: pk.String, damp: 0.8 + 0.13*rng.Float64()},
				touchEvent{at: at + RateHz/6, str: pk.String, damp: 0.985})
		}
	}
	sort.SliceStable(events, func(i, j int) bool { return events[i].at < events[j].at })
	return events
}

// excitation is the push of one stroke: a short pulse, finger noise, and both again, turned round,
// from the far end of the string, which is what the place of the stroke sounds like.
type excitation struct {
	str           int
	from, widthN  int
	echoN         int
	across, along float64
	gain, noise   float64
	rng           *rand.Rand
	low           float64
	recent        []float64
}

func (e *excitation) next(i int) (float64, bool) {
	n := i - e.from
	if n > e.widthN+e.echoN {
		return 0, false
	}
	x := 0.0
	if n < e.widthN {
		f := float64(n) / float64(e.widthN)
		x = 0.5 * (1 - math.Cos(2*math.Pi*f))
		e.low += 0.5 * (e.rng.NormFloat64() - e.low)
		x = e.gain * (x + e.noise*e.low*(1-f))
		e.recent[n] = x
	}
	if back := n - e.echoN; back >= 0 && back < e.widthN {
		x -= 0.95 * e.recent[back]
	}
	return x, true
}

func (v stringedVoice) pluck(s *guitarString, pk Pluck, at int, rng *rand.Rand) excitation {
	s.midi, s.damp = pk.Midi, 1
	s.settled = 0
	s.bend = v.stretch * math.Pow(10, pk.Db/20) * rng.Float64()
	if pk.GlideFrom > 0 {
		s.bend = 100 * (pk.GlideFrom - pk.Midi)
	}
	if pk.Muted {
		s.damp = 0.96
	}
	s.tune(v.steel)
	width := 0.0011 + 0.0009*rng.Float64() // flesh; a plectrum or nail is half that
	if v.steel {
		width = 0.0003 + 0.0004*rng.Float64()
	}
	gain := 7 * math.Pow(10, pk.Db/20)
	noise := v.noise * (0.3 + rng.Float64())
	if pk.Soft {
		width, gain, noise = 0.004, gain*0.22, noise*0.3
	}
	angle := 0.25 + 0.9*rng.Float64()
	e := excitation{str: pk.String, from: at, widthN: max(4, int(width*RateHz)), gain: gain, noise: noise, rng: rng,
		across: math.Cos(angle), along: math.Sin(angle)}
	e.gain *= math.Sqrt(0.0006*RateHz/float64(e.widthN)) * math.Pow(s.planes[0].periodN/200, -0.4)
	e.echoN = int(s.planes[0].periodN * (0.07 + 0.28*rng.Float64()))
	e.recent = make([]float64, e.widthN)
	return e
}

// body is the box: some resonances over the plain bridge force.
type body struct {
	modes []resonance
	prev  float64
}

type resonance struct{ a1, a2, gain, y1, y2 float64 }

func newBody(rng *rand.Rand, steel bool) *body {
	b := &body{}
	// Air, first top and back resonances of guitars lie near 100, 200 and 230 Hz (Fletcher & Rossing 1998, from memory); the others are drawn.
	for i, hz := range []float64{98, 197, 228, 310, 385, 460, 560, 680, 820, 1040, 1350, 1800, 2500} {
		hz *= 0.92 + 0.16*rng.Float64()
		q := 14 + 14*rng.Float64()
		r := math.Exp(-math.Pi * hz / q / RateHz)
		gain := (0.5 + rng.Float64()) / (1 + 0.12*float64(i))
		if steel {
			gain *= 0.7
		}
		b.modes = append(b.modes, resonance{a1: 2 * r * math.Cos(2*math.Pi*hz/RateHz), a2: -r * r, gain: gain * (1 - r) * 2})
	}
	return b
}

func (b *body) pass(x float64) float64 {
	y := 1.2*x + 0.8*(x-b.prev)
	b.prev = x
	for i := range b.modes {
		m := &b.modes[i]
		v := x*m.gain + m.a1*m.y1 + m.a2*m.y2
		m.y2, m.y1 = m.y1, v
		y += v
	}
	return y
}
