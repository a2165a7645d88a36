package notation

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/music"
)

// barWriter writes one bar of one part.
type barWriter struct {
	*xmlWriter
	part   int
	bar    *music.Bar
	index  int         // of the bar
	cursor music.Beats // from the start of the score
	items  []item      // what stands between the notes, in order of place
}

// item is anything but a note.
type item struct {
	at    music.Beats
	rank  int // attributes before sounds before directions
	write func()
	fixed bool // cannot be written with an offset
}

func (x *xmlWriter) part(i int) error {
	p := &x.s.Parts[i]
	x.o.begin("part", "id", x.ids[i])
	notes, dirs, attrs := byBar(p.Notes, len(x.s.Bars), func(n *music.Note) int { return n.Bar }),
		byBar(p.Directions, len(x.s.Bars), func(d *music.Direction) int { return d.Bar }),
		byBar(p.Attributes, len(x.s.Bars), func(a *music.Attributes) int { return a.Bar })
	tempos := x.s.Tempos
	for b := range x.s.Bars {
		bar := &x.s.Bars[b]
		w := &barWriter{xmlWriter: x, part: i, bar: bar, index: b, cursor: bar.Start}
		x.o.begin("measure", "number", or(bar.Number, strconv.Itoa(b+1)), "implicit", yes(bar.Implicit))
		w.leftBarline()
		w.attributes(attrs[b], b == 0)
		if i == 0 {
			w.navigation(b)
			for len(tempos) > 0 && (tempos[0].At.Less(bar.End()) || b == len(x.s.Bars)-1) {
				w.tempo(tempos[0])
				tempos = tempos[1:]
			}
		}
		w.directions(dirs[b])
		slices.SortStableFunc(w.items, func(a, b item) int {
			return cmp.Or(a.at.Cmp(b.at), a.rank-b.rank)
		})
		if err := w.notes(notes[b]); err != nil {
			return err
		}
		w.rightBarline()
		x.o.end()
	}
	x.o.end()
	return nil
}

// byBar sorts things into their bars and keeps their order.
func byBar[T any](list []T, bars int, bar func(*T) int) [][]*T {
	out := make([][]*T, bars)
	for i := range list {
		if b := bar(&list[i]); b >= 0 && b < bars {
			out[b] = append(out[b], &list[i])
		}
	}
	return out
}

// notes writes the notes of the bar in their order, going back and forth in time between voices.
func (w *barWriter) notes(notes []*music.Note) error {
	reached := w.cursor
	for i, n := range notes {
		chord := n.Chord && i > 0 && notes[i-1].Start.Cmp(n.Start) == 0 && notes[i-1].Voice == n.Voice
		if !chord {
			if n.Start.Less(w.bar.Start) || n.Duration.Less(music.Beats{}) {
				return fmt.Errorf("%w: a note of bar %s starts before its bar or lasts less than nothing", ErrUnwritable, w.bar.Number)
			}
			if n.Start.Less(w.cursor) { // another voice: what is left of this one's place goes first
				w.before(w.cursor)
			}
			w.before(n.Start)
			w.moveTo(n.Start)
		}
		w.note(n, chord)
		if !chord && !n.Grace {
			w.cursor = n.End()
		}
		if reached.Less(n.End()) {
			reached = n.End()
		}
	}
	w.before(w.bar.End())
	for _, it := range w.items {
		w.put(it)
	}
	w.items = nil
	if reached.Less(w.bar.End()) {
		w.moveTo(w.bar.End())
	}
	return nil
}

// before writes all that stands at or before a moment.
func (w *barWriter) before(at music.Beats) {
	for len(w.items) > 0 && !at.Less(w.items[0].at) {
		w.put(w.items[0])
		w.items = w.items[1:]
	}
}

func (w *barWriter) put(it item) {
	if it.fixed {
		w.moveTo(it.at)
	}
	it.write()
}

func (w *barWriter) moveTo(at music.Beats) {
	switch d := at.Sub(w.cursor); d.Cmp(music.Beats{}) {
	case 1:
		w.o.begin("forward")
		w.o.leaf("duration", w.count(d))
		w.o.end()
	case -1:
		w.o.begin("backup")
		w.o.leaf("duration", w.count(music.Beats{}.Sub(d)))
		w.o.end()
	}
	w.cursor = at
}

// offset is what a direction needs where it does not stand at the cursor.
func (w *barWriter) offset(at music.Beats) {
	if d := at.Sub(w.cursor); !d.IsZero() {
		w.o.leaf("offset", w.count(d))
	}
}

func (w *barWriter) leftBarline() {
	b := w.bar
	if !b.RepeatStart && len(b.Ending) == 0 && b.LeftStyle == "" {
		return
	}
	w.o.begin("barline", "location", "left")
	style := b.LeftStyle
	if style == "" && b.RepeatStart {
		style = "heavy-light"
	}
	w.o.some("bar-style", barStyle(style))
	if len(b.Ending) > 0 {
		w.o.leaf("ending", b.EndingText, "number", endingText(b.Ending), "type", "start")
	}
	if b.RepeatStart {
		w.o.empty("repeat", "direction", "forward")
	}
	w.o.end()
}

