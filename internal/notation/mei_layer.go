package notation

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"antiphon/internal/music"
)

// voiceEvent is a note, chord, rest or gap of one voice.
type voiceEvent struct {
	at, length music.Beats
	notes      []int // indices into Part.Notes; nil for a gap
	typ        string
	dots       int
	ratio      music.Ratio
	grace      bool
	tied       string // suffix of the ids of a piece of a longer note; "" the first one
	next       string // that of the piece that this one is tied to; "" none
}

// layers writes the voices of one staff in one bar.
func (m *meiWriter) layers(st *meiStaff, bar int) {
	p := &m.s.Parts[st.part]
	written := 0
	for v, voice := range st.voices {
		var mine []int
		for _, j := range st.bars[bar] {
			if p.Notes[j].Voice == voice {
				mine = append(mine, j)
			}
		}
		if len(mine) == 0 {
			continue
		}
		for k, events := range m.lanes(p, m.rough[st.part], bar, mine) {
			m.begin("layer", "n", strconv.Itoa(v+1+k*len(st.voices)))
			m.layer(st, bar, events)
			m.end()
			written++
		}
	}
	if written == 0 {
		m.begin("layer", "n", "1")
		if st.tab {
			m.empty("mSpace")
		} else {
			m.empty("mRest")
		}
		m.end()
	}
}

// lanes sorts the notes of one voice into chords, and into as many layers as are needed so that none
// begins before the one before it is over.
func (m *meiWriter) lanes(p *music.Part, rough bool, bar int, notes []int) [][]voiceEvent {
	var chords []voiceEvent
	for _, j := range notes {
		n := &p.Notes[j]
		if rough && !n.Grace {
			e := voiceEvent{notes: []int{j}}
			e.at, e.length = snapped(&m.s.Bars[bar], n)
			k := slices.IndexFunc(chords, func(c voiceEvent) bool {
				return c.at.Cmp(e.at) == 0 && c.length.Cmp(e.length) == 0 && p.Notes[c.notes[0]].Rest == n.Rest
			})
			if k < 0 {
				chords = append(chords, e)
			} else if !n.Rest {
				chords[k].notes = append(chords[k].notes, j)
			}
			continue
		}
		if k := len(chords) - 1; n.Chord && k >= 0 && chords[k].at.Cmp(n.Start) == 0 && chords[k].grace == n.Grace && !p.Notes[chords[k].notes[0]].Rest {
			chords[k].notes = append(chords[k].notes, j)
			continue
		}
		e := voiceEvent{at: n.Start, length: n.Duration, notes: []int{j}, typ: n.Type, dots: n.Dots, ratio: n.Ratio, grace: n.Grace}
		if shown, ok := shownLength(n); n.Grace {
			e.length = music.Beats{}
			if e.typ == "" {
				e.typ = "eighth"
			}
		} else if !ok || shown.Cmp(n.Duration) != 0 {
			e.typ = "" // it is written as long as it lasts
		}
		chords = append(chords, e)
	}
	slices.SortStableFunc(chords, func(a, b voiceEvent) int {
		if c := a.at.Cmp(b.at); c != 0 {
			return c
		}
		return cmp.Compare(b2i(!a.grace), b2i(!b.grace))
	})
	start, end := m.s.Bars[bar].Start, m.s.Bars[bar].End()
	var lanes [][]voiceEvent
	var reached []music.Beats
	for _, e := range chords {
		k := 0
		for k < len(lanes) && e.at.Less(reached[k]) {
			k++
		}
		if k == mostLanes {
			m.fault = fmt.Errorf("%w: in bar %s more than %d notes of one voice overlap", ErrUnwritable, m.s.Bars[bar].Number, mostLanes)
			break
		}
		if k == len(lanes) {
			lanes, reached = append(lanes, nil), append(reached, start)
		}
		lanes[k] = append(lanes[k], gap(reached[k], e.at)...)
		lanes[k] = append(lanes[k], plainly(e)...)
		reached[k] = e.at.Add(e.length)
	}
	for k := range lanes {
		lanes[k] = append(lanes[k], gap(reached[k], end)...)
	}
	return lanes
}

// mostLanes of one voice: a guitar has six strings, a keyboard ten fingers.
const mostLanes = 24

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// gap fills the time from a to b with nothing visible.
func gap(a, b music.Beats) (out []voiceEvent) {
	if !a.Less(b) {
		return nil
	}
	return plainly(voiceEvent{at: a, length: b.Sub(a)})
}

