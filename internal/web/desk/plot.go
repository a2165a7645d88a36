package desk

import (
	"html/template"

	"antiphon/internal/compare"
	"antiphon/internal/studio"
)

// curve is one measure over the takes of a work, as a small picture with its words.
type curve struct {
	Title string
	SVG   template.HTML
}

// curves are drawn over the takes of one work, the oldest first. What nothing is known of is left out.
func curves(takes []studio.Take) (all []curve) {
	points := make([]compare.Point, len(takes))
	for i, t := range takes {
		points[i] = compare.Point{Day: t.Announced, Bpm: t.Summary.Bpm, SteadinessPct: t.Summary.SteadinessPct, RightShare: -1}
		if t.Summary.Notes > 0 {
			points[i].RightShare = t.Summary.RightShare
		}
	}
	for _, one := range []struct {
		measure compare.Measure
		title   string
	}{
		{compare.TempoPlot, "Tempo, quarter notes a minute"},
		{compare.SteadyPlot, "Distance from an even beat, percent"},
		{compare.RightPlot, "Notes as written, percent"},
	} {
		if p := compare.Series(one.measure, points, 0); p.SVG != "" {
			all = append(all, curve{one.title, template.HTML(p.SVG)}) // drawn by us; compare escapes its words
		}
	}
	return all
}
