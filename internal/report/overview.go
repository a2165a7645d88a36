package report

import (
	"fmt"
	"html"
	"math"
	"strings"

	"antiphon/internal/evidence"
	"antiphon/internal/media"
)

// The picture of the whole take: its rows from the top, in pixels. Across it is in per cent of the
// take, so it fits any width.
const (
	waveTop, waveHigh = 18.0, 96.0
	barTextY          = 130.0
	paceTop, paceHigh = 142.0, 84.0
	timeTextY         = 244.0
)

// overview draws sound, passes, bar lines and tempo over the seconds of the take.
func (r Report) overview(views []evidence.Line, pcm media.PCM) string {
	total := max(r.Hearing.DurationS, 0.1)
	var b strings.Builder
	at := func(s float64) string { return fmt.Sprintf("%.3f%%", min(100, max(0, 100*finite(s)/total))) }
	fmt.Fprintf(&b, `<svg class="take" data-take role="img" aria-label="%s">`, html.EscapeString(r.overviewInWords(views)))
	for _, v := range views {
		to := v.Pass.EndS
		if n := len(v.Bars); n > 0 {
			to = min(total, max(to, v.Bars[n-1].ToS))
		}
		fmt.Fprintf(&b, `<rect class="span" x="%s" y="%g" width="%.3f%%" height="%g"/>`, at(v.Pass.StartS), waveTop, 100*max(0, finite(to-v.Pass.StartS))/total, waveHigh)
	}
	if path := wavePath(pcm); path != "" {
		fmt.Fprintf(&b, `<svg x="0" y="%g" width="100%%" height="%g" viewBox="0 -1.02 %d 2.04" preserveAspectRatio="none"><path class="wave" d="%s"/></svg>`,
			waveTop, waveHigh, waveColumns, path)
	}
	r.barLines(&b, views, at, total)
	for _, v := range views {
		fmt.Fprintf(&b, `<line class="edge" x1="%[1]s" x2="%[1]s" y1="%[2]g" y2="%[3]g"/>`, at(v.Pass.StartS), waveTop-4, waveTop+waveHigh)
		if len(views) > 1 {
			fmt.Fprintf(&b, `<text x="%s" y="12">%d</text>`, at(v.Pass.StartS), v.Pass.N)
		}
	}
	r.paceCurve(&b, views, at, total)
	step := niceStep(total / 5)
	for s := 0.0; s <= total; s += step {
		anchor := "middle"
		switch {
		case s == 0:
			anchor = "start"
		case s > 0.97*total:
			anchor = "end"
		}
		fmt.Fprintf(&b, `<text x="%s" y="%g" text-anchor="%s">%s</text>`, at(s), timeTextY, anchor, clockTime(s))
	}
	fmt.Fprintf(&b, `<line class="head needs-js" data-head x1="0" x2="0" y1="%g" y2="%g"/></svg>`, waveTop-4, paceTop+paceHigh)
	return b.String()
}

// barLines draws every bar line and numbers as many as there is room for: few on a phone, more on a
// wide screen.
func (r Report) barLines(b *strings.Builder, views []evidence.Line, at func(float64) string, total float64) {
	const narrowGap, wideGap = 0.085, 0.03 // of the width, between numbers
	lastNarrow, lastWide := math.Inf(-1), math.Inf(-1)
	for _, v := range views {
		for _, bar := range v.Bars {
			if bar.FromS < v.Pass.StartS-0.05 || bar.FromS > total {
				continue // a pass that begins inside a bar has no bar line there
			}
			x := bar.FromS / total
			class, text := "bar", ""
			switch {
			case x-lastNarrow >= narrowGap && x < 0.98:
				class, text = "bar named", `<text x="%s" y="%g" text-anchor="middle">%s</text>`
				lastNarrow, lastWide = x, x
			case x-lastWide >= wideGap && x-lastNarrow >= wideGap && lastNarrow+narrowGap-x >= wideGap && x < 0.98:
				class, text = "bar named", `<text class="wide" x="%s" y="%g" text-anchor="middle">%s</text>`
				lastWide = x
			}
			fmt.Fprintf(b, `<line class="%s" x1="%[2]s" x2="%[2]s" y1="%[3]g" y2="%[4]g"/>`, class, at(bar.FromS), waveTop, waveTop+waveHigh+4)
			if text != "" {
				fmt.Fprintf(b, text, at(bar.FromS), barTextY, html.EscapeString(plain(bar.Label)))
			}
		}
	}
}

