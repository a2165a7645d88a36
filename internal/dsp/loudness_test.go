package dsp

import (
	"math"
	"testing"
)

// Gains of the filter whose coefficients ITU-R BS.1770-4 prints in tables 1 and 2, worked out from
// the transfer function with an independent program; +0.691 dB at 997 Hz is also what the
// Recommendation's own offset of −0.691 undoes.
func TestKGainDb(t *testing.T) {
	for _, c := range []struct{ hz, want float64 }{
		{100, -1.134}, {440, 0.008}, {997, 0.691}, {1000, 0.698}, {2000, 3.071}, {5000, 4.013},
	} {
		if got := KGainDb(c.hz); math.Abs(got-c.want) > 0.0015 {
			t.Errorf("%g Hz: %.4f dB, want %.3f", c.hz, got, c.want)
		}
	}
}
