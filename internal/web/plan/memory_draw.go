package plan

import (
	"fmt"
	"html"
	"html/template"
	"strings"

	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
)

// mark is one hearing in a row of them.
type mark struct {
	day  calendar.Day
	well bool    // it went right there
	high float64 // of a curve, 0 to 1
}

// strip draws hearings as a row in time: a filled dot where it went right, a ring where it did not. It names itself by say.
func strip(marks []mark, say string) template.HTML {
	if len(marks) == 0 {
		return ""
	}
	const wide, high, edge = 320.0, 22.0, 6.0
	x := across(marks, edge, wide-edge)
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="strip" viewBox="0 0 %g %g" role="img" aria-label="%s"><path class="plot-rule" d="M0 11H%g"/>`, wide, high, html.EscapeString(say), wide)
	for i, m := range marks {
		class := "ring"
		if m.well {
			class = "dot"
		}
		fmt.Fprintf(&b, `<circle class="%s" cx="%.1f" cy="11" r="4"/>`, class, x(i))
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String()) // numbers and an escaped sentence
}

// belief draws what is believed of a skill after each hearing, from not there to there, with the same dots; the dashed line is
// from where it counts as there.
func belief(marks []mark, say string) template.HTML {
	if len(marks) < 2 {
		return ""
	}
	const wide, high, left, right, top, bottom = 320.0, 96.0, 8.0, 60.0, 12.0, 20.0
	x := across(marks, left, wide-right)
	y := func(chance float64) float64 { return top + (high-top-bottom)*(1-chance) }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="plot" viewBox="0 0 %g %g" role="img" aria-label="%s">`, wide, high, html.EscapeString(say))
	fmt.Fprintf(&b, `<path class="plot-rule" d="M%g %gH%g"/><path class="plot-goal" d="M%g %.1fH%g"/><text class="plot-text" x="%g" y="%.1f">there</text>`,
		left, high-bottom, wide-right, left, y(memory.Mastered), wide-right, wide-right+10, y(memory.Mastered)+4)
	var pts []string
	for i, m := range marks {
		pts = append(pts, fmt.Sprintf("%.1f,%.1f", x(i), y(m.high)))
	}
	fmt.Fprintf(&b, `<polyline class="plot-line" points="%s"/>`, strings.Join(pts, " "))
	for i, m := range marks {
		class := "ring"
		if m.well {
			class = "dot"
		}
		fmt.Fprintf(&b, `<circle class="%s" cx="%.1f" cy="%.1f" r="3"/>`, class, x(i), y(m.high))
	}
	day := func(d calendar.Day) string { return strings.Join(strings.Fields(d.Short())[:2], " ") }
	fmt.Fprintf(&b, `<text class="plot-text" x="%g" y="%g">%s</text>`, left, high-5, day(marks[0].day))
	fmt.Fprintf(&b, `<text class="plot-text" x="%g" y="%g" text-anchor="end">%s</text></svg>`, wide-right, high-5, day(marks[len(marks)-1].day))
	return template.HTML(b.String()) // numbers, days and an escaped sentence
}

// across places marks in time from left to right. Those of one day stand a little apart.
func across(marks []mark, left, right float64) func(i int) float64 {
	first, last := marks[0].day, marks[len(marks)-1].day
	return func(i int) float64 {
		if last == first {
			return left + (right-left)*float64(i+1)/float64(len(marks)+1)
		}
		same := 0
		for k := i - 1; k >= 0 && marks[k].day == marks[i].day; k-- {
			same++
		}
		return left + (right-left)*min(float64(marks[i].day-first)/float64(last-first)+0.012*float64(same), 1)
	}
}
