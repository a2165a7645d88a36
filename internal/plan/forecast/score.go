package forecast

import (
	"math"
	"slices"
)

// CRPS is the continuous ranked probability score of a forecast given as equally likely values, against what came:
// mean |x−y| − mean |x−x'|/2, in their unit; 0 is best. Of no values it is not a number.
func CRPS(sample []float64, came float64) float64 {
	x := slices.Sorted(slices.Values(sample))
	n := float64(len(x))
	var off, apart float64
	for i, v := range x {
		off += math.Abs(v - came)
		apart += v * (2*float64(i) + 1 - n) // sums to half of all |x−x'|
	}
	return off/n - apart/(n*n)
}

// IntervalScore of a range that should hold what comes with a chance of 1−alpha: its width, and 2/alpha for
// each unit that came outside.
func IntervalScore(alpha, low, high, came float64) float64 {
	return high - low + 2/alpha*(max(low-came, 0)+max(came-high, 0))
}

// quantile of sorted values, between two by a straight line.
func quantile(sorted []float64, p float64) float64 {
	at := p * float64(len(sorted)-1)
	i := min(int(at), len(sorted)-2)
	if i < 0 {
		return sorted[0]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}

// Place is which share of a forecast lies before what came: evenly spread over 0 to 1 where forecasts are honest.
func Place(sample []float64, came float64) float64 {
	below, same := 0, 0
	for _, x := range sample {
		if x < came {
			below++
		} else if x == came {
			same++
		}
	}
	return (float64(below) + float64(same)/2) / float64(len(sample))
}

// EvenSpread is the chance that values which are spread evenly over 0 to 1 look as uneven as these
// (Kolmogorov and Smirnov, with Stephens' correction for few values).
func EvenSpread(places []float64) float64 {
	x := slices.Sorted(slices.Values(places))
	n := float64(len(x))
	var d float64
	for i, v := range x {
		d = max(d, v-float64(i)/n, float64(i+1)/n-v)
	}
	t := d * (math.Sqrt(n) + 0.12 + 0.11/math.Sqrt(n))
	if t < 0.2 {
		return 1
	}
	var p, sign = 0.0, 1.0
	for k := 1.0; k <= 100; k++ {
		p, sign = p+sign*2*math.Exp(-2*k*k*t*t), -sign
	}
	return min(max(p, 0), 1)
}
