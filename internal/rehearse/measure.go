package rehearse

import (
	"math"
	"sort"
)

// Heard is one note as somebody reports it: a moment and a pitch in hertz.
type Heard struct{ OnsetS, Hz float64 }

// MatchNotes is the largest number of pairs of a true and a reported note whose onsets differ by at
// most tolS and whose pitches by at most 50 cents, each note used once: what mir_eval 0.7 counts in
// transcription.match_notes with offset_ratio=None. Like it, distances are rounded to four decimals
// before they are compared.
func MatchNotes(truth, reported []Heard, tolS float64) int {
	return pairs(len(truth), len(reported), func(i, j int) bool {
		if math.Round(1e4*math.Abs(truth[i].OnsetS-reported[j].OnsetS))/1e4 > tolS {
			return false
		}
		cents := 1200 * math.Abs(math.Log2(truth[i].Hz)-math.Log2(reported[j].Hz))
		return math.Round(1e4*cents)/1e4 <= 50
	})
}

// MatchOnsets is the largest number of pairs of onsets at most tolS apart: mir_eval.onset.f_measure.
func MatchOnsets(truth, reported []float64, tolS float64) int {
	return pairs(len(truth), len(reported), func(i, j int) bool { return math.Abs(truth[i]-reported[j]) <= tolS })
}

// CountOnsets counts strokes rather than notes: onsets that lie within 30 ms of the one before, as in
// a chord, are one, in the truth as in the report.
func CountOnsets(truth, reported []float64) Counts {
	a, b := strokes(truth), strokes(reported)
	return Counts{MatchOnsets(a, b, 0.05), len(a), len(b)}
}

func strokes(onsetsS []float64) []float64 {
	s := append([]float64{}, onsetsS...)
	sort.Float64s(s)
	var out []float64
	for i, t := range s {
		if i == 0 || t-s[i-1] > 0.03 {
			out = append(out, t)
		}
	}
	return out
}

// pairs is the size of a largest matching in a bipartite graph, by augmenting paths.
func pairs(n, m int, fits func(i, j int) bool) int {
	edges := make([][]int, n)
	for i := range edges {
		for j := 0; j < m; j++ {
			if fits(i, j) {
				edges[i] = append(edges[i], j)
			}
		}
	}
	partner := make([]int, m)
	for j := range partner {
		partner[j] = -1
	}
	var seen []bool
	var augment func(i int) bool
	augment = func(i int) bool {
		for _, j := range edges[i] {
			if seen[j] {
				continue
			}
			seen[j] = true
			if partner[j] < 0 || augment(partner[j]) {
				partner[j] = i
				return true
			}
		}
		return false
	}
	size := 0
	for i := range edges {
		seen = make([]bool, m)
		if augment(i) {
			size++
		}
	}
	return size
}

// Counts are pairs found, things true and things reported. Counts of several takes add up.
type Counts struct{ Found, True, Reported int }

func (c *Counts) add(d Counts) {
	c.Found, c.True, c.Reported = c.Found+d.Found, c.True+d.True, c.Reported+d.Reported
}

// Precision is the share of what was reported that is true; nothing reported is precise only where
// nothing is true.
func (c Counts) Precision() float64 {
	if c.Reported == 0 {
		if c.True == 0 {
			return 1
		}
		return 0
	}
	return float64(c.Found) / float64(c.Reported)
}

// Recall is the share of what is true that was reported; 1 where nothing is.
func (c Counts) Recall() float64 {
	if c.True == 0 {
		return 1
	}
	return float64(c.Found) / float64(c.True)
}

// F1 is the harmonic mean of both.
func (c Counts) F1() float64 {
	p, r := c.Precision(), c.Recall()
	if p+r == 0 {
		return 0
	}
	return 2 * p * r / (p + r)
}

// nearest pairs things one to one, the closest in time first.
func nearest(n, m int, timeOf func(i int) float64, otherTime func(j int) float64, fits func(i, j int) bool) [][2]int {
	type pair struct {
		d    float64
		i, j int
	}
	var all []pair
	for i := 0; i < n; i++ {
		for j := 0; j < m; j++ {
			if fits(i, j) {
				all = append(all, pair{math.Abs(timeOf(i) - otherTime(j)), i, j})
			}
		}
	}
	sort.Slice(all, func(a, b int) bool {
		if all[a].d != all[b].d {
			return all[a].d < all[b].d
		}
		if all[a].i != all[b].i {
			return all[a].i < all[b].i
		}
		return all[a].j < all[b].j
	})
	usedI, usedJ := make([]bool, n), make([]bool, m)
	var out [][2]int
	for _, p := range all {
		if !usedI[p.i] && !usedJ[p.j] {
			usedI[p.i], usedJ[p.j] = true, true
			out = append(out, [2]int{p.i, p.j})
		}
	}
	return out
}
