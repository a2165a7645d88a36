package report

import (
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"
	"time"
)

// Chart is a few weeks or months of one child in a picture that a parent can read: its own figures only,
// beside nobody else's, and without a mark.
type Chart struct {
	Kind   ChartKind    `json:"kind"`
	Title  string       `json:"title"`          // "Ode to Joy"
	Goal   float64      `json:"goal,omitempty"` // of a tempo, beats a minute; 0 none
	Points []ChartPoint `json:"points"`         // in order of days
}

// ChartKind is what a chart shows.
type ChartKind string

// The kinds of Chart.
const (
	ChartTempo ChartKind = "tempo" // of one item: a line over the days, in beats a minute
	ChartDays  ChartKind = "days"  // with practice in each week: bars of 0 to 7
)

// ChartPoint is one figure: of a day, or of the week that begins on it.
type ChartPoint struct {
	Day   string  `json:"day"` // 2026-11-28
	Value float64 `json:"value"`
}

// mostPoints is what one chart draws; a year of weeks is within it.
const mostPoints = 120

// dated is a point that can be drawn.
type dated struct {
	at time.Time
	v  float64
}

// read leaves out what is no day or no number.
func (c Chart) read() (out []dated) {
	for _, p := range c.Points {
		at, err := time.Parse(time.DateOnly, p.Day)
		if err != nil || math.IsNaN(p.Value) || p.Value < 0 || p.Value > 1000 || len(out) > 0 && at.Before(out[len(out)-1].at) {
			continue
		}
		out = append(out, dated{at, p.Value})
	}
	return out[max(0, len(out)-mostPoints):]
}

// Words say what the chart shows, for who cannot see it and for everybody else; "" where there is nothing to show.
func (c Chart) Words(language string) string {
	t, p := letterWordsOf(language), c.read()
	if len(p) == 0 {
		return ""
	}
	first, last := p[0], p[len(p)-1]
	switch c.Kind {
	case ChartTempo:
		if len(p) == 1 || math.Round(first.v) == math.Round(last.v) {
			return fmt.Sprintf(t.tempoAt, math.Round(last.v), t.date(last.at))
		}
		return fmt.Sprintf(t.tempoFrom, math.Round(first.v), t.date(first.at), math.Round(last.v), t.date(last.at))
	case ChartDays:
		sum := 0.0
		for _, d := range p {
			sum += d.v
		}
		if len(p) == 1 {
			return fmt.Sprintf(t.daysInOne, int(math.Round(sum)))
		}
		return fmt.Sprintf(t.daysIn, int(math.Round(sum)), len(p))
	}
	return ""
}

// sketch is a drawing in mm that can be put on paper and on a page.
type sketch struct {
	wide, high float64
	lines      []sketchLine
	bars       [][4]float64 // x, y, width, height
	dots       [][2]float64
	texts      []sketchText
}

type sketchLine struct {
	x0, y0, x1, y1, width float64
	dashed                bool
}

type sketchText struct {
	x, y float64
	side float64 // 0 begins at x, 0.5 in its middle, 1 ends there
	s    string
}

// Room round the figures, in mm.
const (
	chartHigh  = 42.0
	chartLow   = 8.0 // below the base line
	chartAbove = 6.0
	chartSide  = 12.0
)

// sketch draws the chart so wide; false where there is nothing to draw.
func (c Chart) sketch(language string, wide float64) (sketch, bool) {
	t, p := letterWordsOf(language), c.read()
	s := sketch{wide: wide, high: chartHigh}
	switch {
	case c.Kind == ChartTempo && len(p) > 1:
		s.tempo(p, c.Goal, t)
	case c.Kind == ChartDays && len(p) > 0:
		s.days(p, t)
	default:
		return s, false
	}
	return s, true
}

func (s *sketch) line(x0, y0, x1, y1, width float64, dashed bool) {
	s.lines = append(s.lines, sketchLine{x0, y0, x1, y1, width, dashed})
}

func (s *sketch) text(x, y, side float64, text string) {
	s.texts = append(s.texts, sketchText{x, y, side, text})
}

