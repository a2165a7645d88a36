package report

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"antiphon/internal/ear"
	"antiphon/internal/evidence"
	"antiphon/internal/findings"
)

// TextOptions: the zero value is 80 columns of plain text.
type TextOptions struct {
	Cols     int  // width; 0 means 80, less than 40 counts as 40, more than 100 as 100
	Terminal bool // headings may be set in bold
}

// most findings that are shown in text; the rest is counted. The page and the JSON have them all.
const (
	mostTroubles = 8
	mostWell     = 3
)

// writer of the text; errors are kept by the buffer.
type textWriter struct {
	*bufio.Writer
	cols int
	bold bool
}

// Text writes the report for a terminal.
func (r Report) Text(out io.Writer, opt TextOptions) error {
	if opt.Cols == 0 {
		opt.Cols = 80
	}
	w := &textWriter{Writer: bufio.NewWriter(out), cols: min(100, max(40, opt.Cols)), bold: opt.Terminal}
	r.head(w)
	var troubles, well []findings.Finding
	for _, f := range r.Findings {
		if f.Kind.Well() {
			well = append(well, f)
		} else {
			troubles = append(troubles, f)
		}
	}
	views := r.passes()
	r.textPasses(w, views)
	w.findings("Worth saying", troubles, mostTroubles)
	w.findings("Went well", well, mostWell)
	r.strip(w, views)
	for _, n := range r.Meta.Notes {
		w.para("  ", "  ", "Note: "+plain(n))
	}
	return w.Flush()
}

func (w *textWriter) line(s string) { w.WriteString(strings.TrimRight(s, " ") + "\n") }

func (w *textWriter) heading(s string) {
	if w.bold {
		s = "\x1b[1m" + s + "\x1b[0m"
	}
	w.line("")
	w.line(s)
}

// para writes text wrapped, with one indent for its first line and one for the others.
func (w *textWriter) para(first, rest, text string) {
	for i, l := range wrap(text, w.cols-columns(rest)) {
		if i == 0 {
			w.line(first + l)
		} else {
			w.line(rest + l)
		}
	}
}

func (r Report) head(w *textWriter) {
	title := cut(plain(r.title()), w.cols)
	if w.bold {
		title = "\x1b[1m" + title + "\x1b[0m"
	}
	w.line(title)
	take := plain(r.Meta.TakeFile) + ", " + clockTime(r.Hearing.DurationS)
	if len(r.Hearing.Passes) > 0 {
		take += fmt.Sprintf(", tuned to A = %.0f Hz", finite(r.Hearing.A4Hz))
	}
	w.para("", "  ", take)
}

// mostPasses that are listed; of more, as rounds of an exercise give, the first and the last are.
const mostPasses = 10

// manyRounds is from where "again from bar 1" goes without saying.
const manyRounds = 4

// textPasses lists the passes with what led from one to the next, and the tempo against the mark.
func (r Report) textPasses(w *textWriter, views []evidence.Line) {
	if len(views) == 0 {
		return
	}
	w.heading("Heard")
	for i, v := range views {
		if left := len(views) - mostPasses; left > 0 && i >= mostPasses/2 && i < mostPasses/2+left {
			if i == mostPasses/2 {
				w.line(fmt.Sprintf("      … %d more", left))
			}
			continue
		}
		if j := v.Jump; j != nil && !(j.Kind == ear.Repeat && len(views) >= manyRounds) {
			w.para("      ", "      ", plain(jumpText(*j)))
		}
		p := v.Pass
		bars, times, pace := plain(barRange(p.FromBar, p.ToBar)), clockTime(p.StartS)+"–"+clockTime(p.EndS), paceText(p)
		if l := fmt.Sprintf("  %2d  %s %s %s", p.N, pad(bars, 15), pad(times, 11), pace); columns(l) <= w.cols {
			w.line(l)
			continue
		}
		w.para(fmt.Sprintf("  %2d  ", p.N), "      ", bars+", "+times+", "+pace)
	}
	t := r.Hearing.Tempo
	if t.MedianBpm > 0 {
		text := fmt.Sprintf("%.0f %s a minute", finite(t.MedianBpm), unitName(t.BeatUnitQ))
		if t.MarkedBpm > 0 {
			text += fmt.Sprintf("; the score says %.0f", finite(t.MarkedBpm))
		}
		w.para("  Tempo: ", "         ", text)
	}
	if say := r.Tone.Say(r.Score); say != "" {
		w.para("  Tone: ", "        ", plain(say))
	}
}

