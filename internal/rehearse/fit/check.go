package main

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
)

const folds = 4

// scored is one row with the log odds given to its being of the rare kind, and whether it is.
type scored struct {
	odds float64
	rare bool
}

// crossValidated scores each row by a model that learned from the rows of other parts only; NaN where
// those cannot be learned from. rare is what began is in the rare kind. Up to jobs models train at once.
func crossValidated(rows []row, part []int, rare bool, t training, jobs int) []scored {
	out := make([]scored, len(rows))
	slots := make(chan struct{}, max(1, jobs))
	var wg sync.WaitGroup
	for _, p := range slices.Compact(slices.Sorted(slices.Values(part))) {
		slots <- struct{}{}
		wg.Go(func() {
			defer func() { <-slots }()
			var others []row
			for i, r := range rows {
				if part[i] != p {
					others = append(others, r)
				}
			}
			m, err := fit(others, t)
			for i, r := range rows {
				if part[i] != p {
					continue
				}
				out[i] = scored{math.NaN(), r.began == rare}
				if err == nil {
					out[i].odds = m.logit(r.clues)
				}
				if !rare {
					out[i].odds = -out[i].odds
				}
			}
		})
	}
	wg.Wait()
	return out
}

// byTake puts whole takes into folds, by lot.
func byTake(rows []row, seed uint64) []int {
	part := make([]int, len(rows))
	for i, r := range rows {
		part[i] = rand.New(rand.NewPCG(seed, uint64(r.take))).IntN(folds)
	}
	return part
}

// bySource makes a part of each instrument.
func bySource(rows []row) (part []int, names []string) {
	for _, r := range rows {
		if !slices.Contains(names, r.source) {
			names = append(names, r.source)
		}
	}
	slices.Sort(names)
	for _, r := range rows {
		part = append(part, slices.Index(names, r.source))
	}
	return part, names
}

// averagePrecision is the sum, over falling thresholds, of precision times the recall that is added
// (Manning, Raghavan and Schütze 2008, section 8.4); equal scores are one threshold. NaN without a rare row.
func averagePrecision(s []scored) float64 {
	s = slices.Clone(s)
	slices.SortFunc(s, func(a, b scored) int { return cmp.Compare(b.odds, a.odds) })
	found, before, sum := 0.0, 0.0, 0.0
	for i, x := range s {
		if x.rare {
			found++
		}
		if i+1 == len(s) || s[i+1].odds != x.odds {
			sum += (found - before) * found / float64(i+1)
			before = found
		}
	}
	return sum / found
}

// at is precision and recall if rows above a threshold are taken for rare ones; NaN of nothing.
func at(s []scored, threshold float64) (precision, recall float64) {
	var found, taken, all float64
	for _, x := range s {
		if x.rare {
			all++
		}
		if x.odds > threshold {
			taken++
			if x.rare {
				found++
			}
		}
	}
	return found / taken, found / all
}

// check prints how well models that did not see a take, or an instrument, find what is rare in it.
func check(w io.Writer, what string, rows []row, rare bool, t training, jobs int) {
	thresholds := []float64{-2, -1, 0, 1, 2}
	fmt.Fprintf(w, "\n%s\n  %-26s %7s %6s  %5s ", what, "models that did not see", "rows", "of it", "AP")
	for _, x := range thresholds {
		fmt.Fprintf(w, "  P / R > %+2.0f ", x)
	}
	line := func(name string, s []scored) {
		fmt.Fprintf(w, "\n  %-26s %7d %6d  %.3f ", name, len(s), countIf(s, func(x scored) bool { return x.rare }), averagePrecision(s))
		for _, x := range thresholds {
			precision, recall := at(s, x)
			fmt.Fprintf(w, "  %.2f / %.2f", precision, recall)
		}
	}
	line(fmt.Sprintf("the take (%d folds)", folds), crossValidated(rows, byTake(rows, t.seed), rare, t, jobs))
	part, names := bySource(rows)
	s := crossValidated(rows, part, rare, t, jobs)
	line("the instrument", s)
	for p, name := range names {
		var its []scored
		for i := range s {
			if part[i] == p {
				its = append(its, s[i])
			}
		}
		line("· "+name, its)
	}
	fmt.Fprintln(w)
}

func countIf[T any](of []T, is func(T) bool) int {
	n := 0
	for _, x := range of {
		if is(x) {
			n++
		}
	}
	return n
}
