package memory

import "math"

// Horizon is over how many days the worth of a review is counted.
const Horizon = 28

// blur is how far from its target, about, a retention may be and still count in part: the curve is not that sure.
const blur = 0.04

// Kept is how well an item is kept over the coming days (Horizon), 0 to 1, if it is played on so many evenly
// spread days of the coming week, the last playing so many days ago. A day counts fully well above the
// target and hardly below it.
func (p Pace) Kept(t Trace, sinceDays float64, plays int, target float64) float64 {
	next, gap := Horizon+1, 0.0
	if plays > 0 {
		gap = 7 / float64(plays)
		next = int(gap / 2)
	}
	sum, since, played := 0.0, sinceDays, 0
	firm := p.stability(t.StabilityDays) // it changes with a playing, and not from day to day
	left := func() float64 {
		if t.Playings == 0 {
			return 0
		}
		return Retention(since, firm)
	}
	for d := range Horizon {
		if d == next {
			r := Steady
			if left() < brokenBelow {
				r = Stopped
			}
			t, since, played = t.After(since, r), 0, played+1
			firm = p.stability(t.StabilityDays)
			if next = Horizon + 1; played < plays {
				next = int(gap/2 + gap*float64(played))
			}
		}
		sum += 1 / (1 + math.Exp(-(left()-target)/blur))
		since++
	}
	return sum / Horizon
}

// Gains are what 0 to 7 playings in the coming week add to Kept.
func (p Pace) Gains(t Trace, sinceDays, target float64) (g [8]float64) {
	base := p.Kept(t, sinceDays, 0, target)
	for n := 1; n < len(g); n++ {
		g[n] = max(p.Kept(t, sinceDays, n, target)-base, g[n-1])
	}
	return g
}
