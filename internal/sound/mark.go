package sound

import "math"

// MarkLeadS is the time from the middle of the mark to the first beat.
//
// Decoders differ in how much silence they leave before what an AAC coder was given: some honour the edit
// list of the file, some do not. A player that has to know the first beat to the sample looks for the mark
// and counts from there. It does not play the mark.
const MarkLeadS = 1.0

// The mark: a short burst with a bell-shaped envelope, which a coder at our rates keeps in its place.
const (
	markHz      = 2000
	markWidthS  = 0.0007 // from the middle to where the envelope has fallen to 1/√e
	markPeak    = 0.25   // of full scale
	markBeforeS = 0.1    // from the start of the file to its middle
)

func markAt() int { return samples(markBeforeS) }

// mark writes the mark into the lead-in of what is made.
func (a *Audio) mark() {
	at := markAt()
	for i := max(0, at-samples(6*markWidthS)); i <= at+samples(6*markWidthS) && i < len(a.Left); i++ {
		t := float64(i-at) / RateHz
		v := float32(markPeak * math.Exp(-t*t/(2*markWidthS*markWidthS)) * math.Cos(2*math.Pi*markHz*t))
		a.Left[i] += v
		a.Right[i] += v
	}
}
