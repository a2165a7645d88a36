package report

import (
	"fmt"
	"html"
	"math"
	"slices"
	"strings"

	"antiphon/internal/ear"
	"antiphon/internal/evidence"
	"antiphon/internal/music"
)

// The drawing of one bar, in pixels at its smallest scale. A note that is early or late is drawn lateTimes as far from its
// place as it was, since 20 ms would be one pixel otherwise.
const (
	em            = 16.0 // pixels of the drawing in one em: the type size of a thread is its scale
	barPad        = 12.0 // from the bar line to the first beat
	threadTop     = 22.0
	laneGap       = 8.0
	mostLanes     = 4    // more parts share one lane
	threadFoot    = 18.0 // room for the names of what was heard
	widestBar     = 330.0
	closestNotes  = 14.0
	lateTimes     = 3.0
	latestPx      = 16.0
	quietestDb    = -18.0
	loudestDb     = 12.0
	thinnestPx    = 1.6
	thickestPx    = 9.0
	doubtfulBelow = 0.5 // confidence below which a dot is hollow
)

// frame is the scale that all bars of a page share.
type frame struct {
	pxQ    float64 // pixels a quarter
	pxMidi float64 // pixels a semitone
	top    int     // highest pitch drawn
	low    int     // lowest pitch drawn
	height float64
	lanes  map[string]int // by part, from the top: two guitars are drawn one above the other
}

func (r Report) frame() frame {
	f := frame{top: -1, low: 128, lanes: map[string]int{}}
	for _, p := range r.lanes() {
		f.lanes[p] = len(f.lanes)
	}
	gap, longest := math.Inf(1), 1.0
	last := -1.0
	for _, n := range r.Hearing.Score {
		f.top, f.low = max(f.top, n.Midi), min(f.low, n.Midi)
		if q := n.Onset.Q(); q > last+1e-6 {
			if last >= 0 {
				gap = min(gap, q-last)
			}
			last = q
		}
	}
	for _, b := range r.Score.Bars {
		longest = max(longest, b.Length.Q())
	}
	for _, n := range r.Hearing.Played {
		f.top, f.low = max(f.top, n.Midi), min(f.low, n.Midi)
	}
	if f.top < 0 {
		f.top, f.low = 72, 48
	}
	f.top, f.low = f.top+2, f.low-2
	f.pxQ = min(72, max(30, closestNotes/max(gap, 0.05)))
	f.pxQ = max(4, min(f.pxQ, (widestBar-barPad)/longest))
	f.pxMidi = min(5, max(2, 130/float64(f.top-f.low)))
	f.height = threadTop + f.lane()*float64(max(1, len(f.lanes))) - laneGap + threadFoot
	return f
}

// lane is the height of the drawing of one part, with the gap below it.
func (f frame) lane() float64 { return f.pxMidi*float64(f.top-f.low) + laneGap }

// y is the height of a pitch in the lane of a part; an added note is drawn in the first.
func (f frame) y(midi int, part string) float64 {
	return threadTop + f.lane()*float64(f.lanes[part]) + f.pxMidi*float64(f.top-midi)
}

// lanes are the parts that have notes, as far as there is room for them one above the other.
func (r Report) lanes() []string {
	var out []string
	for _, p := range r.Score.Parts {
		if slices.ContainsFunc(r.Hearing.Score, func(n music.Sounding) bool { return n.Part == p.ID }) {
			out = append(out, p.ID)
		}
	}
	if len(out) > mostLanes {
		return nil
	}
	return out
}

// openStrings are the faint lines behind the notes.
func openStrings() []int { return []int{40, 45, 50, 55, 59, 64} }

// thread draws one pass, bar after bar; the page wraps them into lines.
func (r Report) thread(b *strings.Builder, f frame, v evidence.Line) {
	fmt.Fprintf(b, `<div class="thread" data-thread role="group" aria-label="Pass %d, bar by bar">`, v.Pass.N)
	for i, bar := range v.Bars {
		r.drawBar(b, f, v, bar, i == 0)
	}
	b.WriteString("</div>")
}

// place is where in the drawing of a bar a note belongs.
func (f frame) place(q float64) float64 { return barPad + q*f.pxQ }

