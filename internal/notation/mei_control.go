package notation

import (
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/music"
)

// meiEvent is an element that stands beside the staves of a bar and points at notes or times.
type meiEvent struct {
	name, text string
	attrs      []string
	from       string   // note at which a tie begins: at its last piece
	rend       []string // attributes of the text's own form
}

func (e *meiEvent) write(m *meiWriter) {
	if len(e.rend) > 0 {
		m.begin(e.name, e.attrs...)
		m.leaf("rend", e.text, e.rend...)
		m.end()
		return
	}
	if e.from != "" {
		e.attrs = append(e.attrs, "startid", "#"+e.from+m.pieces[e.from])
	}
	m.leaf(e.name, e.text, e.attrs...)
}

func (m *meiWriter) add(bar int, name, text string, attrs ...string) {
	m.events[bar] = append(m.events[bar], meiEvent{name: name, text: text, attrs: attrs})
}

// markEvents adds what belongs to one note or chord: ties, fermatas, ornaments, rolled chords, dynamics.
func (m *meiWriter) markEvents(st *meiStaff, bar int, e *voiceEvent) {
	p := &m.s.Parts[st.part]
	staff := strconv.Itoa(st.n)
	for _, j := range e.notes {
		n := &p.Notes[j]
		at := "#" + m.noteID(st, j)
		if n.Rest {
			if n.Hidden {
				continue // nothing is drawn that a sign could point at
			}
			at = "#" + m.restID(st, j)
		}
		if n.LetRing {
			m.add(bar, "lv", "", "startid", at)
		}
		for _, k := range n.Marks {
			switch k.Kind {
			case "fermata":
				form, place := "norm", or(k.Placed, "above")
				if k.Text == "inverted" {
					form, place = "inv", "below"
				}
				m.add(bar, "fermata", "", "startid", at, "staff", staff, "form", form, "place", place)
			case "trill-mark":
				m.add(bar, "trill", "", "startid", at, "staff", staff, "place", k.Placed)
			case "mordent", "inverted-mordent":
				form := "lower"
				if k.Kind == "inverted-mordent" {
					form = "upper"
				}
				m.add(bar, "mordent", "", "startid", at, "staff", staff, "form", form, "place", k.Placed)
			case "turn", "inverted-turn":
				form := "upper"
				if k.Kind == "inverted-turn" {
					form = "lower"
				}
				m.add(bar, "turn", "", "startid", at, "staff", staff, "form", form, "place", k.Placed)
			case "breath-mark":
				m.add(bar, "breath", "", "startid", at, "staff", staff)
			case "caesura":
				m.add(bar, "caesura", "", "startid", at, "staff", staff)
			}
		}
		for _, d := range n.Dynamics {
			m.add(bar, "dynam", d, "startid", at, "staff", staff, "place", "below")
		}
		if !m.opts.Bare {
			m.fingers(bar, staff, at, n)
		}
	}
}

// fingers adds the marks of both hands.
func (m *meiWriter) fingers(bar int, staff, at string, n *music.Note) {
	fing := func(text, place string, rend ...string) {
		m.events[bar] = append(m.events[bar], meiEvent{name: "fing", text: text, rend: rend,
			attrs: []string{"startid", at, "staff", staff, "place", or(place, "above")}})
	}
	for _, f := range n.Fingers {
		fing(f.Text, f.Placed)
	}
	for _, p := range n.Plucks {
		fing(p, "", "fontstyle", "italic")
	}
	if n.String > 0 {
		fing(strconv.Itoa(n.String), "", "rend", "circle")
	}
	if s := n.Stroke(); s != music.NoStroke {
		m.add(bar, "dir", string(s), "startid", at, "staff", staff, "place", "above", "type", "stroke")
	}
}

// collectEvents finds what leads from one place to another, and what stands at a time.
func (m *meiWriter) collectEvents() {
	for _, refs := range m.s.Written() {
		for k := 0; k+1 < len(refs); k++ {
			n := &m.s.Parts[refs[k].Part].Notes[refs[k].Note]
			if !m.inPassage(m.s.Parts[refs[k+1].Part].Notes[refs[k+1].Note].Bar) {
				continue
			}
			m.events[n.Bar] = append(m.events[n.Bar], meiEvent{name: "tie", from: m.ids[refs[k]], attrs: []string{"endid", "#" + m.ids[refs[k+1]]}})
		}
	}
	for i := range m.s.Parts {
		st := m.firstStaff(i)
		m.lines(i)
		m.arpeggios(i)
		m.directions(i, st)
	}
	if st := m.firstStaff(0); st != nil {
		m.barSigns(st)
	}
	if !m.opts.Bare {
		m.tempos()
	}
}

func (m *meiWriter) firstStaff(part int) *meiStaff {
	for _, st := range m.staves {
		if st.part == part && !st.tab {
			return st
		}
	}
	return nil
}