func paceText(p ear.Pass) string {
	if p.Bpm <= 0 {
		return ""
	}
	text := fmt.Sprintf("%.0f a minute", finite(p.Bpm))
	if p.SteadinessPct > 0 {
		text += fmt.Sprintf(", even within %.0f %%", math.Ceil(finite(p.SteadinessPct)))
	}
	return text
}

func jumpText(j ear.Jump) string {
	gap := ""
	if s := j.ResumeS - j.StopS; s >= 1 {
		gap = fmt.Sprintf(", after %.0f seconds", s)
		if s < 1.5 {
			gap = ", after a second"
		}
	}
	switch j.Kind {
	case ear.Restart:
		return fmt.Sprintf("stopped in bar %s, back to bar %s%s", j.FromBar, j.ToBar, gap)
	case ear.Skip:
		return fmt.Sprintf("from bar %s ahead to bar %s%s", j.FromBar, j.ToBar, gap)
	}
	return fmt.Sprintf("again from bar %s%s", j.ToBar, gap)
}

// unitName is the beat in words.
func unitName(q float64) string {
	for _, u := range []struct {
		q    float64
		name string
	}{{1, "quarters"}, {1.5, "dotted quarters"}, {2, "halves"}, {3, "dotted halves"}, {0.5, "eighths"}, {0.75, "dotted eighths"}, {0.25, "sixteenths"}, {4, "whole notes"}} {
		if math.Abs(u.q-q) < 1e-6 {
			return u.name
		}
	}
	return "beats"
}

func (w *textWriter) findings(heading string, list []findings.Finding, most int) {
	if len(list) == 0 {
		return
	}
	w.heading(heading)
	for i, f := range list {
		if i == most {
			w.para("        ", "        ", fmt.Sprintf("and %d more: see --html or --json.", len(list)-most))
			return
		}
		w.para(fmt.Sprintf("  %5s ", clockTime(f.FromS)), "        ", plain(f.Text))
	}
}

// strip shows bar by bar the passes in which something was not as written, one cell a bar.
func (r Report) strip(w *textWriter, views []evidence.Line) {
	if len(views) == 0 || len(r.Score.Bars) < 2 {
		return
	}
	w.heading("Bar by bar")
	var asWritten []int
	for _, v := range views {
		if !slices.ContainsFunc(v.Bars, func(b evidence.Measure) bool { return barSigns(b) != "·" }) {
			asWritten = append(asWritten, v.Pass.N)
			continue
		}
		cell := 3
		for _, b := range v.Bars {
			cell = max(cell, columns(plain(b.Label))+1, columns(barSigns(b))+1)
		}
		perLine := max(1, (w.cols-6)/cell)
		for from := 0; from < len(v.Bars); from += perLine {
			head, body := "      ", "      "
			if from == 0 {
				head = pad(fmt.Sprintf("  %2d", v.Pass.N), 6)
			}
			for _, b := range v.Bars[from:min(len(v.Bars), from+perLine)] {
				head += pad(plain(b.Label), cell)
				body += pad(barSigns(b), cell)
			}
			w.line(head)
			w.line(body)
		}
	}
	if len(asWritten) < len(views) {
		const key = "× another note than written   ○ not heard   + added   · as written"
		if columns(key)+6 <= w.cols {
			w.line("      " + key)
		} else {
			w.para("      ", "      ", key)
		}
	}
	switch {
	case len(asWritten) == 0:
	case len(views) == 1:
		w.line("  every bar as written, as far as could be heard")
	default:
		w.para("  ", "      ", passList(asWritten)+": every bar as written, as far as could be heard")
	}
}

// passList is "pass 3" or "passes 1, 3–5".
func passList(n []int) string {
	if len(n) == 1 {
		return fmt.Sprintf("pass %d", n[0])
	}
	var parts []string
	for i := 0; i < len(n); {
		j := i
		for j+1 < len(n) && n[j+1] == n[j]+1 {
			j++
		}
		part := fmt.Sprint(n[i])
		if j > i {
			part += fmt.Sprintf("–%d", n[j])
		}
		parts = append(parts, part)
		i = j + 1
	}
	return "passes " + strings.Join(parts, ", ")
}

// barSigns are the signs of one bar in the strip.
func barSigns(b evidence.Measure) string {
	wrong, extra, gone := counts(b)
	text := ""
	for _, c := range []struct {
		n    int
		sign string
	}{{wrong, "×"}, {gone, "○"}, {extra, "+"}} {
		switch {
		case c.n == 1:
			text += c.sign
		case c.n > 1:
			text += fmt.Sprintf("%s%d", c.sign, c.n)
		}
	}
	if text == "" {
		return "·"
	}
	return text
}
