package ear

import "math"

// model is a logistic regression on clues, with one layer of hidden units.
type model struct {
	mean, scale [clueCount]float64
	hidden      [][clueCount]float64
	hiddenBias  []float64
	out         []float64
	outBias     float64
}

func (m *model) logit(c *clues) float64 {
	var z clues
	for i := range z {
		z[i] = (c[i] - m.mean[i]) * m.scale[i]
	}
	sum := m.outBias
	for h, w := range m.hidden {
		a := m.hiddenBias[h]
		for i := range z {
			a += w[i] * z[i]
		}
		sum += m.out[h] * math.Tanh(a)
	}
	return sum
}

// Observation is one set of clues as it was weighed, for those who fit the models.
type Observation struct {
	S     float64 // of the stroke
	Midi  int
	Note  int // index into Hearing.Score if it is written there, -1 for a stranger
	Clues []float64
	Logit float64
}