func (s *sketch) tempo(p []dated, goal float64, t letterWords) {
	low, high := p[0].v, p[0].v
	for _, d := range p {
		low, high = min(low, d.v), max(high, d.v)
	}
	if goal > 0 && goal < 1000 {
		low, high = min(low, goal), max(high, goal)
	}
	low, high = 10*math.Floor((low-1)/10), 10*math.Ceil((high+1)/10)
	from, to := p[0].at, p[len(p)-1].at
	span := max(to.Sub(from).Hours(), 1)
	left, right, top, base := chartSide, s.wide-chartSide, chartAbove, s.high-chartLow
	x := func(at time.Time) float64 { return left + (right-left)*at.Sub(from).Hours()/span }
	y := func(v float64) float64 { return base - (base-top)*(v-low)/(high-low) }
	s.line(left, base, right, base, 0.25, false)
	if goal > 0 && goal < 1000 {
		s.line(left, y(goal), right, y(goal), 0.2, true)
		s.text(left, y(goal)-1.2, 0, fmt.Sprintf(t.goal, math.Round(goal)))
	}
	for i, d := range p {
		if i > 0 {
			s.line(x(p[i-1].at), y(p[i-1].v), x(d.at), y(d.v), 0.5, false)
		}
		s.dots = append(s.dots, [2]float64{x(d.at), y(d.v)})
	}
	first, last := p[0], p[len(p)-1]
	s.text(left-2, y(first.v)+1.2, 1, strconv.Itoa(int(math.Round(first.v)))) // the two that matter stand beside their dots
	s.text(right+2, y(last.v)+1.2, 0, strconv.Itoa(int(math.Round(last.v))))
	s.text(left, base+5, 0, t.date(from))
	s.text(right, base+5, 1, t.date(to))
}

func (s *sketch) days(p []dated, t letterWords) {
	left, right, top, base := chartSide, s.wide-chartSide, chartAbove, s.high-chartLow
	step := (right - left) / float64(len(p))
	s.line(left, base, right, base, 0.25, false)
	every := int(math.Ceil(16 / step)) // a date takes about 16 mm
	for i, d := range p {
		v := min(math.Round(d.v), 7)
		x := left + step*float64(i)
		if v > 0 {
			h := (base - top) * v / 7
			bar := min(step*0.6, 9)
			s.bars = append(s.bars, [4]float64{x + (step-bar)/2, base - h, bar, h})
			if step >= 4 {
				s.text(x+step/2, base-h-1.2, 0.5, strconv.Itoa(int(v)))
			}
		}
		if i%every == 0 && x+step/2+8 <= s.wide {
			s.text(x+step/2, base+5, 0.5, t.date(d.at))
		}
	}
}

// onto puts a sketch on paper with its upper left corner at x, y.
func (s sketch) onto(l *leaf, x, y float64) {
	l.ink()
	l.doc.SetFillColor(0xcc, 0xcc, 0xcc)
	for _, b := range s.bars {
		l.doc.Rect(x+b[0], y+b[1], b[2], b[3], "FD")
	}
	l.ink()
	for _, n := range s.lines {
		l.doc.SetLineWidth(n.width)
		if n.dashed {
			l.doc.SetDashPattern([]float64{1.2, 1.2}, 0)
		}
		l.doc.Line(x+n.x0, y+n.y0, x+n.x1, y+n.y1)
		l.doc.SetDashPattern(nil, 0)
	}
	for _, d := range s.dots {
		l.doc.Circle(x+d[0], y+d[1], 0.9, "F")
	}
	l.font("", smallPt)
	for _, t := range s.texts {
		l.doc.Text(x+t.x-t.side*l.width(t.s), y+t.y, t.s)
	}
	l.ink()
}

// SVG draws the chart for a page, in the page's own ink: lines and dots in currentColor, bars thinned.
// Its words go with it for who cannot see it. "" where there is nothing to draw.
func (c Chart) SVG(language string) string {
	const wide = 150
	s, ok := c.sketch(language, wide)
	if !ok {
		return ""
	}
	n := func(v float64) string { return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64) }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" class="letter-chart" viewBox="0 0 %s %s" role="img" aria-label="%s" fill="currentColor" stroke="currentColor">`,
		n(s.wide), n(s.high), html.EscapeString(joinNonEmpty(": ", c.Title, c.Words(language))))
	for _, r := range s.bars {
		fmt.Fprintf(&b, `<rect x="%s" y="%s" width="%s" height="%s" fill-opacity="0.2" stroke-width="0.2"/>`, n(r[0]), n(r[1]), n(r[2]), n(r[3]))
	}
	for _, l := range s.lines {
		dash := ""
		if l.dashed {
			dash = ` stroke-dasharray="1.2 1.2"`
		}
		fmt.Fprintf(&b, `<path d="M%s %sL%s %s" stroke-width="%s"%s/>`, n(l.x0), n(l.y0), n(l.x1), n(l.y1), n(l.width), dash)
	}
	for _, d := range s.dots {
		fmt.Fprintf(&b, `<circle cx="%s" cy="%s" r="0.9" stroke="none"/>`, n(d[0]), n(d[1]))
	}
	anchor := map[float64]string{0: "start", 0.5: "middle", 1: "end"}
	for _, t := range s.texts {
		fmt.Fprintf(&b, `<text x="%s" y="%s" text-anchor="%s" font-size="3.6" stroke="none">%s</text>`, n(t.x), n(t.y), anchor[t.side], html.EscapeString(t.s))
	}
	b.WriteString("</svg>")
	return b.String()
}
