package main

import (
	"fmt"
	"strings"
)

// table sums takes up.
type table struct {
	seed   uint64
	scores int
	takes  []heard
}

// sum of the takes that which keeps.
func (t table) sum(which func(heard) bool) (bars [3][4]int, clear, of, takes int) {
	for _, h := range t.takes {
		if !which(h) {
			continue
		}
		takes, clear, of = takes+1, clear+h.clear, of+h.of
		for i := range bars {
			for j := range bars[i] {
				bars[i][j] += h.bars[i][j]
			}
		}
	}
	return bars, clear, of, takes
}

// said counts the bars of which a place was said, and those where it was the right one.
func said(bars [3][4]int) (said, right, all int) {
	for i := range bars {
		for j, n := range bars[i] {
			all += n
			if j < 3 {
				said += n
			}
			if i == j {
				right += n
			}
		}
	}
	return said, right, all
}

func (t table) text() string {
	var b strings.Builder
	known := func(h heard) bool { return h.known }
	bars, _, _, takes := t.sum(known)
	fmt.Fprintf(&b, "%d takes of %d scores (seed %d), heard by the ear. Bars by where they were plucked and where they were heard:\n\n", takes, t.scores, t.seed)
	b.WriteString("| plucked | near the bridge | over the hole | over the neck | not known |\n|---|---|---|---|---|\n")
	for i, name := range []string{"near the bridge, 55 mm", "over the hole, 130 mm", "over the neck, 210 mm"} {
		fmt.Fprintf(&b, "| %s | %d | %d | %d | %d |\n", name, bars[i][0], bars[i][1], bars[i][2], bars[i][3])
	}
	b.WriteString("\n| | takes | notes clear | bars of which a place is said | of these right |\n|---|---|---|---|---|\n")
	row := func(name string, which func(heard) bool) {
		bars, clear, of, takes := t.sum(which)
		said, right, all := said(bars)
		if all == 0 || takes == 0 {
			return
		}
		ok := "–"
		if said > 0 {
			ok = fmt.Sprintf("%.1f %%", 100*float64(right)/float64(said))
		}
		fmt.Fprintf(&b, "| %s | %d | %.0f %% | %.0f %% | %s |\n", name, takes, 100*float64(clear)/float64(max(1, of)), 100*float64(said)/float64(all), ok)
	}
	row("all", known)
	for _, g := range guitars() {
		if g.font == "" {
			row(g.name, func(h heard) bool { return h.guitar == g.name })
		}
	}
	for _, r := range recordings() {
		row(r.name, func(h heard) bool { return h.known && h.recording == r.name })
	}
	row("strings named in the score", func(h heard) bool { return h.known && !h.unnamed })
	row("strings not named", func(h heard) bool { return h.known && h.unnamed })
	b.WriteString("\nRecorded notes, each plucked somewhere that nobody wrote down, most likely behind the hole; nothing changes within a take:\n\n" +
		"| | takes | bars near the bridge | over the hole | over the neck | not known | stretches said to differ |\n|---|---|---|---|---|---|---|\n")
	for _, g := range guitars() {
		if g.font == "" {
			continue
		}
		var n [4]int
		apart := 0
		bars, _, _, takes := t.sum(func(h heard) bool { return h.guitar == g.name })
		for _, h := range t.takes {
			if h.guitar == g.name {
				apart += h.apart
			}
		}
		for i := range bars {
			for j, k := range bars[i] {
				n[j] += k
			}
		}
		fmt.Fprintf(&b, "| %s | %d | %d | %d | %d | %d | %d |\n", g.name, takes, n[0], n[1], n[2], n[3], apart)
	}
	return b.String() + "\n"
}