// plainly gives an event whose length is no plain note as several: tied notes, or rests in a row.
func plainly(e voiceEvent) (out []voiceEvent) {
	if e.typ != "" || e.grace {
		return []voiceEvent{e}
	}
	if name, dots, ok := noteOf(e.length); ok && dots <= 2 {
		e.typ, e.dots, e.ratio = name, dots, music.Ratio{}
		return []voiceEvent{e}
	}
	for _, r := range []music.Ratio{{Actual: 3, Normal: 2}, {Actual: 5, Normal: 4}, {Actual: 7, Normal: 4}} {
		if name, dots, ok := noteOf(e.length.Mul(int64(r.Actual), int64(r.Normal))); ok && dots == 0 {
			e.typ, e.ratio = name, r
			return []voiceEvent{e}
		}
	}
	const mostPieces = 12
	for rest, n := e.length, 0; !rest.IsZero() && n < mostPieces; n++ {
		piece := e
		piece.ratio, piece.dots, piece.typ, piece.length = music.Ratio{}, 0, "256th", rest
		for i := len(noteLengths) - 1; i >= 0; i-- {
			if l := music.Quarters(noteLengths[i].n, 256); !rest.Less(l) {
				piece.typ, piece.length = noteLengths[i].name, l
				break
			}
		}
		if n > 0 {
			piece.tied = "s" + strconv.Itoa(n)
		}
		if n > 0 {
			out[n-1].next = piece.tied
		}
		out = append(out, piece)
		e.at, rest = e.at.Add(piece.length), rest.Sub(piece.length)
		if rest.Less(music.Quarters(1, 256)) {
			break
		}
	}
	return out
}

// group is a beam or a tuplet over events from..to.
type group struct {
	from, to int
	beam     bool
	num, den int
	hidden   bool // of a tuplet: no number is drawn
	bracket  string
	placed   string
}

func (m *meiWriter) layer(st *meiStaff, bar int, events []voiceEvent) {
	p := &m.s.Parts[st.part]
	if len(events) == 1 && len(events[0].notes) == 1 && p.Notes[events[0].notes[0]].Rest && !st.tab {
		n := &p.Notes[events[0].notes[0]]
		if n.WholeBar || (n.Type == "whole" && n.Duration.Cmp(m.s.Bars[bar].Length) == 0) || n.Type == "" {
			name := "mRest"
			if n.Hidden {
				name = "mSpace"
			}
			m.empty(name, "xml:id", m.restID(st, events[0].notes[0]))
			m.markEvents(st, bar, &events[0])
			return
		}
	}
	groups := tupletGroups(p, events)
	if !st.tab {
		groups = withBeams(groups, m.beamGroups(st, bar, events))
	}
	slices.SortStableFunc(groups, func(a, b group) int { return cmp.Or(a.from-b.from, b.to-a.to, b2i(a.beam)-b2i(b.beam)) })
	m.tree(st, bar, events, groups, 0, len(events)-1)
}

// tree writes events from..to with the groups around them; groups are nested.
func (m *meiWriter) tree(st *meiStaff, bar int, events []voiceEvent, groups []group, from, to int) {
	for i := from; i <= to; {
		g := slices.IndexFunc(groups, func(g group) bool { return g.from == i && g.to <= to })
		if g < 0 {
			m.event(st, bar, &events[i])
			i++
			continue
		}
		own := groups[g]
		inside := append(slices.Clone(groups[:g]), groups[g+1:]...)
		inside = slices.DeleteFunc(inside, func(x group) bool { return x.from < own.from || x.to > own.to })
		if own.beam {
			m.begin("beam")
		} else {
			visible := "true"
			if own.hidden || st.tab {
				visible = "false"
			}
			bracket := ""
			switch {
			case st.tab || own.bracket == "no" || own.hidden:
				bracket = "false"
			case own.bracket == "yes":
				bracket = "true"
			}
			m.begin("tuplet", "num", strconv.Itoa(own.num), "numbase", strconv.Itoa(own.den), "num.visible", visible, "bracket.visible", bracket, "num.place", own.placed, "bracket.place", own.placed)
		}
		m.tree(st, bar, events, inside, own.from, own.to)
		m.end()
		i = own.to + 1
	}
}

// tupletGroups finds runs of notes in one ratio: as marked, and where nothing is marked as many as
// make up a whole number of the notes that they stand for.
func tupletGroups(p *music.Part, events []voiceEvent) (out []group) {
	for i := 0; i < len(events); {
		r := events[i].ratio
		if r.Actual <= 0 || r.Actual == r.Normal || events[i].grace {
			i++
			continue
		}
		g := group{from: i, to: i, num: r.Actual, den: r.Normal}
		sum := music.Beats{}
		for j := i; j < len(events) && (events[j].grace || events[j].ratio.Actual == r.Actual && events[j].ratio.Normal == r.Normal); j++ {
			g.to = j
			sum = sum.Add(events[j].length)
			marks := tupletMarks(p, &events[j])
			stop := slices.ContainsFunc(marks, func(t music.TupletMark) bool { return !t.Start })
			for _, t := range marks {
				if t.Start && j == i {
					g.bracket, g.placed, g.hidden = t.Bracket, t.Placed, t.ShowNumber == "none"
				}
			}
			unit, ok := typeLength(or(r.Type, smallest(events[i:j+1])))
			whole := ok && wholeMultiple(sum, unit.Mul(int64(r.Normal), 1))
			if stop || (whole && !anyTuplets(p, events)) {
				break
			}
		}
		out = append(out, g)
		i = g.to + 1
	}
	return out
}

func smallest(events []voiceEvent) string {
	name, length := "", music.Beats{}
	for i := range events {
		if l, ok := typeLength(events[i].typ); ok && (name == "" || l.Less(length)) {
			name, length = events[i].typ, l
		}
	}
	return name
}

