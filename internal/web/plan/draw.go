package plan

import (
	"fmt"
	"html"
	"html/template"
	"strings"
	"time"

	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/forecast"
)

// minutesBar draws the minutes of a day: an outline for those that there are, filled as far as they are planned. The words
// stand beside it.
func minutesBar(planned, has, most int) template.HTML {
	const wide, high = 100.0, 8.0
	at := func(n int) float64 { return wide * float64(n) / float64(max(most, 1)) }
	return template.HTML(fmt.Sprintf(`<svg class="minutes-bar" viewBox="0 0 %.0f %.0f" preserveAspectRatio="none" aria-hidden="true"><rect class="bar-has" x="0.5" y="0.5" width="%.1f" height="%.1f"/><rect class="bar-planned" x="0.5" y="0.5" width="%.1f" height="%.1f"/></svg>`,
		wide+1, high, at(has), high-1, at(min(planned, has)), high-1)) // numbers only
}

// rangeDrawing draws when something is likely finished: a thin line holds four times in five, the thick one on it one in two.
// Months stand below, or years where it is far. It names itself for who cannot see it.
func rangeDrawing(today calendar.Day, half, most forecast.Range, open bool) template.HTML {
	const wide, high, left, right = 560.0, 74.0, 10.0, 10.0
	last := most.To
	if open {
		last = max(half.To, most.From) + 120
	}
	span := max(float64(last-today)*1.06, 30)
	x := func(d calendar.Day) float64 { return left + (wide-left-right)*min(max(float64(d-today)/span, 0), 1) }
	var b strings.Builder
	say := "Likely finished " + between(half, false, today) + " one time in two, and " + between(most, open, today) + " four times in five."
	fmt.Fprintf(&b, `<svg class="range" viewBox="0 0 %.0f %.0f" role="img" aria-label="%s">`, wide, high, html.EscapeString(say))
	fmt.Fprintf(&b, `<line class="range-rule" x1="%.1f" y1="40" x2="%.1f" y2="40"/>`, left, wide-right)
	end := x(most.To)
	if open {
		end = wide - right
	}
	fmt.Fprintf(&b, `<line class="range-most" x1="%.1f" y1="28" x2="%.1f" y2="28"/>`, x(most.From), end)
	fmt.Fprintf(&b, `<line class="range-half" x1="%.1f" y1="28" x2="%.1f" y2="28"/>`, x(half.From), max(x(half.To), x(half.From)+2))
	fmt.Fprintf(&b, `<circle class="range-today" cx="%.1f" cy="40" r="4"/><text class="plot-text" x="%.1f" y="14">today</text>`, x(today), left)
	years := span > 550 // then names of months would come round again and say too little
	for d, lastAt := today, left-80.0; d <= today+calendar.Day(span); d++ {
		t := time.Unix(int64(d)*86400, 0).UTC()
		if t.Day() != 1 || years && t.Month()%3 != 1 {
			continue
		}
		at := x(d)
		fmt.Fprintf(&b, `<line class="range-rule" x1="%.1f" y1="36" x2="%.1f" y2="44"/>`, at, at)
		name := t.Format("Jan")
		if t.Month() == time.January {
			name = t.Format("2006")
		} else if years {
			continue
		}
		if at-lastAt >= 44 && at < wide-30 {
			fmt.Fprintf(&b, `<text class="plot-text" x="%.1f" y="62" text-anchor="middle">%s</text>`, at, name)
			lastAt = at
		}
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String()) // numbers, month names and an escaped sentence
}