func (m *meiWriter) staffOf(part, staff int) string {
	for _, st := range m.staves {
		if st.part == part && !st.tab && st.staff == max(staff, 1) {
			return strconv.Itoa(st.n)
		}
	}
	return strconv.Itoa(m.firstStaff(part).n)
}

// inPassage reports whether a bar is written at all.
func (m *meiWriter) inPassage(bar int) bool { return bar >= m.opts.From && bar < m.opts.Until }

// drawn reports whether a note is on the page: on a staff that is drawn.
func (m *meiWriter) drawn(part int, n *music.Note) bool {
	for _, st := range m.staves {
		if st.part == part && !st.tab && (st.staff == n.Staff || n.Staff < 1) {
			return m.inPassage(n.Bar)
		}
	}
	return false
}

// lines pairs the starts and stops of slurs and slides. A slur that a hammer-on doubles is drawn once.
func (m *meiWriter) lines(part int) {
	p := &m.s.Parts[part]
	st := &meiStaff{part: part}
	order := make([]int, 0, len(p.Notes))
	for j := range p.Notes {
		if len(p.Notes[j].Spans) > 0 && m.drawn(part, &p.Notes[j]) {
			order = append(order, j)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return p.Notes[a].Start.Cmp(p.Notes[b].Start) })
	type key struct {
		kind   string
		number int
	}
	type begun struct {
		note int
		span music.Span
	}
	open := map[key]begun{}
	type pair struct {
		from, to string
		gliss    bool
	}
	done := map[pair]bool{}
	head := func(j int) string { // slurs join chords, whichever of their notes the file names
		for j > 0 && p.Notes[j].Chord {
			j--
		}
		return m.noteID(st, j)
	}
	for _, j := range order {
		for _, role := range []string{"stop", "start"} {
			for _, sp := range p.Notes[j].Spans {
				if sp.Role != role || sp.Kind == "wavy-line" {
					continue
				}
				k := key{sp.Kind, sp.Number}
				if role == "start" {
					open[k] = begun{j, sp}
					continue
				}
				from, ok := open[k]
				if delete(open, k); !ok {
					continue
				}
				gliss := sp.Kind == "slide" || sp.Kind == "glissando"
				ends := pair{head(from.note), head(j), gliss}
				if done[ends] {
					continue
				}
				done[ends] = true
				a, b := &p.Notes[from.note], "#"+m.noteID(st, j)
				if gliss {
					m.add(a.Bar, "gliss", "", "startid", "#"+m.noteID(st, from.note), "endid", b, "lform", or(oneOf(from.span.Line, "dashed", "dotted", "wavy"), "solid"))
					continue
				}
				m.add(a.Bar, "slur", "", "startid", "#"+m.noteID(st, from.note), "endid", b, "curvedir", from.span.Placed, "lform", oneOf(from.span.Line, "dashed", "dotted"))
			}
		}
	}
}

// arpeggios joins the notes that are rolled at one moment, over all voices of the part.
func (m *meiWriter) arpeggios(part int) {
	p := &m.s.Parts[part]
	st := &meiStaff{part: part}
	type key struct {
		at     music.Beats
		number int
		kind   string
	}
	ids := map[key][]string{}
	form := map[key]string{}
	bar := map[key]int{}
	var keys []key
	for j := range p.Notes {
		n := &p.Notes[j]
		if n.Arpeggio.Kind == "" || !m.drawn(part, n) {
			continue
		}
		k := key{n.Start, n.Arpeggio.Number, n.Arpeggio.Kind}
		if ids[k] == nil {
			keys = append(keys, k)
			bar[k] = n.Bar
		}
		ids[k] = append(ids[k], "#"+m.noteID(st, j))
		form[k] = or(form[k], n.Arpeggio.Form)
	}
	for _, k := range keys {
		order := oneOf(form[k], "up", "down")
		arrow := ""
		if order != "" {
			arrow = "true"
		}
		if k.kind == "non-arpeggiate" {
			order, arrow = "nonarp", ""
		}
		m.add(bar[k], "arpeg", "", "plist", strings.Join(ids[k], " "), "order", order, "arrow", arrow)
	}
}

