package compare

import (
	"fmt"
	"html"
	"math"
	"strings"
	"time"
)

// Point is one take in a row of takes of the same work, oldest first.
type Point struct {
	Day           time.Time // when it was played or arrived
	Bpm           float64   // 0: unknown, left out of the tempo
	SteadinessPct float64   // 0: unknown
	RightShare    float64   // of the notes, 0 to 1; less than 0: unknown
}

// Measure is what a plot shows.
type Measure string

// The measures.
const (
	TempoPlot  Measure = "tempo"
	SteadyPlot Measure = "steadiness"
	RightPlot  Measure = "right"
)

// Plot is a small picture with its words. The SVG holds no style of its own: the page's sheet knows the
// classes plot, plot-line, plot-dot, plot-last, plot-goal, plot-rule and plot-text. It names itself by
// Say for who cannot see it.
type Plot struct {
	Measure Measure
	Title   string // "Tempo"
	Say     string
	SVG     string // "" with fewer than two points: there is nothing to draw
}

// The drawing, in its own units; it may be shown at any width.
const (
	plotWide, plotHigh    = 348.0, 96.0
	plotLeft, plotRight   = 8.0, 80.0 // the last value stands at the right, and "112 asked"
	plotTop, plotBottom   = 14.0, 20.0
	mostSaid              = 6   // values read aloud one by one; of more, the first and the last
	leastSpan             = 0.1 // of the values: a steady row looks steady
	dotRadius, lastRadius = 2.6, 4.0
)

type value struct {
	day time.Time
	v   float64
}

// Series draws one measure over takes; goal is the tempo asked for now, 0 none.
func Series(m Measure, points []Point, goal float64) Plot {
	p := Plot{Measure: m, Title: map[Measure]string{TempoPlot: "Tempo", SteadyPlot: "Steadiness", RightPlot: "Right notes"}[m]}
	var vs []value
	for _, x := range points {
		v, ok := x.Bpm, x.Bpm > 0
		switch m {
		case SteadyPlot:
			v, ok = x.SteadinessPct, x.SteadinessPct > 0
		case RightPlot:
			v, ok = 100*x.RightShare, x.RightShare >= 0 && x.RightShare <= 1
		}
		if ok && !math.IsInf(v, 0) {
			vs = append(vs, value{x.Day, v})
		}
	}
	if m != TempoPlot || !(goal > 0) {
		goal = 0
	}
	p.Say = seriesInWords(m, vs, goal)
	if len(vs) >= 2 {
		p.SVG = draw(p, vs, goal)
	}
	return p
}

func inUnit(m Measure, v float64) string {
	switch m {
	case TempoPlot:
		return fmt.Sprintf("%.0f a minute", v)
	case SteadyPlot:
		return fmt.Sprintf("within %.0f %%", math.Ceil(v-1e-9))
	}
	return fmt.Sprintf("%.0f %%", math.Floor(v+1e-9))
}

func bare(m Measure, v float64) string {
	switch m {
	case SteadyPlot:
		return fmt.Sprintf("%.0f", math.Ceil(v-1e-9))
	case RightPlot:
		return fmt.Sprintf("%.0f", math.Floor(v+1e-9))
	}
	return fmt.Sprintf("%.0f", v)
}

func seriesInWords(m Measure, vs []value, goal float64) string {
	what := map[Measure]string{TempoPlot: "Tempo", SteadyPlot: "Distance from an even beat", RightPlot: "Share of right notes"}[m]
	n := len(vs)
	switch {
	case n == 0:
		return what + ": not known yet."
	case n == 1:
		return fmt.Sprintf("%s: %s on %s.", what, inUnit(m, vs[0].v), dayInWords(vs[0].day))
	}
	text := fmt.Sprintf("%s over %d takes from %s to %s: ", what, n, dayInWords(vs[0].day), dayInWords(vs[n-1].day))
	if n <= mostSaid {
		var words []string
		for _, x := range vs {
			words = append(words, bare(m, x.v))
		}
		text += list(words) + map[Measure]string{TempoPlot: " a minute", SteadyPlot: " %", RightPlot: " %"}[m]
	} else {
		text += "from " + inUnit(m, vs[0].v) + " to " + inUnit(m, vs[n-1].v)
	}
	if goal > 0 {
		text += fmt.Sprintf("; %.0f is asked for", goal)
	}
	if m == SteadyPlot {
		text += "; less is steadier"
	}
	return text + "."
}

