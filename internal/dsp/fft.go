package dsp

import (
	"fmt"
	"math"
	"math/bits"
)

// FFT is a plan for real transforms of one length. It holds scratch space, so one plan belongs to
// one goroutine.
type FFT struct {
	n        int // real length, a power of two
	cos, sin []float32
	re, im   []float32
	rev      []int32
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
	// Twiddles are laid out stage after stage, so that the inner loop reads them in order.
	for half := 2; half < h; half *= 2 {
		for k := range half {
			a := -math.Pi * float64(k) / float64(half)
			f.cos = append(f.cos, float32(math.Cos(a)))
			f.sin = append(f.sin, float32(math.Sin(a)))
		}
	}
	f.sc, f.ss = make([]float32, h/2+1), make([]float32, h/2+1)
	for k := range f.sc {
		a := -2 * math.Pi * float64(k) / float64(n)
		f.sc[k], f.ss[k] = float32(math.Cos(a)), float32(math.Sin(a))
	}
	return f, nil
}

// Len is the number of real samples a plan transforms.
func (f *FFT) Len() int { return f.n }

// transform fills f.re, f.im with the transform of the n/2 complex numbers whose real parts are the
// even samples of x and whose imaginary parts are the odd ones.
func (f *FFT) transform(x []float32) {
	re, im, h := f.re, f.im, f.n/2
	for i, r := range f.rev {
		re[i], im[i] = x[2*r], x[2*r+1]
	}
	for i := 0; i+1 < h; i += 2 { // first stage: no multiplications
		ar, ai, br, bi := re[i], im[i], re[i+1], im[i+1]
		re[i], im[i], re[i+1], im[i+1] = ar+br, ai+bi, ar-br, ai-bi
	}
	tw := 0
	for half := 2; half < h; half *= 2 {
		c, s := f.cos[tw:tw+half], f.sin[tw:tw+half]
		for i := 0; i < h; i += 2 * half {
			ar, ai := re[i:i+half], im[i:i+half]
			br, bi := re[i+half:i+2*half], im[i+half:i+2*half]
			s, ai, br, bi := s[:len(c)], ai[:len(c)], br[:len(c)], bi[:len(c)]
			ar = ar[:len(c)]
			for k, w := range c {
				v := s[k]
				tr, ti := br[k]*w-bi[k]*v, br[k]*v+bi[k]*w
				br[k], bi[k] = ar[k]-tr, ai[k]-ti
				ar[k] += tr
				ai[k] += ti
			}
		}
		tw += half
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
