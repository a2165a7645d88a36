package music

import (
	"fmt"
	"math"
)

// Beats is an exact number of quarter notes. The zero value is 0.
//
// Scores count in quarters, as MusicXML does; triplets and other tuplets make binary fractions
// inexact, so sums of bars would drift if they were floats.
type Beats struct {
	num int64 // always in lowest terms
	den int64 // 0 stands for 1, so that the zero value works
}

// Quarters returns num/den quarter notes. A zero denominator gives 0.
func Quarters(num, den int64) Beats {
	if den == 0 || num == 0 {
		return Beats{}
	}
	if den < 0 {
		num, den = -num, -den
	}
	g := gcd(abs(num), den)
	return Beats{num / g, den / g}
}

func (b Beats) d() int64 {
	if b.den == 0 {
		return 1
	}
	return b.den
}

// Q returns b as a float, for physics and for JSON.
func (b Beats) Q() float64 { return float64(b.num) / float64(b.d()) }

// Fraction returns b in lowest terms; den is at least 1.
func (b Beats) Fraction() (num, den int64) { return b.num, b.d() }

// Add returns b + c.
func (b Beats) Add(c Beats) Beats {
	g := gcd(b.d(), c.d())
	return Quarters(b.num*(c.d()/g)+c.num*(b.d()/g), b.d()/g*c.d())
}

// Sub returns b - c.
func (b Beats) Sub(c Beats) Beats { return b.Add(Beats{-c.num, c.den}) }

// Mul returns b × num/den.
func (b Beats) Mul(num, den int64) Beats {
	g, h := gcd(abs(b.num), abs(den)), gcd(abs(num), b.d())
	if g == 0 || h == 0 {
		return Beats{}
	}
	return Quarters(b.num/g*(num/h), b.d()/h*(den/g))
}

// Cmp is -1, 0 or +1 as b is before, at or after c.
func (b Beats) Cmp(c Beats) int {
	d := b.num - c.num
	if b.d() != c.d() {
		d = b.Sub(c).num
	}
	switch {
	case d < 0:
		return -1
	case d > 0:
		return 1
	}
	return 0
}

// Less reports whether b comes before c.
func (b Beats) Less(c Beats) bool { return b.Cmp(c) < 0 }

// IsZero reports whether b is 0.
func (b Beats) IsZero() bool { return b.num == 0 }

func (b Beats) String() string {
	if b.d() == 1 {
		return fmt.Sprint(b.num)
	}
	return fmt.Sprintf("%d/%d", b.num, b.den)
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

func abs(a int64) int64 {
	if a < 0 {
		return -a
	}
	return a
}

// Hz is the frequency of a MIDI pitch in equal temperament with the given A4 (ISO 16: 440 Hz).
func Hz(midi, a4Hz float64) float64 { return a4Hz * math.Exp2((midi-69)/12) }
