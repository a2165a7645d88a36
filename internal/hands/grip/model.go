package grip

// Learned is the model that this program fingers with: the prior and what printed fingerings added.
func Learned() *Model {
	m := &Model{W: Prior()}
	for _, row := range learned() {
		for i, x := range row[1:] {
			m.W[int(row[0])+i] += float32(x) / 100
		}
	}
	return m
}

// Solve lays the lattice that answers are read from: once to see what the piece as a whole favours,
// and once more with that in mind.
func Solve(p *Piece, m *Model) *Lattice {
	p.Remember(Lay(p, m, Build{Beam: firstBeam, Slack: firstSlack, Sums: true}), Memory{Again: again, Chord: chordAgain, Share: share})
	return Lay(p, m, Build{Beam: lastBeam, Slack: lastSlack})
}

// Sizes of the search, as small as leaves the agreement with print unchanged, and the pulls of what
// comes again, chosen by cross-validation among a handful.
const (
	firstBeam, lastBeam   = 20, 40
	firstSlack, lastSlack = 8, 13
	again, chordAgain     = 1, 0.5
	share                 = 0.3
)

// leanBack is what every place but a note's lowest loses again after learning: strings are printed
// mostly where they are not the lowest ones, so that learning from print leans to high places. Chosen by
// cross-validation: a tenth moves the fingers from 62 to 65 % agreement and the strings from 68 to 65.
const leanBack = 0.1

// LeanBack evens out a model fresh from learning.
func (m *Model) LeanBack() {
	for i := oRank + 2*4; i < oRank+4*2*4; i++ {
		m.W[i] -= leanBack
	}
}
