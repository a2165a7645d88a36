package ear

import "math"

// A string that rings on through a stroke keeps its phase: from three looks before the stroke it is known
// where each of its partials will be after it. A string that is plucked anew begins anew, however little
// louder it becomes. It is the only trace that a string of a strum leaves when the same chord rings already
// (prediction of the complex spectrum: Bello, Duxbury, Davies and Sandler 2004).
const (
	steadyHop    = 1024                // samples from look to look: 46 ms
	steadyLast   = shortWindow/2 + 256 // the last look before ends 12 ms before the stroke
	steadyAhead  = 3                   // hops from the last before to the first after, which begins 35 ms after the stroke
	steadyEach   = 7
	steadyCount  = steadyEach * portraitPartials
	steadyUnitDb = 20
)

// steady takes the looks.
type steady struct{ *looks }

func newSteady(x []float32) (steady, error) {
	const last = -steadyLast
	l, err := newLooks(x, shortWindow, last-2*steadyHop, last-steadyHop, last, last+steadyAhead*steadyHop, last+(steadyAhead+1)*steadyHop)
	return steady{l}, err
}

// appendTo appends to v, partial by partial of f0, how steadily it sounded before, how well it goes on as
// foretold, and its levels; loudDb is that of a loud partial of the take.
func (t steady) appendTo(v []float32, frame int, f0, loudDb float64) []float32 {
	t.open(frame)
	for n := 1; n <= portraitPartials; n++ {
		k := int(math.Round(partialHz(f0, n) / t.binHz))
		if k < 2 || k+2 >= t.bins {
			v = append(v, make([]float32, steadyEach)...)
			continue
		}
		best, top := k, float32(-1)
		for i := k - 1; i <= k+1; i++ {
			if m := power(t.taken[2][i]) + power(t.taken[3][i]); m > top {
				best, top = i, m
			}
		}
		b0, b1, b2, a1, a2 := t.taken[0][best], t.taken[1][best], t.taken[2][best], t.taken[3][best], t.taken[4][best]
		turn := unit(b2 * conj(b1))
		fall := math.Sqrt(float64(power(b2)+1e-12) / float64(power(b1)+1e-12))
		fall = min(max(fall, 0.7), 1)
		to1 := turn * turn * turn
		told := b2 * to1 * complex(float32(fall*fall*fall), 0)
		miss, size := length(a1-told), length(a1)+length(told)
		gain := func(a, b complex64) float32 {
			db := 10 * math.Log10(float64(power(a)+1e-12)/float64(power(b)+1e-12))
			return float32(min(max(db/steadyUnitDb, -2), 2))
		}
		level := (10*math.Log10(float64(power(b2))+1e-12) - loudDb) / steadyUnitDb
		v = append(v, cosine(b2, b1*unit(b1*conj(b0))), cosine(a1, told), cosine(a2, told*turn), gain(a1, b2), gain(a2, b2),
			miss/(size+1e-9), float32(min(max(level, -3), 1)))
	}
	return v
}

func conj(a complex64) complex64 { return complex(real(a), -imag(a)) }

func power(a complex64) float32 { return real(a)*real(a) + imag(a)*imag(a) }

func length(a complex64) float32 { return float32(math.Sqrt(float64(power(a)))) }

// unit is a with length 1.
func unit(a complex64) complex64 { return a * complex(1/(length(a)+1e-15), 0) }

// cosine of the angle between a and b.
func cosine(a, b complex64) float32 {
	return (real(a)*real(b) + imag(a)*imag(b)) / (length(a)*length(b) + 1e-15)
}
