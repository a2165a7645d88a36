package dsp

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Reference: gonum's FFT, an independent implementation (a translation of FFTPACK).
func TestMagnitudesAgreeWithGonum(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{4, 8, 16, 64, 512, 1024, 2048, 4096} {
		x, x64 := make([]float32, n), make([]float64, n)
		for i := range x {
			x[i] = float32(rng.NormFloat64())
			x64[i] = float64(x[i])
		}
		f, err := NewFFT(n)
		if err != nil {
			t.Fatal(err)
		}
		got := make([]float32, n/2+1)
		f.Magnitudes(got, x)
		for k, c := range fourier.NewFFT(n).Coefficients(nil, x64) {
			want := math.Hypot(real(c), imag(c))
			if math.Abs(float64(got[k])-want) > 2e-5*math.Sqrt(float64(n))*3 {
				t.Fatalf("n=%d bin %d: got %g want %g", n, k, got[k], want)
			}
		}
	}
}

// A window over the middle of noise against the same, windowed by hand, through gonum.
func TestPhasesAgreeWithGonum(t *testing.T) {
	const n, centre = 256, 300
	rng := rand.New(rand.NewPCG(3, 4))
	x := make([]float32, 700)
	for i := range x {
		x[i] = float32(rng.NormFloat64())
	}
	s, err := NewSpectra(n)
	if err != nil {
		t.Fatal(err)
	}
	window, x64 := make([]float32, n), make([]float64, n)
	Hann(window)
	for i := range x64 {
		x64[i] = float64(x[centre-n/2+i] * window[i])
	}
	got := make([]complex64, s.Bins()/2+1)
	s.PhasesAt(got, x, centre)
	for k, want := range fourier.NewFFT(n).Coefficients(nil, x64)[:len(got)] {
		if d := complex128(got[k]) - want; math.Hypot(real(d), imag(d)) > 1e-5 {
			t.Fatalf("bin %d: got %g want %g", k, got[k], want)
		}
	}
}

func TestNewFFTRefusesOddLengths(t *testing.T) {
	for _, n := range []int{-1, 0, 2, 3, 12, 1000} {
		if _, err := NewFFT(n); err == nil {
			t.Errorf("length %d was accepted", n)
		}
	}
}

// A sine of amplitude 1 in the middle of a bin has magnitude 1, whatever the window length.
func TestSpectraScale(t *testing.T) {
	const n = 2048
	s, err := NewSpectra(n)
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float32, 3*n)
	for i := range x {
		x[i] = float32(math.Sin(2 * math.Pi * 100 * float64(i) / n))
	}
	dst := make([]float32, s.Bins())
	s.At(dst, x, n+n/2)
	if math.Abs(float64(dst[100])-1) > 1e-4 {
		t.Errorf("magnitude %g, want 1", dst[100])
	}
	s.At(dst, x, 0) // half the window lies before the signal
	if dst[100] < 0.45 || dst[100] > 0.55 {
		t.Errorf("magnitude at the edge %g, want about 0.5", dst[100])
	}
}

func TestMagnitudesDoNotAllocate(t *testing.T) {
	s, err := NewSpectra(1024)
	if err != nil {
		t.Fatal(err)
	}
	x, dst := make([]float32, 4096), make([]float32, s.Bins())
	if n := testing.AllocsPerRun(20, func() { s.At(dst, x, 2000) }); n != 0 {
		t.Errorf("%g allocations a frame, want none", n)
	}
}

func BenchmarkMagnitudes(b *testing.B) {
	for _, n := range []int{512, 2048, 4096} {
		b.Run(map[int]string{512: "512", 2048: "2048", 4096: "4096"}[n], func(b *testing.B) {
			f, err := NewFFT(n)
			if err != nil {
				b.Fatal(err)
			}
			x, dst := make([]float32, n), make([]float32, n/2+1)
			for i := range x {
				x[i] = float32(i%17) - 8
			}
			for b.Loop() {
				f.Magnitudes(dst, x)
			}
		})
	}
}
