package tone

import "math"

// The model of a note's partials, in dB: the comb of the place where its string was plucked, what body,
// room and phone make of each frequency (one smooth curve for the take), and a level and a slope that its
// stroke gave. Spreads and limits are ours, set on renderings with other seeds than those reported.
const (
	combFloor = 0.012 // of power: a finger is no point, and no string is without loss
	spreadDb  = 5.0   // of a partial about the model
	farDb     = 14.0  // a partial that is farther off counts as so far off
	slopeDb   = 2.0   // an octave, by which one stroke is brighter or darker than another
)

// Places that are looked at: R from 0.044, 29 mm on a full-size guitar, to 0.392.
const (
	lowestR = 0.044
	stepR   = 0.012
	places  = 30
	noPlace = places // of combed: without a comb
)

func placeR(i int) float64 { return lowestR + stepR*float64(i) }

// comb is the strength in dB of a partial that has so many half waves between bridge and finger.
func comb(halfWaves float64) float64 {
	s := math.Sin(math.Pi * halfWaves)
	return 10 * math.Log10(s*s+combFloor)
}

// combed is a reading with what every place would make of its partials.
type combed struct {
	reading
	comb  [places + 1][]float64
	curve []float64 // the take's colour at its partials
}

func newCombed(n reading) combed {
	c := combed{reading: n, curve: make([]float64, len(n.partial))}
	values := make([]float64, (places+1)*len(n.partial))
	for i := range places + 1 {
		c.comb[i], values = values[:len(n.partial)], values[len(n.partial):]
		for j, p := range n.partial {
			if i < noPlace {
				c.comb[i][j] = comb(p.k * placeR(i) * n.ratio)
			}
		}
	}
	return c
}

// touch is what a stroke gave of its own, and how ill the model then fits.
type touch struct{ level, slope, cost float64 }

// fit explains the note by a place. Level and slope are found by least squares in which far partials
// weigh less (Huber), twice over; unseen partials count only where the model has them louder.
func (n *combed) fit(place int) touch {
	var t touch
	shape := n.comb[place]
	for round := range 3 {
		var w, wx, wxx, wy, wxy float64
		for j := range n.partial {
			p := &n.partial[j]
			y, weight := p.db-shape[j]-n.curve[j], 1.0
			if round == 0 && !p.seen {
				continue
			}
			if round > 0 {
				d := y - t.level - t.slope*p.octave
				if !p.seen && d > 0 {
					continue
				}
				if d = math.Abs(d); d > farDb/2 {
					weight = farDb / 2 / d
				}
			}
			w, wx, wxx, wy, wxy = w+weight, wx+weight*p.octave, wxx+weight*p.octave*p.octave, wy+weight*y, wxy+weight*y*p.octave
		}
		wxx += spreadDb * spreadDb / (slopeDb * slopeDb)
		det := w*wxx - wx*wx
		if det <= 0 {
			break
		}
		t.level, t.slope = (wxx*wy-wx*wxy)/det, (w*wxy-wx*wy)/det
	}
	t.cost = t.slope * t.slope / (slopeDb * slopeDb)
	for j := range n.partial {
		p := &n.partial[j]
		d := p.db - shape[j] - n.curve[j] - t.level - t.slope*p.octave
		if !p.seen && d > 0 {
			continue
		}
		t.cost += min(d*d, farDb*farDb) / (spreadDb * spreadDb)
	}
	t.cost /= kinship
	return t
}

// kinship: partials of a note, and notes of a pitch, err together. So many are worth one.
const kinship = 3.0