func (w *barWriter) rightBarline() {
	b := w.bar
	if b.RepeatEnd == 0 && b.EndingStop == "" && b.RightStyle == "" {
		return
	}
	w.o.begin("barline", "location", "right")
	style := b.RightStyle
	if style == "" && b.RepeatEnd > 0 {
		style = "light-heavy"
	}
	w.o.some("bar-style", barStyle(style))
	if stop := oneOf(b.EndingStop, "stop", "discontinue"); stop != "" {
		w.o.empty("ending", "number", endingText(w.openEnding()), "type", stop)
	}
	if b.RepeatEnd > 0 {
		times := ""
		if b.RepeatEnd > 2 {
			times = strconv.Itoa(b.RepeatEnd)
		}
		w.o.empty("repeat", "direction", "backward", "times", times, "after-jump", yes(b.AfterJump))
	}
	w.o.end()
}

// openEnding gives the numbers of the ending that this bar closes.
func (w *barWriter) openEnding() []int {
	for i := w.index; i >= 0; i-- {
		if len(w.s.Bars[i].Ending) > 0 {
			return w.s.Bars[i].Ending
		}
		if i < w.index && w.s.Bars[i].EndingStop != "" {
			break
		}
	}
	return []int{1}
}

func endingText(numbers []int) string {
	var out []string
	for _, n := range numbers {
		if n > 0 {
			out = append(out, strconv.Itoa(n))
		}
	}
	return or(strings.Join(out, ", "), "1")
}

// attributes collects the changes of the bar by place, since one element holds all of one place.
func (w *barWriter) attributes(list []*music.Attributes, first bool) {
	places := map[music.Beats][]*music.Attributes{}
	if first {
		places[w.bar.Start] = nil
	}
	for _, a := range list {
		places[a.At] = append(places[a.At], a)
	}
	for at, all := range places {
		divisions := first && at.Cmp(w.bar.Start) == 0
		w.items = append(w.items, item{at: at, rank: 0, fixed: true, write: func() { w.attributesAt(all, divisions) }})
	}
}

func (w *barWriter) attributesAt(all []*music.Attributes, first bool) {
	o := w.o
	staves := w.s.Parts[w.part].Staves
	number := func(a *music.Attributes) string { return positive(a.Staff) }
	o.begin("attributes")
	if first {
		o.leaf("divisions", strconv.FormatInt(w.divisions, 10))
	}
	for _, a := range all {
		if a.Key != nil {
			o.begin("key", "number", number(a))
			o.number("fifths", a.Key.Fifths)
			o.some("mode", a.Key.Mode)
			o.end()
		}
	}
	for _, a := range all {
		if a.Time != nil {
			w.time(a.Time, number(a))
		}
	}
	if first && staves > 1 {
		o.number("staves", staves)
	}
	for _, a := range all {
		if a.Clef != nil {
			w.clef(a.Clef, number(a))
		}
	}
	for _, a := range all {
		if a.Lines > 0 || len(a.Tuning) > 0 || a.Capo > 0 {
			w.staffDetails(a, number(a))
		}
	}
	for _, a := range all {
		if t := a.Transpose; t != nil {
			o.begin("transpose", "number", number(a))
			o.number("diatonic", t.Diatonic)
			o.number("chromatic", t.Chromatic)
			if t.Octave != 0 {
				o.number("octave-change", t.Octave)
			}
			if t.Double {
				o.empty("double")
			}
			o.end()
		}
	}
	o.end()
}

func (w *barWriter) time(t *music.Time, number string) {
	o := w.o
	o.begin("time", "number", number, "symbol", oneOf(t.Symbol, "common", "cut"))
	if t.Senza || len(t.Parts) == 0 {
		o.empty("senza-misura")
	}
	for _, p := range t.Parts {
		if t.Senza {
			break
		}
		var beats []string
		for _, b := range p.Beats {
			beats = append(beats, strconv.Itoa(b))
		}
		o.leaf("beats", strings.Join(beats, "+"))
		o.number("beat-type", p.Unit)
	}
	o.end()
}

func (w *barWriter) clef(c *music.Clef, number string) {
	o := w.o
	o.begin("clef", "number", number)
	o.leaf("sign", or(oneOf(c.Sign, "G", "F", "C", "percussion", "TAB", "jianpu", "none"), "none"))
	if c.Line > 0 {
		o.number("line", c.Line)
	}
	if c.Octave != 0 {
		o.number("clef-octave-change", c.Octave)
	}
	o.end()
}

func (w *barWriter) staffDetails(a *music.Attributes, number string) {
	o := w.o
	o.begin("staff-details", "number", number)
	if a.Lines > 0 {
		o.number("staff-lines", a.Lines)
	}
	for i, p := range a.Tuning {
		o.begin("staff-tuning", "line", strconv.Itoa(i+1))
		o.leaf("tuning-step", string(p.Step))
		if p.Alter != 0 {
			o.number("tuning-alter", p.Alter)
		}
		o.number("tuning-octave", p.Octave)
		o.end()
	}
	if a.Capo > 0 {
		o.number("capo", a.Capo)
	}
	o.end()
}
