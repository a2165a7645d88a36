// Package warn says early, and kindly, where contact would help: families that are going quiet, students
// who are stuck.
//
// A warning is for the teacher, to ask and to help; it blames nobody and ranks nobody, and it is no
// judgement on a family. Its chance is fitted to what happened in this studio.
package warn

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Ahead is for how many teaching weeks nothing is expected, where a family goes quiet.
const Ahead = 3

// signs of one moment in a family's history.
const signs = 5

// Week is one teaching week of a student, as far as it is known.
type Week struct {
	Came    bool    // a recording
	Minutes float64 // that were logged; below 0: no log is kept
}

// look gives the signs of the weeks up to now: a constant, how long it has been still, how much was missed
// lately, how much before, and how the minutes fell.
func look(past []Week) [signs]float64 {
	n := len(past)
	still := 0
	for still < n && !past[n-1-still].Came {
		still++
	}
	missed := func(w []Week, usual, weight float64) float64 {
		m := usual * weight
		for _, x := range w {
			if !x.Came {
				m++
			}
		}
		return m / (float64(len(w)) + weight)
	}
	at := max(n-4, 0)
	long := missed(past[:at], 0.2, 5)
	return [signs]float64{1, math.Log1p(float64(still)), missed(past[at:], long, 1), long, fallen(past)}
}

// fallen is by how much the minutes of three weeks lie below those of the eight before, as a logarithm; 0 where they do
// not, or no log is kept.
func fallen(past []Week) float64 {
	n := len(past)
	if n < 6 {
		return 0
	}
	mean := func(w []Week) (float64, bool) {
		sum := 0.0
		for _, x := range w {
			if x.Minutes < 0 {
				return 0, false
			}
			sum += x.Minutes
		}
		return sum / float64(len(w)), true
	}
	late, ok := mean(past[n-3:])
	early, ok2 := mean(past[max(n-11, 0) : n-3])
	if !ok || !ok2 {
		return 0
	}
	return min(max(math.Log((early+5)/(late+5)), 0), 3)
}

// Model turns signs into a chance.
type Model struct {
	Weights [signs]float64
	Seen    int // moments it was fitted to
}

// UsualModel is for a studio without a history. Our guess, no source.
func UsualModel() Model { return Model{Weights: [signs]float64{-4.5, 1.2, 2, 2, 0.7}} }

// Quiet is the chance, 0 to 1, that no recording comes in the next teaching weeks (Ahead).
func (m Model) Quiet(past []Week) float64 {
	if len(past) == 0 {
		return 0
	}
	return m.chance(look(past))
}

func (m Model) chance(x [signs]float64) float64 {
	z := 0.0
	for i := range x {
		z += m.Weights[i] * x[i]
	}
	return 1 / (1 + math.Exp(-z))
}

// firstLook is after how many weeks a history says something.
const firstLook = 6

// Fit learns from the histories of a studio: at each week but the last few, did nothing come after it? It is a logistic
// regression held towards UsualModel, as if some moments had been seen before.
func Fit(histories [][]Week) Model {
	m := UsualModel()
	var xs [][signs]float64
	var ys []float64
	for _, h := range histories {
		for at := firstLook; at+Ahead <= len(h); at++ {
			xs = append(xs, look(h[:at]))
			ys = append(ys, quiet(h[at:at+Ahead]))
		}
	}
	const hold = 2.0
	for range 25 {
		grad := mat.NewVecDense(signs, nil)
		curve := mat.NewSymDense(signs, nil)
		usual := UsualModel()
		for i := range signs {
			grad.SetVec(i, hold*(usual.Weights[i]-m.Weights[i]))
			curve.SetSym(i, i, hold)
		}
		for k, x := range xs {
			p := m.chance(x)
			for i := range signs {
				grad.SetVec(i, grad.AtVec(i)+(ys[k]-p)*x[i])
				for j := i; j < signs; j++ {
					curve.SetSym(i, j, curve.At(i, j)+p*(1-p)*x[i]*x[j])
				}
			}
		}
		var chol mat.Cholesky
		var step mat.VecDense
		if !chol.Factorize(curve) || chol.SolveVecTo(&step, grad) != nil {
			break
		}
		size := 0.0
		for i := range signs {
			d := min(max(step.AtVec(i), -2), 2)
			m.Weights[i] += d
			size = max(size, math.Abs(d))
		}
		if size < 1e-8 {
			break
		}
	}
	m.Seen = len(xs)
	return m
}