func dayInWords(t time.Time) string {
	if t.IsZero() {
		return "an unknown day"
	}
	return t.Format("2 January")
}

func draw(p Plot, vs []value, goal float64) string {
	lo, hi := vs[0].v, vs[0].v
	for _, x := range vs {
		lo, hi = min(lo, x.v), max(hi, x.v)
	}
	if goal > 0 {
		lo, hi = min(lo, goal), max(hi, goal)
	}
	if least := leastSpan * math.Abs(hi+lo) / 2; hi-lo < least {
		mid := (hi + lo) / 2
		lo, hi = mid-least/2, mid+least/2
	}
	y := func(v float64) float64 { return plotTop + (plotHigh-plotTop-plotBottom)*(hi-v)/max(hi-lo, 1e-9) }
	first, last := vs[0].day, vs[len(vs)-1].day
	x := func(i int) float64 {
		share := float64(i) / float64(len(vs)-1)
		if d := last.Sub(first); d > 0 && !first.IsZero() { // weeks without a take are seen as a gap
			share = min(1, max(0, float64(vs[i].day.Sub(first))/float64(d)))
		}
		return plotLeft + (plotWide-plotLeft-plotRight)*share
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="plot" viewBox="0 0 %g %g" role="img" aria-label="%s">`, plotWide, plotHigh, html.EscapeString(p.Say))
	fmt.Fprintf(&b, `<path class="plot-rule" d="M%g %gH%g"/>`, plotLeft, plotHigh-plotBottom, plotWide-plotRight)
	if goal > 0 {
		fmt.Fprintf(&b, `<path class="plot-goal" d="M%g %.1fH%g"/>`, plotLeft, y(goal), plotWide-plotRight)
		if math.Abs(y(goal)-y(vs[len(vs)-1].v)) > 12 { // else the two numbers would lie on each other
			fmt.Fprintf(&b, `<text class="plot-text" x="%g" y="%.1f">%.0f asked</text>`, plotWide-plotRight+8, y(goal)+4, goal)
		}
	}
	var pts []string
	for i, v := range vs {
		pts = append(pts, fmt.Sprintf("%.1f,%.1f", x(i), y(v.v)))
	}
	fmt.Fprintf(&b, `<polyline class="plot-line" points="%s"/>`, strings.Join(pts, " "))
	for i, v := range vs {
		class, r := "plot-dot", dotRadius
		if i == len(vs)-1 {
			class, r = "plot-last", lastRadius
		}
		fmt.Fprintf(&b, `<circle class="%s" cx="%.1f" cy="%.1f" r="%g"/>`, class, x(i), y(v.v), r)
	}
	fmt.Fprintf(&b, `<text class="plot-text" x="%.1f" y="%.1f">%s</text>`, x(len(vs)-1)+8, y(vs[len(vs)-1].v)+4, bare(p.Measure, vs[len(vs)-1].v))
	fmt.Fprintf(&b, `<text class="plot-text" x="%g" y="%g">%s</text>`, plotLeft, plotHigh-5, html.EscapeString(shortDay(first)))
	fmt.Fprintf(&b, `<text class="plot-text" x="%g" y="%g" text-anchor="end">%s</text></svg>`, plotWide-plotRight, plotHigh-5, html.EscapeString(shortDay(last)))
	return b.String()
}

func shortDay(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("2 Jan")
}
