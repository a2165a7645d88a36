package dsp

import (
	"math"
	"slices"
)

// Smooth returns x under a Gaussian of the given standard deviation in samples; the ends repeat.
func Smooth(x []float32, sd float64) []float32 {
	r := int(math.Ceil(3 * sd))
	w := make([]float32, 2*r+1)
	var total float64
	for i := range w {
		v := math.Exp(-0.5 * math.Pow(float64(i-r)/sd, 2))
		w[i] = float32(v)
		total += v
	}
	for i := range w {
		w[i] /= float32(total)
	}
	y := make([]float32, len(x))
	for t := range x {
		var sum float32
		for i, wi := range w {
			sum += wi * x[min(max(t+i-r, 0), len(x)-1)]
		}
		y[t] = sum
	}
	return y
}

// RunningMedian returns the median of the n samples (n odd) around each sample; at the ends of
// those there are.
func RunningMedian(x []float32, n int) []float32 {
	y := make([]float32, len(x))
	r := n / 2
	sorted := make([]float32, 0, n+1)
	for t := range len(x) + r {
		if t < len(x) {
			i, _ := slices.BinarySearch(sorted, x[t])
			sorted = slices.Insert(sorted, i, x[t])
		}
		if gone := t - n; gone >= 0 {
			i, _ := slices.BinarySearch(sorted, x[gone])
			sorted = slices.Delete(sorted, i, i+1)
		}
		if c := t - r; c >= 0 {
			y[c] = sorted[len(sorted)/2]
		}
	}
	return y
}

// RunningMax returns the largest of the n samples (n odd) around each sample.
func RunningMax(x []float32, n int) []float32 {
	y := make([]float32, len(x))
	r := n / 2
	for t := range x {
		y[t] = slices.Max(x[max(0, t-r):min(len(x), t+r+1)])
	}
	return y
}

// Percentile returns the q-quantile (0 to 1) of x by nearest rank, 0 for no values. x is not
// changed.
func Percentile[T float32 | float64](x []T, q float64) T {
	if len(x) == 0 {
		return 0
	}
	s := slices.Clone(x)
	slices.Sort(s)
	return s[min(len(s)-1, max(0, int(q*float64(len(s)))))]
}

// Median of v, the mean of the two in the middle where their number is even; 0 of nothing. v stays as it is.
func Median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	w := slices.Clone(v)
	slices.Sort(w)
	if n := len(w); n%2 == 0 {
		return (w[n/2-1] + w[n/2]) / 2
	}
	return w[len(w)/2]
}