func (m *meiWriter) directions(part int, st *meiStaff) {
	p := &m.s.Parts[part]
	if st == nil {
		return
	}
	for i := range p.Directions {
		d := &p.Directions[i]
		if !m.inPassage(d.Bar) {
			continue
		}
		place := []string{"staff", m.staffOf(part, d.Staff), "tstamp", m.tstamp(d.Bar, d.At)}
		switch d.Kind {
		case music.Dynamic:
			m.add(d.Bar, "dynam", d.Text, append(place, "place", or(d.Placed, "below"))...)
		case music.Wedge:
			if end := m.stop(part, i); end != nil && d.Text != "stop" && d.Text != "continue" {
				form := map[string]string{"crescendo": "cres", "diminuendo": "dim"}[d.Text]
				m.add(d.Bar, "hairpin", "", append(place, "place", or(d.Placed, "below"), "form", form, "tstamp2", m.tstamp2(d.Bar, end), "niente", yesTrue(d.Niente))...)
			}
		case music.SegnoSign, music.CodaSign:
			m.add(d.Bar, "repeatMark", "", append(place, "place", "above", "func", string(d.Kind))...)
		case music.OctaveShift:
			if end := m.stop(part, i); end != nil && (d.Text == "up" || d.Text == "down") {
				side := map[string]string{"down": "above", "up": "below"}[d.Text]
				m.add(d.Bar, "octave", "", append(place, "dis", strconv.Itoa(d.Size), "dis.place", side, "tstamp2", m.tstamp2(d.Bar, end))...)
			}
		}
		if m.opts.Bare {
			continue
		}
		switch d.Kind {
		case music.Words, music.OtherSign:
			m.add(d.Bar, "dir", d.Text, append(place, "place", or(d.Placed, "above"))...)
		case music.Rehearsal:
			m.add(d.Bar, "reh", d.Text, append(place, "place", "above")...)
		case music.Harmony:
			m.add(d.Bar, "harm", d.Text, append(place, "place", or(d.Placed, "above"))...)
		case music.Bracket, music.Dashes:
			if end := m.stop(part, i); end != nil && d.Text == "start" {
				m.add(d.Bar, "bracketSpan", "", append(place, "tstamp2", m.tstamp2(d.Bar, end), "func", "barre", "lform", oneOf(d.Line, "dashed", "dotted"))...)
			}
		}
	}
}

func yesTrue(b bool) string {
	if b {
		return "true"
	}
	return ""
}

// stop finds where a line that starts with direction i ends.
func (m *meiWriter) stop(part, i int) *music.Direction { return StopOf(&m.s.Parts[part], i) }

// StopOf is the direction that ends the line (wedge, bracket, dashes, octave shift) that direction i of
// the part starts; nil where none does.
func StopOf(p *music.Part, i int) *music.Direction {
	d := &p.Directions[i]
	var best, here *music.Direction
	for j := range p.Directions {
		e := &p.Directions[j]
		if e.Kind != d.Kind || e.Text != "stop" || e.Number != d.Number || e.At.Less(d.At) {
			continue
		}
		switch { // what stops where d starts is the line before it, unless nothing else ends d
		case d.At.Less(e.At) && (best == nil || e.At.Less(best.At)):
			best = e
		case e.At == d.At && j > i && here == nil:
			here = e
		}
	}
	if best == nil {
		return here
	}
	return best
}

// tstamp2 is the end of a line in bars and beats from its start.
func (m *meiWriter) tstamp2(from int, end *music.Direction) string {
	if last := m.opts.Until - 1; end.Bar > last {
		return strconv.Itoa(last-from) + "m+" + m.tstamp(last, m.s.Bars[last].End())
	}
	bar := min(max(end.Bar, from), len(m.s.Bars)-1)
	if bar > from && end.At.Cmp(m.s.Bars[bar].Start) == 0 {
		bar-- // to the barline before it: nothing of it is to be drawn in the bar that only ends it
	}
	return strconv.Itoa(bar-from) + "m+" + m.tstamp(bar, end.At)
}

// barSigns adds the segno and coda of bars whose sign is not among the directions.
func (m *meiWriter) barSigns(st *meiStaff) {
	signs := printedSigns(m.s)
	for i := range m.s.Bars {
		b := &m.s.Bars[i]
		for _, sign := range []struct {
			kind  music.DirectionKind
			label string
		}{{music.SegnoSign, b.Segno}, {music.CodaSign, b.Coda}} {
			if sign.label != "" && !signs[printedSign{i, sign.kind, jumpNone}] {
				m.add(i, "repeatMark", "", "staff", strconv.Itoa(st.n), "tstamp", "1", "place", "above", "func", string(sign.kind))
			}
		}
	}
}

func (m *meiWriter) tempos() {
	for _, t := range m.s.Tempos {
		unit, dots, ok := noteOf(t.Unit)
		bar := m.s.BarAt(t.At)
		if t.Silent || !ok || bar < 0 {
			continue
		}
		number := strconv.FormatFloat(t.Bpm, 'f', -1, 64)
		m.add(bar, "tempo", or(t.Text, number), "staff", "1", "tstamp", m.tstamp(bar, t.At), "place", "above", "midi.bpm", strconv.FormatFloat(t.QuarterBpm(), 'f', -1, 64), "mm", number, "mm.unit", meiDur[unit], "mm.dots", positive(dots))
	}
}