func (r Report) drawBar(b *strings.Builder, f frame, v evidence.Line, bar evidence.Measure, first bool) {
	width := barPad + math.Max(bar.LengthQ, 0.5)*f.pxQ
	label := html.EscapeString(plain(bar.Label))
	from, to := max(0, finite(bar.FromS)), finite(bar.ToS)
	fmt.Fprintf(b, `<div class="bar" id="p%db%d" data-bar="%s" data-from="%.3f" data-to="%.3f" data-left="%.1f" data-right="%.1f">`,
		v.Pass.N, bar.Index, label, from, to, barPad, width)
	fmt.Fprintf(b, `<svg width="%.3fem" height="%.3fem" viewBox="0 0 %.1f %.1f" role="img" aria-label="%s">`, width/em, f.height/em, width, f.height, html.EscapeString(plain(evidence.SayBar(r.Hearing, r.Score, v, bar))))
	b.WriteString(`<path class="lines" d="`)
	for _, m := range openStrings() {
		if m >= f.top || m <= f.low {
			continue
		}
		for lane := range max(1, len(f.lanes)) {
			fmt.Fprintf(b, "M0 %.1fH%.0f", f.y(m, "")+f.lane()*float64(lane), width)
		}
	}
	fmt.Fprintf(b, `"/><path class="barline" d="M.5 %.0fV%.1f"/>`, threadTop-4, f.height-threadFoot)
	r.written(b, f, bar)
	names := &foot{y: f.height - 5}
	for _, n := range bar.Heard {
		if n.Verdict == ear.Right {
			continue
		}
		r.strayNote(b, f, n, names)
	}
	r.rightNotes(b, f, bar)
	for _, m := range bar.Missed {
		w := r.Hearing.Score[m.Note]
		x, y := f.place(w.Onset.Q()-bar.StartQ), f.y(w.Midi, w.Part)
		fmt.Fprintf(b, `<g class="gone"><title>%s not heard</title><circle class="ring" cx="%.1f" cy="%.1f" r="4.6"/></g>`, html.EscapeString(sign(w.Name, false)), x, y)
	}
	fmt.Fprintf(b, `<line class="now-line" data-now x1="0" x2="0" y1="%.0f" y2="%.0f" visibility="hidden"/></svg>`, threadTop-4, f.height-threadFoot)
	tab := -1
	if first {
		tab = 0
	}
	fmt.Fprintf(b, `<span class="no" aria-hidden="true">%s</span><button class="needs-js" tabindex="%d" data-s="%.3f" data-to="%.3f" aria-label="Play from bar %s, pass %d">%s</button></div>`,
		label, tab, from+leadIn, to, label, v.Pass.N, label)
}

// leadIn is what the player goes back before a place; a bar is to start at its bar line.
const leadIn = 1.2

// written draws the notes as written: an upright stroke at the place, a thin line as long as the note.
func (r Report) written(b *strings.Builder, f frame, bar evidence.Measure) {
	var place, held strings.Builder
	draw := func(note int) {
		w := r.Hearing.Score[note]
		x, y := f.place(w.Onset.Q()-bar.StartQ), f.y(w.Midi, w.Part)
		if w.Grace {
			x -= 5
		}
		fmt.Fprintf(&place, "M%.1f %.1fv10", x, y-5)
		if l := w.Duration.Q() * f.pxQ; l > 0 {
			fmt.Fprintf(&held, "M%.1f %.1fh%.1f", x, y, min(l, barPad+bar.LengthQ*f.pxQ-x))
		}
	}
	for _, n := range bar.Heard {
		if n.Note >= 0 {
			draw(n.Note)
		}
	}
	for _, m := range bar.Missed {
		draw(m.Note)
	}
	fmt.Fprintf(b, `<path class="held" d="%s"/><path class="place" d="%s"/>`, held.String(), place.String())
}

// heardX is where a note was heard, early or late of its place.
func (f frame) heardX(n evidence.Placed, grace bool) float64 {
	x := f.place(n.PlaceQ) + min(latestPx, max(-latestPx, lateTimes*(finite(n.AtQ)-n.PlaceQ)*f.pxQ))
	if grace {
		x = f.place(n.PlaceQ) - 5
	}
	return max(2, x)
}

