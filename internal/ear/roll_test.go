package ear

import (
	"math"
	"testing"
)

func TestStringsOfAWideRoll(t *testing.T) {
	type heard struct {
		onsetS float64
		likely float32
	}
	for _, c := range []struct {
		name  string
		heard []heard // from the lowest string up
		want  []float64
	}{
		{"the last string is lost in the ringing", []heard{{1.00, 0.9}, {1.03, 0.9}, {1.06, 0.8}, {0.95, 0.1}}, []float64{1.00, 1.03, 1.06, 1.09}},
		{"a roll from the top", []heard{{1.02, 0.1}, {1.05, 0.9}, {1.02, 0.9}, {0.99, 0.8}}, []float64{1.08, 1.05, 1.02, 0.99}},
		{"what lies near stays", []heard{{1.00, 0.9}, {1.03, 0.9}, {1.08, 0.1}}, []float64{1.00, 1.03, 1.08}},
		{"a narrow roll is heard as it is", []heard{{1.00, 0.9}, {1.01, 0.9}, {1.10, 0.1}}, []float64{1.00, 1.01, 1.10}},
		{"strings that do not go round evenly tell nothing", []heard{{1.00, 0.9}, {1.12, 0.9}, {1.08, 0.9}, {0.90, 0.1}}, []float64{1.00, 1.12, 1.08, 0.90}},
		{"one string shows no roll", []heard{{1.00, 0.9}, {1.10, 0.1}, {0.90, 0.1}}, []float64{1.00, 1.10, 0.90}},
	} {
		j := &judge{}
		for i, h := range c.heard {
			j.claims = append(j.claims, claim{note: i, midi: 48 + 5*i, pass: 1, scene: 3, onsetS: h.onsetS, likely: h.likely, logit: 4})
		}
		j.unroll()
		for i, want := range c.want {
			if got := j.claims[i].onsetS; math.Abs(got-want) > 1e-9 {
				t.Errorf("%s: string %d from below begins at %v, want %v", c.name, i+1, got, want)
			}
		}
	}
}
