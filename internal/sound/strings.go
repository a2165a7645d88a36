package sound

import (
	"context"
	"math"
	"math/rand/v2"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// plucked is our own guitar: every note is the sum of the partials of a stiff, lossy string that is
// plucked at one place, heard through a body.
//
// Partials are added one by one, not run round a delay line: so each has exactly its frequency, its
// comb of the plucking place and its decay, nothing lies above half the sampling rate, and the onset
// is a sample. Formulas and their sources stand beside them; what is not measured is said to be ours.
type plucked struct {
	a4Hz   float64
	guitar guitar.Instrument
}

func newPlucked(opt Options) plucked { return plucked{opt.a4Hz(), guitar.Standard()} }

func (g plucked) record(ctx context.Context, tones []tone, lengthN []int) ([]recording, error) {
	out := make([]recording, len(tones))
	for i, t := range tones {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		out[i] = recording{pcm: g.pluck(t, lengthN[i])}
	}
	return out, nil
}

// strung is one string as it is stopped.
type strung struct {
	hz        float64 // of its first partial
	lengthMm  float64
	stiffness float64 // Fletcher's B
	wound     bool
}

// strung finds the string that a tone sounds on. A tone without a string is put where it lies lowest.
func (g plucked) strung(t tone) strung {
	open := g.guitar.Open
	str, fret := t.str, t.fret
	if str < 1 || str > len(open) {
		for str = 1; str < len(open) && t.midi < open[str-1]; str++ {
		}
		fret = t.midi - open[str-1]
	}
	if t.harmonic { // the whole string swings in parts
		fret = 0
	}
	i := min(str, 6) - 1
	openHz := music.Hz(float64(open[str-1]), 440)
	s := strung{hz: music.Hz(float64(t.midi), g.a4Hz), wound: str > 3}
	s.lengthMm = g.guitar.ScaleMm * math.Exp2(-float64(min(fret, 24))/12)
	tension := guitar.NormalSet()[i].TensionN(g.guitar.ScaleMm, openHz)
	s.stiffness = guitar.Stiffness(youngGPa, stiffMm()[i], tension, s.lengthMm)
	if t.harmonic {
		k := max(1, math.Round(s.hz/music.Hz(float64(open[str-1]), g.a4Hz)))
		s.stiffness *= k * k // its n-th partial is the string's n·k-th
	}
	return s
}

// Young's modulus of nylon, and diameters of strings 1 to 6. Trebles: the reference's worked numbers
// (E 0.711 mm, G 1.024 mm, 3 GPa), B between them. Wound strings bend like their loose core, about
// as stiff as a plain string of these diameters: from memory.
const youngGPa = 3

func stiffMm() [6]float64 { return [6]float64{0.711, 0.820, 1.024, 0.75, 0.80, 0.85} }

// lossFactor is η of T60 = 6.9078/(π·f·η). Measured values of the reference: nylon trebles 0.002 to
// 0.003 at 330 Hz, 0.004 at 1650 Hz, 0.006 at 3300 Hz; basses 0.0015 at 82 Hz. Straight lines through them.
func lossFactor(hz float64, wound bool) float64 {
	if wound {
		return 0.0015 + 1.3e-6*(hz-82.4)
	}
	return 0.0021 + 1.28e-6*(hz-330)
}

// lossT60S is the time in which a string's own losses take 60 dB of a partial: T60 = 6.9078/(π·f·η).
func lossT60S(hz, eta float64) float64 { return 3 * math.Ln10 / (math.Pi * hz * eta) }

// bridgeT60S is what the bridge alone would leave of a partial. Basses are shorter than their own
// losses by it (the reference: "real basses are shorter through the bridge"; heard 4 to 10 s). Ours.
const bridgeT60S = 9.0

// t60S is the time in which a partial falls by 60 dB; a partial on a body resonance is louder and
// dies sooner, "a partial's decay time is about the inverse of its level" (JASA 71, 1982, S8).
func t60S(hz float64, wound bool, body float64) float64 {
	own := lossT60S(hz, lossFactor(hz, wound))
	bridge := bridgeT60S / (1 + (body*body-1)*resonantLoss)
	return 1 / (1/own + 1/bridge)
}

// resonantLoss: how much of a resonance's gain is paid in decay. Ours.
const resonantLoss = 0.35

// Two planes of swing: across the top, which the bridge hears, and along it, which it hears less and
// leaves longer. Rest strokes push the string towards the top. Shares, decay and detuning are ours;
// that there are two, and that they beat and give two-stage decay, is Weinreich 1977 (from memory).
const (
	alongT60Times = 1.7
	alongFree     = 0.30 // amplitude of the second plane
	alongRest     = 0.14
	alongCents    = 0.35
	planesUpTo    = 10 // partials that are given two planes
)

// Colour of the touch: amplitudes fall beyond a corner that rises with force, more slowly for the
// nail of a free stroke. A finger's width blurs what is shorter than it. Ours.
const (
	softHz      = 2400.0 // corner at mezzo forte
	restDarker  = 0.75
	brightDb    = 6.0 // of force double the corner
	legatoDark  = 0.55
	fingerMm    = 2.0
	restWiderMm = 1.2
	quietestDb  = -84 // partials below it are left out
	highestHz   = 14000
)

type partial struct {
	hz, level, t60S float64
	second          float64 // level of the other plane, 0 none
}

// partials of a plucked string as they leave the body. The bridge is pushed by a string of which the
// n-th partial has |sin(nπR)|/n² in displacement (Traube & Smith 2000), in force n times that.
func (g plucked) partials(t tone) []partial {
	s := g.strung(t)
	r := min(0.5, float64(t.bridgeMm)/s.lengthMm)
	corner := softHz * math.Exp2(float64(t.layerDb)/brightDb)
	finger, along := fingerMm, alongFree
	if t.rest {
		corner, finger, along = corner*restDarker, finger+restWiderMm, alongRest
	}
	if t.slurred {
		corner *= legatoDark
	}
	if t.harmonic {
		r, corner = 0.21, corner*0.8 // touched strings are plucked near the bridge, where every part swings
	}
	var out []partial
	loudest := 0.0
	for n := 1; ; n++ {
		x := float64(n)
		hz := x * s.hz * math.Sqrt((1+s.stiffness*x*x)/(1+s.stiffness))
		if hz > highestHz {
			break
		}
		blur := x * math.Pi * finger / s.lengthMm
		body := bodyGain(hz)
		level := math.Sin(x*math.Pi*r) / x * math.Exp(-blur*blur/4) * math.Pow(1+(hz/corner)*(hz/corner), -0.8) * body * bodySign(hz)
		p := partial{hz: hz, level: level, t60S: t60S(hz, s.wound, bodyPeak(hz))}
		if n <= planesUpTo {
			p.second = level * along
		}
		out = append(out, p)
		loudest = max(loudest, math.Abs(level))
	}
	kept := out[:0]
	for _, p := range out {
		if math.Abs(p.level) > loudest*gain(quietestDb) {
			kept = append(kept, p)
		}
	}
	return kept
}

// pluck sounds a tone for so many samples, its onset at sample 0.
func (g plucked) pluck(t tone, lengthN int) []float32 {
	out := make([]float64, lengthN)
	list := g.partials(t)
	loudest := 0.0
	for _, p := range list {
		loudest = max(loudest, math.Abs(p.level))
	}
	floor := loudest * gain(quietestDb)
	for _, p := range list {
		ring(out, p.hz, p.level, p.t60S, floor)
		if p.second != 0 {
			ring(out, p.hz*math.Exp2(alongCents/1200), p.second, p.t60S*alongT60Times, floor)
		}
	}
	if !t.slurred {
		g.stroke(out, t, loudest)
	}
	pcm := withoutRumble(out)
	equallyLoud(pcm, 0)
	return pcm
}

// ring adds one decaying partial, from its zero on, until it has sunk to the floor.
func ring(out []float64, hz, level, t60S, floor float64) {
	decay := math.Exp(-3 * math.Ln10 / (t60S * RateHz))
	n := min(len(out), int(t60S*RateHz/60*max(0, db(math.Abs(level)/floor))))
	w := 2 * math.Pi * hz / RateHz
	c, d := 2*decay*math.Cos(w), decay*decay
	y1 := 0.0
	y := level * decay * math.Sin(w)
	for i := range out[:n] { // y_n = 2r·cos(w)·y_(n-1) − r²·y_(n-2); the first sample is already moving
		out[i] += y
		y, y1 = c*y-d*y1, y
	}
}

// The knock of the body and the brush of the finger at the stroke, against the loudest partial. Ours.
const (
	knockDb   = -25
	brushDb   = -14
	brushS    = 0.008
	brushRest = 0.6 // a rest stroke brushes less: flesh first
)

func (g plucked) stroke(out []float64, t tone, loudest float64) {
	floor := loudest * gain(quietestDb)
	for i, m := range bodyModes() {
		if i == knocking {
			break
		}
		ring(out, m.hz, loudest*gain(knockDb)/float64(1+i), math.Ln10*3*m.q/(math.Pi*m.hz), floor)
	}
	rng := rand.New(rand.NewPCG(uint64(t.midi)<<16|uint64(t.str), uint64(t.bridgeMm)))
	amount := loudest * gain(brushDb+float64(t.layerDb)/2)
	if t.rest {
		amount *= brushRest
	}
	var low, lower, hum float64
	for i := range min(len(out), int(4*brushS*RateHz)) { // noise between about 2 and 5 kHz
		low += 0.48 * (rng.NormFloat64() - low)
		lower += 0.48 * (low - lower)
		hum += 0.23 * (lower - hum)
		out[i] += amount * (lower - hum) * math.Exp(-float64(i)/(brushS*RateHz))
	}
}