// thick is the width of the ribbon: loudness against the take's median note.
func thick(db float64) float64 {
	s := (finite(db) - quietestDb) / (loudestDb - quietestDb)
	return thinnestPx + (thickestPx-thinnestPx)*min(1, max(0, s))
}

func ribbon(b *strings.Builder, x, y, long, db float64) {
	t := thick(db)
	// The ribbon thins out towards its end, as a plucked string does.
	fmt.Fprintf(b, "M%.1f %.1fl%.1f %.1fv%.1fL%.1f %.1fz", x, y-t/2, long, t/2-0.4, 0.8, x, y+t/2)
}

func (r Report) rightNotes(b *strings.Builder, f frame, bar evidence.Measure) {
	var ribbons, dots, doubts strings.Builder
	right := barPad + bar.LengthQ*f.pxQ
	for _, n := range bar.Heard {
		if n.Verdict != ear.Right {
			continue
		}
		w := r.Hearing.Score[n.Note]
		x, y := f.heardX(n, w.Grace), f.y(n.Midi, w.Part)
		ribbon(&ribbons, x, y, max(6, min((n.EndQ-n.AtQ)*f.pxQ, right-x)), n.LevelDb)
		into, radius := &dots, 3.1
		if n.Confidence < doubtfulBelow {
			into = &doubts
		}
		if w.Grace {
			radius = 2
		}
		fmt.Fprintf(into, "M%.1[1]f %.1[2]fa%.1[3]f %.1[3]f 0 1 0 %.1[4]f 0a%.1[3]f %.1[3]f 0 1 0 %.1[5]f 0", x-radius, y, radius, 2*radius, -2*radius)
	}
	fmt.Fprintf(b, `<path class="ribbon" d="%s"/><path class="dot" d="%s"/>`, ribbons.String(), dots.String())
	if doubts.Len() > 0 {
		fmt.Fprintf(b, `<path class="doubt" d="%s"/>`, doubts.String())
	}
}

// foot keeps the names below the thread from covering each other.
type foot struct {
	y     float64
	right float64 // end of the last name
}

// letterPx is about the width of one letter of a name.
const letterPx = 8.0

// x is the middle of a name as near as can be to where it is wanted. Names come in order of time.
func (t *foot) x(want float64, name string) float64 {
	half := letterPx * float64(len([]rune(name))) / 2
	x := max(want, t.right+2+half)
	t.right = x + half
	return x
}

// strayNote draws a note other than written as a diamond tied to its place, and an added one as an
// open square, with the name of the pitch that was heard below the thread.
func (r Report) strayNote(b *strings.Builder, f frame, n evidence.Placed, names *foot) {
	name := html.EscapeString(r.heardName(n.Played))
	if n.Verdict == ear.Extra {
		x, y := f.place(n.PlaceQ), f.y(n.Midi, "")
		fmt.Fprintf(b, `<g class="other added"><title>%s added</title><path class="dot" d="M%.1f %.1fh6v6h-6z"/><text x="%.1f" y="%.0f" text-anchor="middle">+%s</text></g>`,
			name, x-3, y-3, names.x(max(12, x), "+"+name), names.y, name)
		return
	}
	w := r.Hearing.Score[n.Note]
	x, y, py := f.heardX(n, w.Grace), f.y(n.Midi, w.Part), f.y(w.Midi, w.Part)
	var rib strings.Builder
	ribbon(&rib, x, y, max(6, min((n.EndQ-n.AtQ)*f.pxQ, 60)), n.LevelDb)
	fmt.Fprintf(b, `<g class="other"><title>%s heard, %s written</title><path class="ribbon" d="%s"/><line class="link" x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f"/>`+
		`<path class="dot" d="M%.1f %.1fl4.6 4.6l-4.6 4.6l-4.6 -4.6z"/><text x="%.1f" y="%.0f" text-anchor="middle">%s</text></g>`,
		name, html.EscapeString(sign(w.Name, false)), rib.String(), f.place(n.PlaceQ), py, x, y, x, y-4.6, names.x(max(9, x), name), names.y, name)
}
