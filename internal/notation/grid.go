package notation

import (
	"math"
	"math/big"

	"antiphon/internal/music"
)

const (
	maxGrid      = 1_000_000_000 // common multiple of all denominators: keeps exact times in 64 bits
	fallbackGrid = 5040          // divisions of a quarter to which a time is rounded that does not fit
)

// grid is the common multiple of the denominators of all times of a score. While it stays within
// maxGrid, sums of times stay exact and within 64 bits.
type grid struct{ n int64 }

// fit gives b as it is, or rounded where its denominator would break the grid.
func (g *grid) fit(b music.Beats) (fitted music.Beats, rounded bool) {
	_, den := b.Fraction()
	if g.n == 0 {
		g.n = 1
	}
	if l := lcm(g.n, big.NewInt(den)); l <= maxGrid {
		g.n = l
		return b, false
	}
	if g.n < fallbackGrid {
		g.n = lcm(g.n, big.NewInt(fallbackGrid))
	}
	n := int64(math.Round(b.Q() * float64(g.n)))
	if n == 0 && (music.Beats{}).Less(b) {
		n = 1 // what lasts some time still does
	}
	return music.Quarters(n, g.n), true
}

// lcm is the least common multiple, or more than maxGrid where it would be.
func lcm(a int64, b *big.Int) int64 {
	if b.IsInt64() && a%b.Int64() == 0 {
		return a
	}
	if !b.IsInt64() || b.Int64() > maxGrid {
		return maxGrid + 1
	}
	x, y := a, b.Int64()
	for y != 0 {
		x, y = y, x%y
	}
	l := new(big.Int).Mul(big.NewInt(a/x), b)
	if !l.IsInt64() || l.Int64() > maxGrid {
		return maxGrid + 1
	}
	return l.Int64()
}
