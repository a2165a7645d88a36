package tone

import (
	"math"

	"antiphon/internal/dsp"
)

// chances of the places of one bar; they add up to 1.
type chances [places]float64

func (p *chances) level() {
	sum := 0.0
	for _, v := range p {
		sum += v
	}
	for i := range p {
		p[i] /= sum
	}
}

func (p *chances) likeliest() int {
	best := 0
	for i, v := range p {
		if v > p[best] {
			best = i
		}
	}
	return best
}

// Where hands are before anything is heard. Ours.
const (
	usualR  = 0.2  // over the hole
	usualSd = 0.07 // of a take as a whole
	barSd   = 0.1  // of one bar, if the hand moves
)

// estimated is where each bar was plucked.
type estimated struct {
	bars   []chances
	gain   float64   // by which combs explain a note better than none do, in units of cost
	byNote []float64 // R by note, alone
	notes  []combed
}

// A climb begins from one place for all, and goes so many rounds.
const climbs = 3

// A second explanation counts as long as it is not worse by more than a few of these.
const doubt = 8.0

// estimate finds the places of the bars together with the take's colour. The two can be confused, so it
// is begun from several places, and what explains the take about as well counts, too.
func estimate(notes []reading, bars int) estimated {
	e := estimator{bars: bars}
	for _, n := range notes {
		e.notes = append(e.notes, newCombed(n))
	}
	var ways []way
	best := 0
	for _, start := range []float64{0.09, 0.2, 0.32} {
		w := e.climb(start)
		i := 0
		for ; i < len(ways) && !alike(&ways[i], &w); i++ {
		}
		if i == len(ways) {
			ways = append(ways, w)
		} else if w.cost < ways[i].cost {
			ways[i] = w
		}
	}
	for i := range ways {
		if ways[i].cost < ways[best].cost {
			best = i
		}
	}
	out := estimated{bars: make([]chances, bars)}
	for i := range ways {
		share := math.Exp(-0.5 * (ways[i].cost - ways[best].cost) / doubt)
		for b := range out.bars {
			for p := range out.bars[b] {
				out.bars[b][p] += share * ways[i].bars[b][p]
			}
		}
	}
	for b := range out.bars {
		out.bars[b].level()
	}
	e.paint(&ways[best].colour)
	for i := range e.notes {
		place, cost := 0, math.Inf(1)
		for p := range places {
			if c := e.notes[i].fit(p).cost; c < cost {
				place, cost = p, c
			}
		}
		out.byNote = append(out.byNote, placeR(place))
	}
	out.notes = e.notes
	out.gain = (e.without() - ways[best].cost) / float64(len(notes))
	return out
}

// way is one explanation of a take.
type way struct {
	colour curve
	bars   []chances
	at     []int // the likeliest place of each bar
	cost   float64
}

// alike says that two ways lead to the same places.
func alike(a, b *way) bool {
	sum := 0
	for i := range a.at {
		sum += max(a.at[i]-b.at[i], b.at[i]-a.at[i])
	}
	return float64(sum)*stepR < 0.02*float64(len(a.at))
}

type estimator struct {
	notes []combed
	bars  int
}

func (e *estimator) climb(start float64) way {
	w := way{at: make([]int, e.bars)}
	for b := range w.at {
		w.at[b] = int(math.Round((start - lowestR) / stepR))
	}
	for range climbs {
		e.paint(&w.colour)
		w.colour = e.colour(w.at)
		e.paint(&w.colour)
		costs := e.costs()
		w.bars = neighbours(costs)
		w.cost = w.colour.penalty()
		r := make([]float64, e.bars)
		for b := range w.at {
			w.at[b] = w.bars[b].likeliest()
			w.cost += costs[b][w.at[b]]
			r[b] = placeR(w.at[b])
		}
		off := (dsp.Median(r) - usualR) / usualSd
		w.cost += off * off
	}
	return w
}

// paint gives every note the take's colour.
func (e *estimator) paint(c *curve) {
	for i := range e.notes {
		n := &e.notes[i]
		for j := range n.partial {
			n.curve[j] = c.at(n.partial[j].hz)
		}
	}
}

// costs of every place, by bar.
func (e *estimator) costs() []chances {
	out := make([]chances, e.bars)
	for i := range e.notes {
		n := &e.notes[i]
		for p := range places {
			out[n.visit][p] += n.fit(p).cost
		}
	}
	return out
}

// colour fits the curve to what the places leave; nil: without combs.
func (e *estimator) colour(at []int) curve {
	var a normal
	for i := range e.notes {
		n := &e.notes[i]
		place := noPlace
		if at != nil {
			place = at[n.visit]
		}
		t := n.fit(place)
		for j := range n.partial {
			p := &n.partial[j]
			if !p.seen {
				continue
			}
			db, weight := p.db-t.level-t.slope*p.octave-n.comb[place][j], 1.0
			if d := math.Abs(db - n.curve[j]); d > farDb/2 {
				weight = farDb / 2 / d
			}
			a.see(p.hz, db, weight)
		}
	}
	a.prior()
	return a.solve()
}

// without is the cost of the take if no place left a comb.
func (e *estimator) without() float64 {
	var c curve
	for range climbs {
		e.paint(&c)
		c = e.colour(nil)
	}
	e.paint(&c)
	cost := c.penalty()
	for i := range e.notes {
		cost += e.notes[i].fit(noPlace).cost
	}
	return cost
}
