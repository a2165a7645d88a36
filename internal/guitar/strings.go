package guitar

import "math"

// Units of the makers' tables. Source: international yard and pound agreement of 1959
// (1 in = 25.4 mm, 1 lb = 0.45359237 kg) and standard gravity 9.80665 m/s².
const (
	mmPerInch  = 25.4
	kgPerPound = 0.45359237
	NPerLbf    = kgPerPound * 9.80665
)

// Wire is one string as it is sold.
type Wire struct {
	LbPerInch float64 // unit weight, as makers' tables print it
}

// KgPerM is the mass of a metre of it.
func (w Wire) KgPerM() float64 { return w.LbPerInch * kgPerPound / (mmPerInch / 1000) }

// NormalSet and HardSet are nylon sets for strings 1 to 6. Source: unit weights of a maker's public
// table as carried by the MIT-licensed zmoon/stringcalc.
func NormalSet() []Wire {
	return []Wire{{2.092e-5}, {2.827e-5}, {4.679e-5}, {1.0754e-4}, {1.8416e-4}, {3.0632e-4}}
}

// HardSet is described at NormalSet.
func HardSet() []Wire {
	return []Wire{{2.161e-5}, {2.924e-5}, {4.795e-5}, {1.1237e-4}, {1.9521e-4}, {3.1726e-4}}
}

// TensionN is the pull of a wire of a vibrating length tuned to a frequency: T = μ(2Lf)².
func (w Wire) TensionN(lengthMm, hz float64) float64 {
	v := 2 * lengthMm / 1000 * hz
	return w.KgPerM() * v * v
}

// TensionLbf is TensionN in pounds of force, as makers print it: T = UW(2Lf)²/386.4, with L in inches.
func (w Wire) TensionLbf(lengthMm, hz float64) float64 {
	v := 2 * lengthMm / mmPerInch * hz
	return w.LbPerInch * v * v / 386.4 // gravity in in/s² as the makers' formula rounds it
}

// RetuneSemitones is how much higher strings made for one scale must be tuned on another to pull the
// same: 12·log2(from/to). Negative: lower.
func RetuneSemitones(fromMm, toMm float64) float64 { return 12 * math.Log2(fromMm/toMm) }

// Stiffness is Fletcher's coefficient B = π³·E·d⁴/(64·T·L²) of a plain string (Fletcher 1964), with
// Young's modulus in GPa and the diameter in mm.
func Stiffness(youngGPa, diameterMm, tensionN, lengthMm float64) float64 {
	d, l := diameterMm/1000, lengthMm/1000
	return math.Pow(math.Pi, 3) * youngGPa * 1e9 * math.Pow(d, 4) / (64 * tensionN * l * l)
}

// PartialHz is the n-th partial of a stiff string: f_n = n·f0·√(1+B·n²) (Fletcher 1964).
func PartialHz(n int, f0Hz, b float64) float64 {
	x := float64(n)
	return x * f0Hz * math.Sqrt(1+b*x*x)
}

// SharpCents is how much the n-th partial of a stiff string is above n times its fundamental.
func SharpCents(n int, b float64) float64 {
	return 600 * math.Log2(1+b*float64(n*n))
}

// PluckPoint is where along the sounding length a string is plucked, as a share of it: the distance
// from the bridge over the length left by the stopping finger. The fret counts from the capo.
func (in Instrument) PluckPoint(bridgeMm float64, fret int) float64 {
	return bridgeMm / (in.scaleMm() * math.Exp2(-float64(in.Capo+fret)/12))
}

// PluckedDb is the level of the n-th partial against the first of an ideal string plucked at a share r
// of its length: |sin(nπr)|/n². Minus infinity at a null.
func PluckedDb(n int, r float64) float64 {
	level := func(n int) float64 {
		return math.Abs(math.Sin(float64(n)*math.Pi*r)) / float64(n*n)
	}
	ratio := level(n) / level(1)
	if ratio < 1e-12 {
		return math.Inf(-1)
	}
	return 20 * math.Log10(ratio)
}