func wholeMultiple(b, unit music.Beats) bool {
	num, den := unit.Fraction()
	if num == 0 {
		return false
	}
	_, d := b.Mul(den, num).Fraction()
	return d == 1
}

func tupletMarks(p *music.Part, e *voiceEvent) []music.TupletMark {
	if len(e.notes) == 0 {
		return nil
	}
	return p.Notes[e.notes[0]].Tuplets
}

func anyTuplets(p *music.Part, events []voiceEvent) bool {
	return slices.ContainsFunc(events, func(e voiceEvent) bool { return len(tupletMarks(p, &e)) > 0 })
}

// withBeams adds beams to tuplets; one that would cross the edge of a tuplet is cut there.
func withBeams(tuplets, beams []group) []group {
	out := slices.Clone(tuplets)
	for _, b := range beams {
		pieces := []group{b}
		for _, t := range tuplets {
			var cut []group
			for _, x := range pieces {
				switch {
				case x.to < t.from || x.from > t.to, x.from >= t.from && x.to <= t.to, x.from <= t.from && x.to >= t.to:
					cut = append(cut, x)
				case x.from < t.from:
					cut = append(cut, group{from: x.from, to: t.from - 1, beam: true}, group{from: t.from, to: x.to, beam: true})
				default:
					cut = append(cut, group{from: x.from, to: t.to, beam: true}, group{from: t.to + 1, to: x.to, beam: true})
				}
			}
			pieces = cut
		}
		for _, x := range pieces {
			if x.to > x.from {
				out = append(out, x)
			}
		}
	}
	return out
}

// beamGroups are the beams as written; a part without any is beamed by the beat.
func (m *meiWriter) beamGroups(st *meiStaff, bar int, events []voiceEvent) (out []group) {
	p := &m.s.Parts[st.part]
	if !slices.ContainsFunc(p.Notes, func(n music.Note) bool { return len(n.Beams) > 0 }) {
		return m.beamsByBeat(p, bar, events)
	}
	open := map[bool]int{} // by grace
	for i := range events {
		e := &events[i]
		if len(e.notes) == 0 {
			continue
		}
		for _, b := range p.Notes[e.notes[0]].Beams {
			if b.Number != 1 {
				continue
			}
			switch b.Value {
			case "begin":
				open[e.grace] = i
			case "end":
				if from, ok := open[e.grace]; ok && from < i {
					out = append(out, group{from: from, to: i, beam: true})
				}
				delete(open, e.grace)
			}
		}
	}
	return out
}

func (m *meiWriter) beamsByBeat(p *music.Part, bar int, events []voiceEvent) (out []group) {
	b := &m.s.Bars[bar]
	beat := music.Quarters(1, 1)
	if b.Time.Compound() {
		beat = music.Quarters(12, int64(b.Time.Parts[0].Unit))
	} else if len(b.Time.Parts) == 1 && b.Time.Parts[0].Unit == 8 && b.Time.Length().Cmp(music.Quarters(3, 2)) == 0 {
		beat = b.Time.Length()
	}
	pickup := music.Beats{} // a pickup counts its beats from the bar's end
	if full := b.Time.Length(); b.Length.Less(full) && bar == 0 {
		pickup = full.Sub(b.Length)
	}
	count := func(e *voiceEvent, unit music.Beats) int64 { // of units before e in the bar
		num, den := e.at.Sub(b.Start).Add(pickup).Fraction()
		un, ud := unit.Fraction()
		return num * ud / (den * un)
	}
	// Eighths alone are beamed by the half bar in 4/4, by the bar in 2/4 and 3/4. Common practice, no source.
	half := music.Quarters(2, 1)
	if b.Time.Length().Cmp(music.Quarters(3, 1)) == 0 {
		half = music.Quarters(3, 1)
	}
	halves := len(b.Time.Parts) == 1 && b.Time.Parts[0].Unit == 4 && wholeMultiple(b.Time.Length(), half)
	mixed := map[int64]bool{}
	for i := range events {
		if e := &events[i]; !e.grace && e.typ != "eighth" && e.typ != "quarter" && e.typ != "half" && e.typ != "whole" || e.dots > 0 || e.ratio.Actual > 0 {
			mixed[count(e, half)] = true
		}
	}
	beatOf := func(e *voiceEvent) int64 {
		if h := count(e, half); halves && !mixed[h] {
			return -1 - h
		}
		return count(e, beat)
	}
	short := func(e *voiceEvent) bool {
		l, ok := typeLength(e.typ)
		return ok && l.Less(music.Quarters(1, 1)) && len(e.notes) > 0 && !p.Notes[e.notes[0]].Rest && !e.grace
	}
	for i := 0; i < len(events); i++ {
		if !short(&events[i]) {
			continue
		}
		j := i
		for j+1 < len(events) && short(&events[j+1]) && beatOf(&events[j+1]) == beatOf(&events[i]) {
			j++
		}
		if j > i {
			out = append(out, group{from: i, to: j, beam: true})
		}
		i = j
	}
	return out
}
