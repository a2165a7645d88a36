package rehearse

import (
	"math"
	"math/rand/v2"
)

// Room is where the playing happens.
type Room struct {
	DecayS float64 // time to fall by 60 dB
	Wet    float64 // level of the tail against the direct sound, 0 to 1
	SizeM  float64 // mean way between reflections
}

// play adds the room: first reflections from walls and table, then eight delay lines mixed by a
// Hadamard matrix (Jot & Chaigne 1991, from memory) that darken as they decay. The direct sound
// keeps its place, so onsets do.
func (r Room) play(dry []float32, rng *rand.Rand) []float32 {
	out := make([]float32, len(dry))
	copy(out, dry)
	for k := 0; k < 7; k++ {
		delay := int(RateHz * r.SizeM / 343 * (0.25 + 1.6*rng.Float64()))
		gain := float32(r.Wet * (0.25 + 0.5*rng.Float64()) / (1 + 0.4*float64(k)))
		if rng.IntN(2) == 0 {
			gain = -gain
		}
		for i := delay; i < len(out); i++ {
			out[i] += gain * dry[i-delay]
		}
	}
	var lines [8][]float64
	var at [8]int
	var gain, low [8]float64
	for k := range lines {
		n := int(RateHz * r.SizeM / 343 * (1.3 + 0.42*float64(k) + 0.2*rng.Float64()))
		lines[k] = make([]float64, n)
		gain[k] = math.Pow(10, -3*float64(n)/RateHz/r.DecayS)
	}
	level := r.Wet * 0.35
	for i, x := range dry {
		var v [8]float64
		wet := 0.0
		for k := range lines {
			y := lines[k][at[k]]
			low[k] += 0.45 * (y - low[k])
			v[k] = low[k] * gain[k]
			if k%2 == 0 {
				wet += y
			} else {
				wet -= y
			}
		}
		for step := 1; step < 8; step *= 2 {
			for k := 0; k < 8; k++ {
				if k&step == 0 {
					a, b := v[k], v[k|step]
					v[k], v[k|step] = (a+b)*math.Sqrt2/2, (a-b)*math.Sqrt2/2
				}
			}
		}
		for k := range lines {
			lines[k][at[k]] = v[k] + float64(x)
			if at[k]++; at[k] == len(lines[k]) {
				at[k] = 0
			}
		}
		out[i] += float32(level * wet)
	}
	return out
}

// Noises that happen beside the playing. Levels are relative to the loudness of the playing.
type Noises struct {
	HissDb, HumDb, FanDb float64 // 0 dB is as loud as the playing; -200 is none
	HumHz                float64
	ClickBpm             float64 // a metronome in the room; 0 none
	ClickDb, ClickFromS  float64
	Knocks, Clinks       int
	Squeaks              int
	Rustle               bool
}

// noNoise is a quiet room.
func noNoise() Noises { return Noises{HissDb: -62, HumDb: -200, FanDb: -200} }

func (n Noises) add(x []float32, loud float64, rng *rand.Rand) {
	hiss, hum, fan := loud*db(n.HissDb), loud*db(n.HumDb), loud*db(n.FanDb)
	slow, slower := 0.0, 0.0
	for i := range x {
		w := rng.NormFloat64()
		slow += 0.03 * (w - slow)
		slower += 0.004 * (w - slower)
		v := hiss*w + fan*(4*slow+9*slower)
		if hum > 1e-7 {
			t := float64(i) / RateHz
			v += hum * (math.Sin(2*math.Pi*n.HumHz*t) + 0.6*math.Sin(4*math.Pi*n.HumHz*t+1) + 0.35*math.Sin(6*math.Pi*n.HumHz*t+2))
		}
		x[i] += float32(v)
	}
	seconds := float64(len(x)) / RateHz
	if n.ClickBpm > 0 {
		hz := []float64{1000, 1600, 2300, 800}[rng.IntN(4)]
		beat := 0
		for t := n.ClickFromS; t < seconds; t += 60 / n.ClickBpm {
			f := hz
			if beat%4 == 0 {
				f *= 1.33
			}
			ping(x, t, f, 0.012, 2*loud*db(n.ClickDb))
			beat++
		}
	}
	for k := 0; k < n.Knocks; k++ { // the box, the table, a foot
		t := seconds * rng.Float64()
		gain := loud * (1 + 3*rng.Float64())
		ping(x, t, 70+90*rng.Float64(), 0.035, gain)
		ping(x, t, 240+300*rng.Float64(), 0.012, 0.6*gain)
		burst(x, t, 0.006, 0.5*gain, 0.5, rng)
	}
	for k := 0; k < n.Clinks; k++ { // plates and spoons
		t := seconds * rng.Float64()
		base := 1700 + 2500*rng.Float64()
		for _, ratio := range []float64{1, 1.593, 2.135, 2.917} {
			ping(x, t, base*ratio, 0.03+0.1*rng.Float64(), loud*0.5*rng.Float64())
		}
	}
	for k := 0; k < n.Squeaks; k++ { // a finger along a wound string
		t, length := seconds*rng.Float64(), 0.06+0.14*rng.Float64()
		from, to := 1200+1800*rng.Float64(), 1200+1800*rng.Float64()
		phase := 0.0
		gain := loud * (0.15 + 0.35*rng.Float64())
		start := int(t * RateHz)
		for i := start; i < min(len(x), start+int(length*RateHz)); i++ {
			f := float64(i-start) / (length * RateHz)
			phase += 2 * math.Pi * (from + (to-from)*f) / RateHz
			x[i] += float32(gain * math.Sin(math.Pi*f) * (math.Sin(phase) + 0.4*math.Sin(2*phase) + 0.3*rng.NormFloat64()))
		}
	}
	if n.Rustle { // sleeves, paper
		for k := 0; k < 6; k++ {
			burst(x, seconds*rng.Float64(), 0.1+0.3*rng.Float64(), 0.25*loud, 0.6, rng)
		}
	}
}

func db(x float64) float64 { return math.Pow(10, x/20) }

// ping is a decaying tone.
func ping(x []float32, atS, hz, decayS, gain float64) {
	from := int(atS * RateHz)
	for i := max(0, from); i < min(len(x), from+int(7*decayS*RateHz)); i++ {
		t := float64(i-from) / RateHz
		x[i] += float32(gain * math.Exp(-t/decayS) * math.Sin(2*math.Pi*hz*t))
	}
}

// burst is a decaying noise.
func burst(x []float32, atS, decayS, gain, colour float64, rng *rand.Rand) {
	from, low := int(atS*RateHz), 0.0
	for i := max(0, from); i < min(len(x), from+int(5*decayS*RateHz)); i++ {
		low += colour * (rng.NormFloat64() - low)
		t := float64(i-from) / RateHz
		x[i] += float32(gain * low * math.Exp(-t/decayS) * math.Min(1, t/0.002))
	}
}

// loudness is the root mean square over the louder half of the tenths of a second.
func loudness(x []float32) float64 {
	const hop = RateHz / 10
	var levels []float64
	for i := 0; i+hop <= len(x); i += hop {
		sum := 0.0
		for _, v := range x[i : i+hop] {
			sum += float64(v) * float64(v)
		}
		if e := math.Sqrt(sum / hop); e > 1e-6 {
			levels = append(levels, e)
		}
	}
	if len(levels) == 0 {
		return 0
	}
	return median(levels)
}
