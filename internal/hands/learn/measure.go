package main

import (
	"fmt"
	"io"
	"math/rand/v2"
	"slices"

	"antiphon/internal/hands/grip"
)

// result counts agreement in one part.
type result struct {
	ll, marks               float64 // log likelihood of the marks
	group                   string
	f, f1, f3, s, s1, naive float64
	hf, hf1, hs, hs1        float64 // with half of the marks given
	naiveS                  float64
}

func measure(parts []*part, m *grip.Model, o options) []result {
	var out []result
	for _, p := range parts {
		r := result{group: p.Group}
		piece := p.piece(nil)
		piece.Truth = p.truth()
		r.ll, r.marks = grip.Lay(piece, m, grip.Build{Beam: o.testBeam, Learn: true}).Learn(make([]float64, len(m.W))), float64(p.marks())
		l := grip.Solve(piece, m)
		stops := l.Stops(l.Best())
		opts := l.Options()
		plain := naive(p)
		for i := range p.notes {
			if o.dump && (p.finger[i] >= 0 || p.str[i] >= 0) {
				fmt.Printf("D %s\t%.2f\t%d\tprinted %d/%d\tgot %d/%d/%d\tp %.2f\n", p.ID, p.notes[i].AtQ, p.notes[i].Midi, p.str[i], p.finger[i], stops[i].String, stops[i].Fret, stops[i].Finger, opts[i][0].Prob)
			}
			if want := p.finger[i]; want >= 0 {
				r.f++
				if int(stops[i].Finger) == want {
					r.f1++
				}
				if plain[i][1] == want {
					r.naive++
				}
				for k, op := range opts[i] {
					if k < 3 && int(op.Stop.Finger) == want {
						r.f3++
						break
					}
				}
			}
			if want := p.str[i]; want >= 0 {
				r.s++
				if int(stops[i].String) == want {
					r.s1++
				}
				if plain[i][0] == want {
					r.naiveS++
				}
			}
		}
		for seed := range uint64(2) {
			given := p.half(seed)
			piece := p.piece(func(i int) bool { return given[i] })
			l := grip.Solve(piece, m)
			stops := l.Stops(l.Best())
			for i := range p.notes {
				if given[i] {
					continue
				}
				if want := p.finger[i]; want >= 0 {
					r.hf++
					if int(stops[i].Finger) == want {
						r.hf1++
					}
				}
				if want := p.str[i]; want >= 0 {
					r.hs++
					if int(stops[i].String) == want {
						r.hs1++
					}
				}
			}
		}
		out = append(out, r)
	}
	return out
}

// naive is the rule to beat: every note at its lowest fret, and the hand moves only as far as it must.
func naive(p *part) [][2]int {
	out := make([][2]int, len(p.notes))
	tuning := p.Tuning
	pos := 1
	for i, n := range p.notes {
		fret := 99
		for s, open := range tuning {
			if f := n.Midi - open; f >= 0 && f < fret {
				fret, out[i][0] = f, s+1
			}
		}
		if fret == 0 || fret == 99 {
			continue
		}
		if fret < pos {
			pos = fret
		} else if fret > pos+3 {
			pos = fret - 3
		}
		out[i][1] = fret - pos + 1
	}
	return out
}

func report(w io.Writer, title string, rs []result) {
	for _, group := range []string{"old-print-stated", "all"} {
		var sel []result
		for _, r := range rs {
			if group == "all" || r.group == group {
				sel = append(sel, r)
			}
		}
		rate := func(rs []result, a, b func(result) float64) float64 {
			x, y := 0.0, 0.0
			for _, r := range rs {
				x, y = x+a(r), y+b(r)
			}
			return 100 * x / max(y, 1)
		}
		f := func(r result) float64 { return r.f }
		var gains []float64
		rng := rand.New(rand.NewPCG(3, 4))
		for range 500 {
			pick := make([]result, len(sel))
			for i := range pick {
				pick[i] = sel[rng.IntN(len(sel))]
			}
			gains = append(gains, rate(pick, func(r result) float64 { return r.f1 - r.naive }, f))
		}
		slices.Sort(gains)
		if len(sel) == 0 {
			continue
		}
		fmt.Fprintf(w, "%s, %s: finger %.1f top3 %.1f | naive %.1f, gain [%.1f, %.1f] | string %.1f (naive %.1f) | half given: finger %.1f string %.1f | n %.0f %.0f %.0f %.0f | log p %.4f\n",
			title, group, rate(sel, func(r result) float64 { return r.f1 }, f), rate(sel, func(r result) float64 { return r.f3 }, f),
			rate(sel, func(r result) float64 { return r.naive }, f), gains[12], gains[487],
			rate(sel, func(r result) float64 { return r.s1 }, func(r result) float64 { return r.s }), rate(sel, func(r result) float64 { return r.naiveS }, func(r result) float64 { return r.s }),
			rate(sel, func(r result) float64 { return r.hf1 }, func(r result) float64 { return r.hf }),
			rate(sel, func(r result) float64 { return r.hs1 }, func(r result) float64 { return r.hs }),
			rate(sel, f, func(result) float64 { return 0 })/100, sum(sel, func(r result) float64 { return r.s }), sum(sel, func(r result) float64 { return r.hf }), sum(sel, func(r result) float64 { return r.hs }), sum(sel, func(r result) float64 { return r.ll })/sum(sel, func(r result) float64 { return r.marks }))
	}
}

func sum(rs []result, a func(result) float64) float64 {
	x := 0.0
	for _, r := range rs {
		x += a(r)
	}
	return x
}
