package dsp_test

import (
	"slices"
	"testing"

	"antiphon/internal/dsp"
)

// Worked by hand.
func TestMedian(t *testing.T) {
	for _, c := range []struct {
		v    []float64
		want float64
	}{{nil, 0}, {[]float64{3}, 3}, {[]float64{9, 1, 4}, 4}, {[]float64{9, 1, 4, 6}, 5}} {
		before := slices.Clone(c.v)
		if got := dsp.Median(c.v); got != c.want || !slices.Equal(before, c.v) {
			t.Errorf("%v: %v, want %v", before, got, c.want)
		}
	}
}
