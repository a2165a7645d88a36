package main

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"

	"antiphon/internal/dsp"
	"antiphon/internal/ear"
)

// scored is one row with the log odds given to its being of the kind that is looked for, and whether it is.
type scored struct {
	odds   float64
	wanted bool
}

// averagePrecision is the sum, over falling thresholds, of precision times the recall that is added
// (Manning, Raghavan and Schütze 2008, section 8.4); equal scores are one threshold. NaN if nothing is wanted.
func averagePrecision(s []scored) float64 {
	found, before, sum := 0.0, 0.0, 0.0
	thresholds(s, func(taken, right int) {
		found = float64(right)
		sum += (found - before) * found / float64(taken)
		before = found
	})
	return sum / found
}

// recallAt is the highest recall at any threshold whose precision is no lower than asked.
func recallAt(s []scored, precision float64) float64 {
	best, all := 0, 0
	thresholds(s, func(taken, right int) {
		if all = right; float64(right) >= precision*float64(taken) {
			best = right
		}
	})
	return float64(best) / float64(all)
}

// thresholds counts, for every falling threshold, the rows above it and the wanted ones among them.
func thresholds(s []scored, see func(taken, right int)) {
	s = slices.SortedFunc(slices.Values(s), func(a, b scored) int { return cmp.Compare(b.odds, a.odds) })
	right := 0
	for i, x := range s {
		if x.wanted {
			right++
		}
		if i+1 == len(s) || s[i+1].odds != x.odds {
			see(i+1, right)
		}
	}
}

// decided are the rows of unseen takes with what a model says of them: log odds, or an onset's fine frame.
func decided(m *model, r *rows, of []int) []float32 {
	said := make([]float32, len(r.target))
	m.each(r, of, func(i int, out []float32) {
		if said[i] = out[0]; len(out) > 1 {
			said[i] = likeliest(out)
		}
	})
	return said
}

// likeliest is the frame with the highest output, sharpened by its neighbours, as the ear does it.
func likeliest(out []float32) float32 {
	top := 0
	for i, v := range out {
		if v > out[top] {
			top = i
		}
	}
	var sum, weight float64
	for i := max(0, top-2); i <= min(len(out)-1, top+2); i++ {
		p := math.Exp(float64(out[i] - out[top]))
		sum, weight = sum+p*float64(i), weight+p
	}
	return float32(sum / weight)
}

// check prints how well a model does on rows of takes that it did not see, all and by instrument, beside
// what the ear said when it heard them, and gives the line for all.
func check(w io.Writer, of ear.Decision, r *rows, keep []int, said []float32, instruments []string) string {
	figures := wantedFigures
	if of == ear.Onset {
		figures = onsetFigures
	}
	fmt.Fprintf(w, "\n%s, on takes that the model did not see\n", decisions[of])
	line := func(name string, its []int, said []float32) string {
		text := figures(of, r, its, said)
		fmt.Fprintf(w, "  %-20s %7d rows  %s\n", name, len(its), text)
		return text
	}
	all := line("all", keep, said)
	line("as the ear was", keep, r.said)
	for k, name := range instruments {
		its := slices.DeleteFunc(slices.Clone(keep), func(i int) bool { return r.instrument[i] != k })
		if len(its) > 0 {
			line("· "+name, its, said)
		}
	}
	return all
}

// wantedFigures looks for what began; among written notes, which nearly all began, for what did not.
func wantedFigures(of ear.Decision, r *rows, keep []int, said []float32) string {
	s, wanted := make([]scored, 0, len(keep)), 0
	for _, i := range keep {
		x := scored{float64(said[i]), r.target[i] == 1}
		if of == ear.Written || of == ear.WrittenAgain {
			x = scored{-x.odds, !x.wanted}
		}
		if x.wanted {
			wanted++
		}
		s = append(s, x)
	}
	if wanted == 0 {
		return "nothing to find"
	}
	what := "began"
	if of == ear.Written || of == ear.WrittenAgain {
		what = "missed"
	}
	return fmt.Sprintf("%d %s, average precision %.3f, recall at precision 0.9 %.3f, at 0.8 %.3f", wanted, what, averagePrecision(s), recallAt(s, 0.9), recallAt(s, 0.8))
}

// onsetFigures are of the distance in time from the true onset.
func onsetFigures(_ ear.Decision, r *rows, keep []int, said []float32) string {
	if len(keep) == 0 {
		return "nothing to find"
	}
	const farMs = 25
	offMs, far := make([]float64, 0, len(keep)), 0
	for _, i := range keep {
		ms := 1000 * fineS * math.Abs(float64(said[i]-r.target[i]))
		if offMs = append(offMs, ms); ms > farMs {
			far++
		}
	}
	return fmt.Sprintf("median error %.1f ms, 95 %% below %.1f ms, %.2f %% beyond %d ms", dsp.Percentile(offMs, 0.5), dsp.Percentile(offMs, 0.95), 100*float64(far)/float64(len(keep)), farMs)
}
