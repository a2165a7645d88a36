package findings

import (
	"fmt"
	"math"

	"antiphon/internal/dsp"
	"antiphon/internal/music"
)

// usualTuning reports whether open strings, lowest staff line first, are those of a guitar.
func usualTuning(open []music.Pitch) bool {
	usual := [...]int{40, 45, 50, 55, 59, 64}
	if len(open) != len(usual) {
		return false
	}
	for i, p := range open {
		if p.Midi() != usual[i] {
			return false
		}
	}
	return true
}

// pairing is how equal notes within beats were played in one pass.
type pairing struct {
	ratio  float64 // of the first of a pair to the second
	share  float64 // of pairs that lean the same way
	count  int
	points []point
}

// pairs compares the first and the second of two equal notes that share a beat: the note on the beat
// and the one after it. Played long and short they tell of a lilt, or of two fingers that pull unevenly.
func (s *scene) pairs(l *line) pairing {
	var logs []float64
	var p pairing
	for i := 1; i < len(l.steps); i++ {
		a, b := l.steps[i-1], l.steps[i]
		if a.held || b.held || a.stop || b.stop {
			continue
		}
		qa, qb := a.to.q-a.from.q, b.to.q-b.from.q
		bar := s.score.Bars[a.from.bar]
		beat := (a.from.q - bar.Start.Q()) / qa
		if math.Abs(qa-qb) > 1e-6 || qa > s.unitQ*0.75 || math.Abs(beat/2-math.Round(beat/2)) > 0.01 || bar.Implicit {
			continue
		}
		logs = append(logs, math.Log(a.gotS/b.gotS))
		p.points = append(p.points, a.from)
	}
	p.count = len(logs)
	if p.count == 0 {
		return p
	}
	m := dsp.Median(logs)
	p.ratio = math.Exp(m)
	same := 0
	for _, v := range logs {
		if v*m > 0 && math.Abs(v) > math.Log(pairRatio)/2 {
			same++
		}
	}
	p.share = float64(same) / float64(p.count)
	return p
}

// unevenPattern reports equal notes that were played long and short, pass by pass the clearest one.
func (s *scene) unevenPattern() []Finding {
	var best Finding
	var at []float64
	for i := range s.lines {
		l := &s.lines[i]
		p := s.pairs(l)
		lean := math.Abs(math.Log(max(p.ratio, 1e-9)))
		if p.count < pairCount || p.share < pairAgree || lean < math.Log(pairRatio) {
			continue
		}
		at = append(at, l.pass.StartS)
		if best.Kind != "" && lean <= math.Log(best.Size) {
			continue
		}
		how, aspect := "long and short", "long-short"
		if p.ratio < 1 {
			how, aspect = "short and long", "short-long"
		}
		best = Finding{Kind: UnevenPattern, Aspect: aspect, FromS: l.pass.StartS, ToS: l.pass.EndS, FromBar: l.pass.FromBar, ToBar: l.pass.ToBar,
			Size: math.Exp(lean), Unit: "ratio", Confidence: min(0.95, p.share), Evidence: s.ids(p.points),
			Text: fmt.Sprintf("Notes that are written equal are played %s, about %.1f to 1.", how, math.Exp(lean))}
	}
	if best.Kind == "" {
		return nil
	}
	best.AtS = at
	return []Finding{best}
}
