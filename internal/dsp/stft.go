package dsp

import "math"

// Hann fills dst with a periodic Hann window scaled so that a sine of amplitude 1 in the middle of
// a bin has magnitude 1.
func Hann(dst []float32) {
	n := float64(len(dst))
	for i := range dst {
		dst[i] = float32((1 - math.Cos(2*math.Pi*float64(i)/n)) / (n / 2))
	}
}

// Spectra reads magnitude spectra out of a signal, each centred on a sample. Outside the signal
// there is silence. One Spectra belongs to one goroutine.
type Spectra struct {
	fft    *FFT
	window []float32
	frame  []float32
}

// NewSpectra plans Hann-windowed spectra of n samples, n a power of two.
func NewSpectra(n int) (*Spectra, error) {
	fft, err := NewFFT(n)
	if err != nil {
		return nil, err
	}
	s := &Spectra{fft: fft, window: make([]float32, n), frame: make([]float32, n)}
	Hann(s.window)
	return s, nil
}

// Bins is the length of a spectrum: n/2+1.
func (s *Spectra) Bins() int { return len(s.window)/2 + 1 }

// At fills dst (Bins long) with the magnitudes of x around sample centre.
func (s *Spectra) At(dst, x []float32, centre int) { s.load(x, centre); s.fft.Magnitudes(dst, s.frame) }

// PowerAt fills dst (Bins long) with the squared magnitudes of x around sample centre.
func (s *Spectra) PowerAt(dst, x []float32, centre int) { s.load(x, centre); s.fft.power(dst, s.frame) }

// PhasesAt fills dst with the lowest len(dst) bins of the spectrum of x around sample centre, phases and
// all; phases count from the first sample of the window. len(dst) is at most Bins()/2+1.
func (s *Spectra) PhasesAt(dst []complex64, x []float32, centre int) {
	s.load(x, centre)
	s.fft.lowest(dst, s.frame)
}

func (s *Spectra) load(x []float32, centre int) {
	from := centre - len(s.window)/2
	if from >= 0 && from+len(s.frame) <= len(x) {
		times(s.frame, x[from:], s.window)
		return
	}
	for i := range s.frame {
		if j := from + i; j >= 0 && j < len(x) {
			s.frame[i] = x[j] * s.window[i]
		} else {
			s.frame[i] = 0
		}
	}
}