// paceCurve draws the tempo from bar to bar, with the score's own mark as a dotted line.
func (r Report) paceCurve(b *strings.Builder, views []evidence.Line, at func(float64) string, total float64) {
	t := r.Hearing.Tempo
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range t.Curve {
		if p.Bpm > 0 && !math.IsInf(p.Bpm, 0) {
			lo, hi = min(lo, p.Bpm), max(hi, p.Bpm)
		}
	}
	if hi < lo {
		return
	}
	if t.MarkedBpm > 0 && t.MarkedBpm < 4*hi && t.MarkedBpm > lo/4 {
		lo, hi = min(lo, t.MarkedBpm), max(hi, t.MarkedBpm)
	}
	// At least a quarter up and down, so that a steady take looks steady.
	mid := math.Sqrt(lo * hi)
	lo, hi = min(0.97*lo, mid/1.25), max(1.03*hi, mid*1.25)
	y := func(bpm float64) float64 { return paceHigh * (1 - math.Log(bpm/lo)/math.Log(hi/lo)) }
	for _, edge := range []float64{0, paceHigh} {
		fmt.Fprintf(b, `<line class="rule" x1="0" x2="100%%" y1="%[1]g" y2="%[1]g"/>`, paceTop+edge)
	}
	if t.MarkedBpm > lo && t.MarkedBpm < hi {
		my := paceTop + y(t.MarkedBpm)
		fmt.Fprintf(b, `<line class="mark" x1="0" x2="100%%" y1="%.1[1]f" y2="%.1[1]f"/><text x="99.5%%" y="%.1[2]f" text-anchor="end">score %.0[3]f</text>`, my, my-4, t.MarkedBpm)
	}
	fmt.Fprintf(b, `<svg x="0" y="%g" width="100%%" height="%g" viewBox="0 0 1000 %g" preserveAspectRatio="none">`, paceTop, paceHigh, paceHigh)
	for _, v := range views {
		var pts []string
		for _, p := range t.Curve {
			if p.S >= v.Pass.StartS-0.01 && p.S <= v.Pass.EndS+0.01 && p.Bpm > 0 {
				pts = append(pts, fmt.Sprintf("%.1f,%.1f", 1000*finite(p.S)/total, finite(y(p.Bpm))))
			}
		}
		if len(pts) > 1 {
			fmt.Fprintf(b, `<polyline class="pace" points="%s"/>`, strings.Join(pts, " "))
		}
	}
	b.WriteString(`</svg>`)
	fmt.Fprintf(b, `<text x="4" y="%g">%.0f</text><text x="4" y="%g">%.0f</text>`, paceTop+11, hi, paceTop+paceHigh-4, lo)
}

// overviewInWords is the picture for who cannot see it.
func (r Report) overviewInWords(views []evidence.Line) string {
	var b strings.Builder
	fmt.Fprintf(&b, "The take over time, %s long.", clockTime(r.Hearing.DurationS))
	for _, v := range views {
		fmt.Fprintf(&b, " Pass %d, %s, from %s to %s", v.Pass.N, plain(barRange(v.Pass.FromBar, v.Pass.ToBar)), clockTime(v.Pass.StartS), clockTime(v.Pass.EndS))
		if v.Pass.Bpm > 0 {
			fmt.Fprintf(&b, " at about %.0f a minute", finite(v.Pass.Bpm))
		}
		b.WriteString(".")
	}
	return b.String()
}

// niceStep is a round number of seconds at or above about.
func niceStep(about float64) float64 {
	for _, s := range []float64{1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900} {
		if s >= about {
			return s
		}
	}
	return 1800
}
