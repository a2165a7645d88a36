package hands

import (
	"antiphon/internal/guitar"
	"antiphon/internal/hands/grip"
	"antiphon/internal/music"
	"antiphon/internal/playable"
)

// solved is one player's answer.
type solved struct {
	j       *job
	piece   *grip.Piece
	lattice *grip.Lattice
	best    grip.Way
	options [][]grip.Option
	stops   []grip.Stop
	faults  []playable.Fault
}

func solve(j *job, model *grip.Model, o Options) *solved {
	neck := grip.NewNeck(j.in, o.Hand)
	v := &solved{j: j}
	v.piece = grip.NewPiece(j.notes, neck, grip.Limits{NoFourth: o.Skills.NoFourthFinger, NoBarre: o.Skills.NoBarre, FirstPosition: o.Skills.FirstPosition, NoStretch: o.Skills.NoStretch})
	v.lattice = grip.Solve(v.piece, model)
	if o.Minimax {
		v.lattice.Minimax()
	}
	v.best = v.lattice.Best()
	v.stops = v.lattice.Stops(v.best)
	v.options = v.lattice.Options()
	return v
}

// mostOptions of one note are listed.
const mostOptions = 8

// fill puts one player's answer into f.
func (v *solved) fill(f *Fingering, sounding []music.Sounding, place []int) {
	f.Cost -= v.lattice.Score()
	for k, of := range v.j.of {
		var list []Option
		for n, op := range v.options[k] {
			if n == mostOptions {
				break
			}
			pl, fi := placeOf(op.Stop)
			if fi < 0 {
				continue
			}
			o := Option{Place: pl, Finger: fi, ExtraCost: max(0, v.lattice.Score()-op.Score)}
			if op.Stop == v.stops[k] {
				o.ExtraCost, o.Reason = 0, "part of the best way" // rounding aside
			} else {
				o.Reason = v.reason(v.lattice.Detour(v.best, op))
			}
			list = append(list, o)
		}
		for _, i := range of {
			p := &f.Notes[place[i]-1]
			p.Place, p.Finger = placeOf(v.stops[k])
			p.Options = list
		}
	}
}

func placeOf(st grip.Stop) (guitar.Place, int) {
	if st.String == 0 {
		return guitar.Place{}, -1
	}
	return guitar.Place{String: int(st.String), Fret: int(st.Fret)}, int(st.Finger)
}
