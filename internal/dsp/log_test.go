package dsp

import (
	"math"
	"testing"
)

// Reference: math.Log of the Go standard library.
func TestLog(t *testing.T) {
	for x := float32(1e-30); x < 1e30; x *= 1.0173 {
		want := math.Log(float64(x))
		if got := float64(Log(x)); math.Abs(got-want) > 3e-6*max(1, math.Abs(want)) {
			t.Fatalf("ln %g: %g, want %g", x, got, want)
		}
	}
}
