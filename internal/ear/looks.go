package ear

import "antiphon/internal/dsp"

// looks are spectra with their phases, taken a few hops before a stroke and after it: three before, the rest
// after.
type looks struct {
	x       []float32
	spectra *dsp.Spectra
	binHz   float64
	centres []int // samples from the stroke
	bins    int
	taken   [][]complex64
	at      int // frame they were taken for
}

// newLooks takes looks through a window of so many samples.
func newLooks(x []float32, window int, centres ...int) (*looks, error) {
	s, err := dsp.NewSpectra(window)
	if err != nil {
		return nil, err
	}
	l := &looks{x: x, spectra: s, binHz: float64(RateHz) / float64(window), centres: centres, bins: window/4 + 1, at: -1}
	for range centres {
		l.taken = append(l.taken, make([]complex64, l.bins))
	}
	return l, nil
}

func (l *looks) open(frame int) {
	if l.at == frame {
		return
	}
	l.at = frame
	for i, c := range l.centres {
		l.spectra.PhasesAt(l.taken[i], l.x, frame*activityHop+c)
	}
}
