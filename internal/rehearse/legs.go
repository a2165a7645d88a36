package rehearse

import "math/rand/v2"

// Leg is one continuous stretch of written music as the player goes through it.
type Leg struct {
	FromTick, ToTick int
	Jump             string  // how the player got here: "", "restart", "skip", "repeat", or "ending" (same pass, past a first ending)
	GapS             float64 // silence before it
	Ratio            float64 // tempo of this leg over the take's own
	Say              string  // spoken in the gap
}

// straight is the piece from beginning to end, written repeats taken or left out.
func straight(p Piece, repeats bool) []Leg {
	var legs []Leg
	last := -2
	for _, b := range p.Unrolled(repeats) {
		bar := p.Bars[b]
		switch {
		case b == last+1:
			legs[len(legs)-1].ToTick = bar.At + bar.Ticks
		case b < last:
			legs = append(legs, Leg{FromTick: bar.At, ToTick: bar.At + bar.Ticks, Jump: "repeat", Ratio: 1})
		case last < 0:
			legs = append(legs, Leg{FromTick: bar.At, ToTick: bar.At + bar.Ticks, Ratio: 1})
		default:
			legs = append(legs, Leg{FromTick: bar.At, ToTick: bar.At + bar.Ticks, Jump: "ending", Ratio: 1})
		}
		last = b
	}
	return legs
}

// rounds plays a short exercise n times, from slow to up to speed.
func rounds(p Piece, n int, slowest float64, rng *rand.Rand) []Leg {
	var legs []Leg
	slowRounds := 1 + rng.IntN(max(1, n/2))
	for i := 0; i < n; i++ {
		leg := Leg{ToTick: p.EndTick(), Jump: "repeat", Ratio: 1}
		if i == 0 {
			leg.Jump = ""
		} else if rng.IntN(3) == 0 {
			leg.GapS = 0.3 + 2.2*rng.Float64()
		}
		if i < slowRounds {
			leg.Ratio = slowest
		} else if n > slowRounds+1 {
			leg.Ratio = slowest + (1-slowest)*float64(i-slowRounds+1)/float64(n-slowRounds)
		}
		if i == slowRounds {
			leg.GapS = 0.4 + rng.Float64()
		}
		legs = append(legs, leg)
	}
	return legs
}

// withStumbles cuts legs where the player restarts or skips. Each stumble is at least four notes from
// either end of its leg.
func withStumbles(p Piece, legs []Leg, restarts, skips int, rng *rand.Rand) []Leg {
	for restarts+skips > 0 {
		kind := "restart"
		if skips > 0 && (restarts == 0 || rng.IntN(2) == 0) {
			kind = "skip"
		}
		if kind == "skip" {
			skips--
		} else {
			restarts--
		}
		for try := 0; try < 60; try++ {
			if next, ok := stumble(p, legs, kind, rng); ok {
				legs = next
				break
			}
		}
	}
	return legs
}

func stumble(p Piece, legs []Leg, kind string, rng *rand.Rand) ([]Leg, bool) {
	at := rng.IntN(len(legs))
	leg := legs[at]
	onsets := p.onsetsIn(leg.FromTick, leg.ToTick)
	if len(onsets) < 12 {
		return nil, false
	}
	stop := onsets[4+rng.IntN(len(onsets)-8)]
	second := leg
	second.Jump, second.Say = kind, ""
	bar := p.barAt(stop)
	if kind == "restart" {
		back := p.barAt(stop-1) - rng.IntN(3)
		if rng.IntN(5) == 0 {
			back = p.barAt(leg.FromTick)
		}
		if back < 0 || p.Bars[back].At < leg.FromTick || stop-p.Bars[back].At < 2*TicksPerQuarter {
			return nil, false
		}
		second.FromTick = p.Bars[back].At
		second.GapS = 0.25 + 1.9*rng.Float64()
	} else {
		to := bar + 1 + rng.IntN(4)
		if to >= len(p.Bars)-1 || p.Bars[to].At >= leg.ToTick || p.Bars[to].At-stop < 3*TicksPerQuarter {
			return nil, false
		}
		if rng.IntN(3) > 0 {
			stop = p.Bars[bar].At // most skips leave at a bar line
		}
		if stop-leg.FromTick < 2*TicksPerQuarter {
			return nil, false
		}
		second.FromTick = p.Bars[to].At
		second.GapS = 0.9 * rng.Float64()
	}
	if len(p.onsetsIn(second.FromTick, second.ToTick)) < 5 || len(p.onsetsIn(leg.FromTick, stop)) < 3 {
		return nil, false
	}
	first := leg
	first.ToTick = stop
	out := append([]Leg{}, legs[:at]...)
	out = append(out, first, second)
	return append(out, legs[at+1:]...), true
}

// onsetsIn lists the different onset places in [from, to).
func (p Piece) onsetsIn(from, to int) []int {
	var at []int
	for _, n := range p.Notes {
		if n.At >= from && n.At < to && (len(at) == 0 || at[len(at)-1] != n.At) {
			at = append(at, n.At)
		}
	}
	return at
}
