package dsp

import (
	"fmt"
	"math"
	"math/bits"
)

// FFT is a plan for real transforms of one length. It holds scratch space, so one plan belongs to
// one goroutine.
type FFT struct {
	n      int       // real length, a power of two
	turns  []float32 // of quarters, step after step
	last   []twiddle // of halves
	re, im []float32
	rev    []int32
	// twiddles of the final split from n/2 complex to n real
	sc, ss []float32
}

// NewFFT plans real transforms of n samples; n must be a power of two of at least 4.
func NewFFT(n int) (*FFT, error) {
	if n < 4 || n&(n-1) != 0 {
		return nil, fmt.Errorf("dsp: FFT length %d is not a power of two of at least 4", n)
	}
	h := n / 2
	f := &FFT{n: n, re: make([]float32, h), im: make([]float32, h), rev: make([]int32, h)}
	shift := 64 - bits.Len(uint(h-1))
	for i := range f.rev {
		f.rev[i] = int32(bits.Reverse64(uint64(i)) >> shift)
	}
	// Twiddles are laid out step after step, so that the inner loop reads them in order.
	half := first(h)
	for ; 4*half <= h; half *= 4 {
		for from := 0; from < half; from += 4 {
			var t [turnLanes]float32
			for j := range 4 {
				k := from + j
				for n, w := range [...]twiddle{at(k, half), at(k, 2*half), at(3*k, 2*half)} {
					t[8*n+j], t[8*n+4+j] = w.cos, w.sin
				}
			}
			f.turns = append(f.turns, t[:]...)
		}
	}
	if 2*half == h {
		for k := range half {
			f.last = append(f.last, at(k, half))
		}
	}
	f.sc, f.ss = make([]float32, h/2+1), make([]float32, h/2+1)
	for k := range f.sc {
		a := -2 * math.Pi * float64(k) / float64(n)
		f.sc[k], f.ss[k] = float32(math.Cos(a)), float32(math.Sin(a))
	}
	return f, nil
}

type twiddle struct{ cos, sin float32 }

// at is exp(−πik/half).
func at(k, half int) twiddle {
	a := -math.Pi * float64(k) / float64(half)
	return twiddle{float32(math.Cos(a)), float32(math.Sin(a))}
}

// by turns a number.
func (t twiddle) by(re, im float32) (float32, float32) {
	return re*t.cos - im*t.sin, re*t.sin + im*t.cos
}

// Len is the number of real samples a plan transforms.
func (f *FFT) Len() int { return f.n }

// transform fills f.re, f.im with the transform of the n/2 complex numbers whose real parts are the
// even samples of x and whose imaginary parts are the odd ones.
func (f *FFT) transform(x []float32) {
	re, im, h := f.re, f.im, f.n/2
	half := first(h)
	if half == 4 { // nothing to multiply by: those of one step are 1 and i
		rev := f.rev
		for i := 0; i+3 < len(rev); i += 4 {
			r := rev[i : i+4]
			x0, x1, x2, x3 := x[2*r[0]:], x[2*r[1]:], x[2*r[2]:], x[2*r[3]:]
			a, aI, b, bI := x0[0], x0[1], x1[0], x1[1]
			c, cI, d, dI := x2[0], x2[1], x3[0], x3[1]
			p, pI, q, qI := a+b, aI+bI, a-b, aI-bI
			r0, rI, s, sI := c+d, cI+dI, c-d, cI-dI
			re4, im4 := re[i:i+4], im[i:i+4]
			re4[0], im4[0], re4[1], im4[1] = p+r0, pI+rI, q+sI, qI-s
			re4[2], im4[2], re4[3], im4[3] = p-r0, pI-rI, q-sI, qI+s
		}
	} else {
		for i, r := range f.rev {
			re[i], im[i] = x[2*r], x[2*r+1]
		}
	}
	// Two stages at a time (radix 4) go over the numbers half as often; an odd one comes last.
	turns := f.turns
	for ; 4*half <= h; half *= 4 {
		for i := 0; i < h; i += 4 * half {
			quarters(re[i:i+4*half], im[i:i+4*half], turns)
		}
		turns = turns[half/4*turnLanes:]
	}
	if 2*half == h {
		halves(re, im, f.last)
	}
}

// first is the length of what is there after reading: transforms of four numbers, joined as they are read, or
// single numbers.
func first(h int) int {
	if h >= 4 {
		return 4
	}
	return 1
}

// halves joins two.
func halves(re, im []float32, turns []twiddle) {
	n := len(turns)
	ar, br, ai, bi := re[:n], re[n:2*n], im[:n], im[n:2*n]
	for k := range turns {
		b, bI := turns[k].by(br[k], bi[k])
		a, aI := ar[k], ai[k]
		ar[k], ai[k], br[k], bi[k] = a+b, aI+bI, a-b, aI-bI
	}
}

// Magnitudes fills dst (length n/2+1) with |X[k]| of the real signal x (length n).
func (f *FFT) Magnitudes(dst, x []float32) {
	f.power(dst, x)
	for k, p := range dst {
		dst[k] = float32(math.Sqrt(float64(p)))
	}
}

// power fills dst with |X[k]|².
func (f *FFT) power(dst, x []float32) {
	f.transform(x)
	re, im, h := f.re, f.im, f.n/2
	dst = dst[:h+1]
	a, b := re[0]+im[0], re[0]-im[0]
	dst[0], dst[h] = a*a, b*b
	for k := 1; k <= h/2; k++ {
		xr, xi := f.split(k)
		// X[h−k] is the conjugate mirror: E − w·O with conjugates, of the same parts.
		er, ei := (re[k]+re[h-k])/2, (im[k]-im[h-k])/2
		yr, yi := 2*er-xr, 2*ei-xi
		dst[k], dst[h-k] = xr*xr+xi*xi, yr*yr+yi*yi
	}
}

// lowest fills dst with X[0], X[1], …, at most up to X[n/4].
func (f *FFT) lowest(dst []complex64, x []float32) {
	f.transform(x)
	for k := range dst {
		if k == 0 {
			dst[0] = complex(f.re[0]+f.im[0], 0)
			continue
		}
		dst[k] = complex(f.split(k))
	}
}

// split gives X[k] from the half-length transform, 1 ≤ k ≤ n/4.
func (f *FFT) split(k int) (xr, xi float32) {
	re, im, h := f.re, f.im, f.n/2
	er, ei := (re[k]+re[h-k])/2, (im[k]-im[h-k])/2
	or, oi := (im[k]+im[h-k])/2, (re[h-k]-re[k])/2
	c, s := f.sc[k], f.ss[k]
	return er + or*c - oi*s, ei + or*s + oi*c
}
