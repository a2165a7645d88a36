package rehearse

import (
	"fmt"
	"math/rand/v2"
)

// A Guest is a take for the question which of many works it is of.
type Guest struct {
	Spec
	Work int // index of the piece among those given; -1 for a take of none of them
}

// guestManners are the ways in which a take may be unlike its score, in turn.
var guestManners = []string{"whole", "passage", "middle", "slow", "fast", "tuning", "capo", "wrong notes", "stumbles", "none", "passage, all at once", "none, a passage"}

// Guests draws takes of the pieces, each of another one as long as there are any, and takes of the others,
// which are none of them. The same recipe gives the same takes.
func Guests(r Recipe, pieces, others []Piece) []Guest {
	order := rand.New(rand.NewPCG(r.Seed, 0xb00c)).Perm(len(pieces))
	var out []Guest
	for i := range r.Takes {
		d := &drawer{recipe: r, rng: rand.New(rand.NewPCG(r.Seed, uint64(i))), n: i}
		g := Guest{Work: order[i%len(order)]}
		piece, manner := pieces[g.Work], guestManners[i%len(guestManners)]
		if manner == "none" || manner == "none, a passage" {
			g.Work, piece = -1, others[d.rng.IntN(len(others))]
		}
		g.Spec = d.guest(piece, manner)
		g.Spec.ID = fmt.Sprintf("%s-guest%03d", r.Name, i)
		out = append(out, g)
	}
	return out
}

// guest is one take of a piece.
func (d *drawer) guest(p Piece, manner string) Spec {
	rng := d.rng
	s := Spec{Seed: d.recipe.Seed<<20 + uint64(d.n), Piece: p, Params: map[string]any{}, TalkDb: -6, Tags: []string{"guest", manner}}
	s.Manner = Manner{Tempo: 0.9 + 0.2*rng.Float64(), Drift: 0.02 + 0.03*rng.Float64(), JitterS: 0.008 + 0.014*rng.Float64(), RollS: [2]float64{0.004, 0.03},
		SpreadDb: 2 + rng.Float64(), LeadInS: 0.35 + 1.1*rng.Float64(), Accents: rng.IntN(2) == 0}
	s.conditions(d)
	if rng.IntN(4) == 0 {
		s.noisy(d)
	}
	tunings := s.Tuning.A4Hz
	s.Tuning.A4Hz = 440 + clamp(4*rng.NormFloat64(), 8)
	s.Legs = straight(p, rng.IntN(2) == 0)
	switch manner {
	case "whole", "none":
	case "passage", "none, a passage":
		s.Legs = passage(p, rng)
	case "middle":
		s.Legs = []Leg{{FromTick: p.Bars[rng.IntN(len(p.Bars)/2+1)].At, ToTick: p.EndTick(), Ratio: 1}}
	case "slow":
		s.Manner.Tempo = 0.45 + 0.3*rng.Float64()
	case "fast":
		s.Manner.Tempo = 1.25 + 0.3*rng.Float64()
	case "tuning":
		s.Tuning.A4Hz = pickOf(rng, 415.0, 425, 432, 450, 466, tunings)
	case "capo":
		s.Shown, s.Piece = &p, raised(p, 1+rng.IntN(5))
	case "wrong notes":
		s.Manner.Wrong, s.Manner.Missed, s.Manner.Extra = 0.1, 0.06, 0.05
	case "stumbles":
		s.Legs = withStumbles(p, s.Legs, 2, 1, rng)
		s.Manner.Wrong, s.Manner.Missed, s.Manner.Hesitate = 0.05, 0.03, 0.03
		s.says(rng)
	case "passage, all at once":
		s.Legs = passage(p, rng)
		s.Manner.Tempo = 0.6 + 0.2*rng.Float64()
		s.Tuning.A4Hz = pickOf(rng, 415.0, 466, tunings)
		s.Manner.Wrong, s.Manner.Missed = 0.06, 0.04
	}
	return s
}

// passage is three or four bars from anywhere, but at least eight strokes.
func passage(p Piece, rng *rand.Rand) []Leg {
	bars := 3 + rng.IntN(2)
	from := rng.IntN(max(1, len(p.Bars)-bars))
	to := min(from+bars, len(p.Bars))
	for len(p.onsetsIn(p.Bars[from].At, p.Bars[to-1].At+p.Bars[to-1].Ticks)) < 8 && (from > 0 || to < len(p.Bars)) {
		from, to = max(0, from-1), min(to+1, len(p.Bars))
	}
	return []Leg{{FromTick: p.Bars[from].At, ToTick: p.Bars[to-1].At + p.Bars[to-1].Ticks, Ratio: 1}}
}

// raised is a piece as it sounds with a capo.
func raised(p Piece, semitones int) Piece {
	notes := make([]Note, len(p.Notes))
	for i, n := range p.Notes {
		n.Midi, n.Fret = n.Midi+semitones, n.Fret+semitones
		notes[i] = n
	}
	p.Notes = notes
	return p
}
