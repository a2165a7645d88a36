package take

import (
	"html/template"
	"slices"

	"antiphon/internal/compare"
	"antiphon/internal/studio"
)

// plot is one small drawing over takes, with what it shows in a sentence.
type plot struct {
	Title   string
	Drawing template.HTML
	Say     string
}

// plots draws tempo, steadiness and notes over the takes of this work, the oldest first.
func plots(rv studio.Review) []plot {
	var points []compare.Point
	add := func(t studio.Take) {
		if s := t.Summary; s != nil && s.Notes > 0 {
			points = append(points, compare.Point{Day: t.Arrived, Bpm: s.Bpm, SteadinessPct: s.SteadinessPct, RightShare: s.RightShare})
		}
	}
	for _, t := range slices.Backward(rv.Earlier) {
		add(t)
	}
	add(rv.Take)
	var goal float64
	if rv.Assignment != nil {
		goal = rv.Assignment.Goals.TempoBpm
	}
	var out []plot
	for _, m := range []compare.Measure{compare.TempoPlot, compare.SteadyPlot, compare.RightPlot} {
		if p := compare.Series(m, points, goal); p.SVG != "" {
			out = append(out, plot{p.Title, template.HTML(p.SVG), p.Say}) // written by our own package, escaped there
		}
	}
	return out
}
