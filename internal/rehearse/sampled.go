package rehearse

import (
	"math"
	"math/rand/v2"
	"strconv"
)

// Tuning is how the instrument is tuned.
type Tuning struct {
	A4Hz  float64
	Cents map[string]float64 // by string
}

// centsOf is how far a string sounds from A4 = 440 equal temperament.
func (t Tuning) centsOf(str int) float64 {
	return 1200*math.Log2(t.A4Hz/440) + t.Cents[strconv.Itoa(str)]
}

// Voice turns strokes into sound. Every stroke's sound begins at its OnsetS.
type Voice interface {
	Play(plucks []Pluck, tuning Tuning, seconds float64, rng *rand.Rand) []float32
}

// sampledVoice plays recorded notes, each one coloured a little differently, because a hand never
// strikes twice the same.
type sampledVoice struct {
	bank  *Bank
	part  int     // plays only this part, 0 all
	clean float64 // 0 coloured as far as it goes, 1 as recorded
}

func (v sampledVoice) Play(plucks []Pluck, tuning Tuning, seconds float64, rng *rand.Rand) []float32 {
	out := make([]float32, int(seconds*RateHz))
	for _, pk := range plucks {
		if v.part > 0 && pk.Part != v.part {
			continue
		}
		if pk.Ghost {
			deadStroke(out, pk, rng)
			continue
		}
		v.strike(out, pk, tuning, rng)
	}
	return out
}

// strike mixes one note into out.
func (v sampledVoice) strike(out []float32, pk Pluck, tuning Tuning, rng *rand.Rand) {
	velocity := 84 + 2.2*pk.Db
	s := v.bank.pick(pk.Midi, int(velocity))
	gain := v.bank.gain * math.Pow(10, pk.Db/20) / 32768
	if s.layer != 84 { // the layers differ in loudness themselves: FluidSynth's gain goes with the square of velocity
		gain *= math.Pow(84/float64(s.layer), 2)
	}
	cents := 100*(pk.Midi-float64(s.midi)) + tuning.centsOf(pk.String)
	sharp := (1 - v.clean) * math.Max(0, 3+0.5*pk.Db) * rng.Float64() // a hard stroke stretches the string
	period := RateHz / (440 * math.Exp2((pk.Midi-69)/12))
	comb := (1 - v.clean) * (0.15 + 0.5*rng.Float64())
	delay := (0.08 + 0.3*rng.Float64()) * period
	tilt := (1 - v.clean) * (rng.Float64()*1.1 - 0.55)
	touch := 0.004 + 0.018*rng.Float64()
	release := 0.006 + 0.02*rng.Float64()
	end := pk.OffsetS - touch
	if end < pk.OnsetS+0.03 {
		end = pk.OffsetS
	}
	place := pk.OnsetS * RateHz
	first := int(math.Ceil(place))
	position := float64(s.onset) + float64(first) - place // where in the recording the sample at first lies
	for position > 0 && first > 0 && position > float64(s.onset)-0.003*RateHz {
		position, first = position-1, first-1 // the finger is heard a moment before the string
	}
	line := make([]float64, int(delay)+4)
	level, low, muffled := 1.0, 0.0, 0.0
	phase := rng.Float64() * 2 * math.Pi
	for i := first; i < len(out); i++ {
		t := float64(i)/RateHz - pk.OnsetS
		if int(position)+2 >= len(s.pcm) {
			return
		}
		x := cubic(s.pcm, position)
		bend := sharp * math.Exp(-t/0.09)
		if pk.VibratoCents > 0 && t > 0.15 {
			bend += pk.VibratoCents * math.Sin(phase+2*math.Pi*5.2*t)
		}
		if pk.GlideFrom > 0 && t < pk.GlideS {
			bend += 100 * (pk.GlideFrom - pk.Midi) * (1 - math.Max(0, t)/pk.GlideS)
		}
		position += math.Exp2((cents + bend) / 1200)
		// Plucking place: a comb on the recorded string.
		n := i - first
		line[n%len(line)] = x
		if back := n - int(delay); back >= 0 {
			x -= comb * line[back%len(line)]
		}
		low += 0.12 * (x - low) // about 900 Hz
		x += tilt * (x - 2*low)
		if pk.Soft && t < 0.02 { // a slur has no stroke: it swells within some milliseconds
			x = low + (x-low)*math.Max(0, t)/0.02
			x *= 0.35 + 0.65*math.Min(1, math.Max(0, t)/0.012)
		}
		if pk.Soft {
			x *= 0.75
		}
		if pk.Muted {
			muffled += 0.15 * (x - muffled)
			x = muffled * math.Exp(-math.Max(0, t)/0.07)
		}
		if pk.Buzzing {
			x += 0.25 * math.Exp(-math.Max(0, t)/0.25) * (math.Tanh((x-low)/2500) * 2500)
		}
		if now := float64(i) / RateHz; now > end {
			level *= 1 - 1/(release*RateHz)
			if level < 0.001 {
				return
			}
		}
		out[i] += float32(x * gain * level)
	}
}

// deadStroke is a hand on muted strings: a short noise without pitch.
func deadStroke(out []float32, pk Pluck, rng *rand.Rand) {
	from := int(pk.OnsetS * RateHz)
	gain := 0.12 * math.Pow(10, pk.Db/20)
	low, lower := 0.0, 0.0
	for i := from; i < min(len(out), from+RateHz/8); i++ {
		t := float64(i-from) / RateHz
		x := rng.NormFloat64()
		low += 0.25 * (x - low)
		lower += 0.02 * (low - lower)
		out[i] += float32(gain * (low - lower) * math.Exp(-t/0.016))
	}
}

// cubic reads between samples (Catmull and Rom).
func cubic(pcm []int16, at float64) float64 {
	i := int(at)
	f := at - float64(i)
	if i < 1 || i+2 >= len(pcm) {
		return 0
	}
	a, b, c, d := float64(pcm[i-1]), float64(pcm[i]), float64(pcm[i+1]), float64(pcm[i+2])
	return b + 0.5*f*(c-a+f*(2*a-5*b+4*c-d+f*(3*(b-c)+d-a)))
}
