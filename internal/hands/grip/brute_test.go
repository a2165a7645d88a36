package grip

import (
	"math"
	"math/rand/v2"
	"testing"

	"antiphon/internal/guitar"
)

// every tries all ways through a piece and gives the best score that starts from a state.
func every(p *Piece, m *Model, t int, from state, visit func(score float64, stops []Stop), score float64, stops []Stop) {
	if t == len(p.slices) {
		visit(score, stops)
		return
	}
	s := &p.slices[t]
	for g := range s.grips {
		h := &s.grips[g]
		v := h.score + float64(float32(m.sum(p.moveFeatures(nil, &from, s, h))-p.trouble(&from, s, h)))
		every(p, m, t+1, p.step(&from, s, h), visit, score+v, append(stops[:len(stops):len(stops)], h.stops...))
	}
}

// small is a random piece of a few moments in a range where there are few places.
func small(seed uint64) []Note {
	rng := rand.New(rand.NewPCG(seed, 7))
	var out []Note
	for t := range 4 {
		low := 40 + rng.IntN(14)
		long := float64(1 + rng.IntN(3))
		out = append(out, Note{AtQ: float64(t), EndQ: float64(t) + long, Midi: low, Voice: 2, Ask: Free()})
		if rng.IntN(3) == 0 {
			out = append(out, Note{AtQ: float64(t), EndQ: float64(t) + 1, Midi: low + 12 + rng.IntN(5), Voice: 1, Ask: Free()})
		}
	}
	return out
}

// TestBestIsBest: on pieces small enough to try every way, with a beam that holds every state, the best
// way and the best way through every stop are those of the exhaustive search. The search is the source.
func TestBestIsBest(t *testing.T) {
	neck := NewNeck(guitar.Standard(), guitar.AdultHand())
	m := Learned()
	for seed := range uint64(30) {
		p := NewPiece(small(seed), neck, Limits{})
		l := Lay(p, m, Build{Beam: 1 << 20, Slack: 1e6})
		best := math.Inf(-1)
		type stopOf struct {
			note int
			st   Stop
		}
		through := map[stopOf]float64{}
		every(p, m, 0, start(), func(score float64, stops []Stop) {
			best = max(best, score)
			for i, st := range stops {
				k := stopOf{i, st}
				if x, ok := through[k]; !ok || score > x {
					through[k] = score
				}
			}
		}, 0, nil)
		// Two ways to one state may differ in the age of a finger; the state keeps the better way's. That
		// is the only liberty taken, and it may move a score by little.
		if d := math.Abs(l.Score() - best); d > 0.25 {
			t.Errorf("seed %d: best way %.3f, exhaustive %.3f", seed, l.Score(), best)
		}
		for i, list := range l.Options() {
			for _, o := range list {
				if d := math.Abs(o.Score - through[stopOf{i, o.Stop}]); d > 1 {
					t.Errorf("seed %d, note %d, %v: %.3f, exhaustive %.3f", seed, i, o.Stop, o.Score, through[stopOf{i, o.Stop}])
				}
			}
		}
	}
}

// TestNarrowed: the hardest move of the narrowed lattice is the least that the exhaustive search finds.
func TestNarrowed(t *testing.T) {
	neck := NewNeck(guitar.Standard(), guitar.ChildHand(150))
	m := Learned()
	for seed := range uint64(12) {
		p := NewPiece(small(seed), neck, Limits{})
		l := Lay(p, m, Build{Beam: 1 << 20, Slack: 1e6})
		least := math.Inf(1)
		var walk func(t int, from state, hardest float64)
		walk = func(t int, from state, hardest float64) {
			if hardest >= least {
				return
			}
			if t == len(p.slices) {
				least = hardest
				return
			}
			s := &p.slices[t]
			for g := range s.grips {
				walk(t+1, p.step(&from, s, &s.grips[g]), max(hardest, p.effort(&from, s, &s.grips[g])))
			}
		}
		walk(0, start(), 0)
		if got := l.Minimax(); math.Abs(got-least) > 1e-6 {
			t.Errorf("seed %d: hardest move %.2f mm, exhaustive %.2f", seed, got, least)
		}
	}
}

// TestSums: shares of all stops of a note add up to one, and learning's likelihood of what agrees with
// everything is nothing to learn from.
func TestSums(t *testing.T) {
	neck := NewNeck(guitar.Standard(), guitar.AdultHand())
	m := Learned()
	for seed := range uint64(10) {
		p := NewPiece(small(seed), neck, Limits{})
		l := Lay(p, m, Build{Beam: 200, Sums: true})
		for i, list := range l.Options() {
			sum := 0.0
			for _, o := range list {
				sum += o.Prob
			}
			if math.Abs(sum-1) > 1e-6 {
				t.Errorf("seed %d, note %d: shares add up to %.6f", seed, i, sum)
			}
		}
		g := make([]float64, features)
		if ll := Lay(p, m, Build{Beam: 50, Learn: true}).Learn(g); math.Abs(ll) > 1e-6 {
			t.Errorf("seed %d: likelihood of nothing printed is %.6f", seed, ll)
		}
	}
}

// TestGradient: what Learn gives is the slope of the likelihood, by finite differences on every weight
// that matters, about the prior (near it no state changes its best way in between). The definition of a derivative is the source.
func TestGradient(t *testing.T) {
	neck := NewNeck(guitar.Standard(), guitar.AdultHand())
	m := &Model{W: Prior()}
	p := NewPiece(small(3), neck, Limits{})
	for range p.Notes {
		p.Truth = append(p.Truth, Ask{-1, -1, -1})
	}
	for i := range p.Truth {
		for s := 1; s <= 6; s++ {
			if f := p.Notes[i].Midi - neck.open[s]; f > 0 && f < 5 {
				p.Truth[i].Finger = int8(min(f, 4))
			}
		}
	}
	all := Build{Beam: 1 << 20, Slack: 1e6, Learn: true}
	g := make([]float64, features)
	Lay(p, m, all).Learn(g)
	checked := 0
	for f := range g {
		if math.Abs(g[f]) < 0.02 {
			continue
		}
		const h = 1.0 / 64
		was := m.W[f]
		m.W[f] = was + h
		up := Lay(p, m, all).Learn(make([]float64, features))
		m.W[f] = was - h
		down := Lay(p, m, all).Learn(make([]float64, features))
		m.W[f] = was
		if slope := (up - down) / (2 * h); math.Abs(slope-g[f]) > 0.02+0.05*math.Abs(slope) {
			t.Errorf("weight %d: gradient %.4f, slope %.4f", f, g[f], slope)
		}
		checked++
	}
	if checked < 20 {
		t.Errorf("only %d weights were checked", checked)
	}
}