func quiet(w []Week) float64 {
	if slices.ContainsFunc(w, func(x Week) bool { return x.Came }) {
		return 0
	}
	return 1
}

// Notice is a warning for the teacher.
type Notice struct {
	Chance float64 // of a quiet family; 0 for a student who is stuck
	Say    string  // what was seen
	Try    string  // what may help
}

// FromChance on a family is shown as going quiet.
const FromChance = 0.3

// Family says that a family is going quiet; false where nothing suggests it.
func (m Model) Family(name string, past []Week) (Notice, bool) {
	p := m.Quiet(past)
	if len(past) < firstLook || p < FromChance {
		return Notice{}, false
	}
	still := 0
	for still < len(past) && !past[len(past)-1-still].Came {
		still++
	}
	before := 0
	for _, w := range past[:len(past)-still] {
		if w.Came {
			before++
		}
	}
	n := Notice{Chance: p, Try: "A short, friendly word may help: is all well, and is the week too full just now? Offer a smaller plan; nothing has to be caught up."}
	usual := usually(before, len(past)-still)
	switch {
	case before == 0:
		n.Say = fmt.Sprintf("Nothing has come from %s yet, in %d teaching weeks.", name, still)
	case still == 0:
		n.Say = fmt.Sprintf("%s sent something this week, but recordings have become fewer than before (%s).", name, usual)
	case still == 1:
		n.Say = fmt.Sprintf("Nothing came from %s this week; until then there was something %s.", name, usual)
	default:
		n.Say = fmt.Sprintf("Nothing has come from %s for %d teaching weeks; until then there was something %s.", name, still, usual)
	}
	if in10 := int(p*10 + 0.5); in10 < 10 {
		n.Say += fmt.Sprintf(" In this studio about %d of 10 such silences last %d weeks more.", in10, Ahead)
	} else {
		n.Say += fmt.Sprintf(" In this studio nearly all such silences last %d weeks more.", Ahead)
	}
	return n, true
}

func usually(came, weeks int) string {
	switch share := float64(came) / float64(max(weeks, 1)); {
	case weeks == 0:
		return "nothing yet"
	case share > 0.9:
		return "nearly every week"
	case share > 0.6:
		return "in most weeks"
	case share > 0.35:
		return "about every other week"
	}
	return "now and then"
}

// Brier is the mean squared distance of chances from what came, 1 or 0; 0 is best.
func Brier(chances, came []float64) float64 {
	sum := 0.0
	for i, p := range chances {
		sum += (p - came[i]) * (p - came[i])
	}
	return sum / float64(len(chances))
}

// Bin is one point of a reliability plot: of so many warnings with about this chance, so many came true.
type Bin struct {
	From, To float64
	Mean     float64 // chance that was said
	Came     float64 // share that came true
	Count    int
}

// Reliability sorts chances into tenths; empty ones are left out.
func Reliability(chances, came []float64) []Bin {
	var all [10]Bin
	for i, p := range chances {
		b := &all[min(int(p*10), 9)]
		b.Mean, b.Came, b.Count = b.Mean+p, b.Came+came[i], b.Count+1
	}
	var out []Bin
	for i, b := range all {
		if b.Count == 0 {
			continue
		}
		b.From, b.To = float64(i)/10, float64(i+1)/10
		b.Mean, b.Came = b.Mean/float64(b.Count), b.Came/float64(b.Count)
		out = append(out, b)
	}
	return out
}
