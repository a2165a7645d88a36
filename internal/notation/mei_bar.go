package notation

import (
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/music"
)

// stretch writes the bars under one bracket, or one bar that has none, and gives the next bar.
func (m *meiWriter) stretch(from int) (next int) {
	b := &m.s.Bars[from]
	m.lineBreak(from)
	if len(b.Ending) == 0 {
		m.bar(from)
		return from + 1
	}
	to := from
	for to+1 < m.opts.Until && m.s.Bars[to].EndingStop == "" && m.s.Bars[to].RepeatEnd == 0 && len(m.s.Bars[to+1].Ending) == 0 {
		to++
	}
	if to > from && m.s.Bars[to].EndingStop == "" && m.s.Bars[to].RepeatEnd == 0 && to == len(m.s.Bars)-1 {
		to = from // a bracket that is never closed: one bar, as the unfolding has it
	}
	numbers := make([]string, len(b.Ending))
	for i, n := range b.Ending {
		numbers[i] = strconv.Itoa(n) + "."
	}
	text := b.EndingText
	if text == "" {
		text = strings.Join(numbers, " ")
	}
	open := ""
	if m.s.Bars[to].EndingStop == "discontinue" {
		open = "none"
	}
	m.begin("ending", "n", strconv.Itoa(b.Ending[0]), "label", text, "lendsym", open)
	for i := from; i <= to; i++ {
		if i > from {
			m.lineBreak(i)
		}
		m.bar(i)
	}
	m.end()
	return to + 1
}

// lineBreak begins a new system before a bar, and before its bracket.
func (m *meiWriter) lineBreak(bar int) {
	if slices.Contains(m.opts.Breaks, bar) {
		m.empty("sb")
	}
}

// bar writes one bar, with the changes of key, time and clef before it.
func (m *meiWriter) bar(i int) {
	b := &m.s.Bars[i]
	if i > m.opts.From {
		m.changes(i)
	}
	attrs := []string{"xml:id", BarID(i), "n", b.Number}
	if b.Implicit || b.Length.Cmp(b.Time.Length()) != 0 {
		attrs = append(attrs, "metcon", "false")
	}
	if b.Implicit {
		attrs[3] = "" // not printed
	}
	left, right := barLine(b.LeftStyle), barLine(b.RightStyle)
	if b.RepeatStart {
		left = "rptstart"
	}
	if b.RepeatEnd > 0 {
		right = "rptend"
	}
	m.begin("measure", append(attrs, "left", left, "right", right)...)
	for _, st := range m.staves {
		m.begin("staff", "n", strconv.Itoa(st.n))
		m.layers(st, i)
		m.end()
	}
	for _, e := range m.events[i] {
		e.write(m)
	}
	m.end()
}

func barLine(style string) string {
	switch style {
	case "light-light":
		return "dbl"
	case "light-heavy", "heavy-heavy":
		return "end"
	case "dotted":
		return "dotted"
	case "dashed":
		return "dashed"
	case "heavy", "heavy-light":
		return "heavy"
	case "none":
		return "invis"
	}
	return ""
}

// changes writes what a bar changes against the bar before it.
func (m *meiWriter) changes(i int) {
	var meter []string
	if now := m.meter(i); now != nil && !slices.Equal(now, m.meter(i-1)) {
		meter = now
	}
	type change struct {
		st   *meiStaff
		key  *music.Key
		clef *music.Clef
	}
	var list []change
	for _, st := range m.staves {
		if st.tab {
			continue
		}
		wasKey, wasClef := m.attributesAt(st, i-1)
		key, clef := m.attributesAt(st, i)
		c := change{st: st}
		if key != nil && (wasKey == nil || wasKey.Fifths != key.Fifths) {
			c.key = key
		}
		if clef != nil && wasClef != nil && *clef != *wasClef {
			c.clef = clef
		}
		if c.key != nil || c.clef != nil {
			list = append(list, c)
		}
	}
	if meter == nil && list == nil {
		return
	}
	m.begin("scoreDef", meter...)
	if list != nil {
		m.begin("staffGrp")
		for _, c := range list {
			attrs := []string{"n", strconv.Itoa(c.st.n)}
			if c.clef != nil {
				attrs = append(attrs, clefAttrs(c.clef)...)
			}
			if c.key != nil {
				attrs = append(attrs, "keysig", keysig(c.key.Fifths))
			}
			m.empty("staffDef", attrs...)
		}
		m.end()
	}
	m.end()
}

// tstamp is a place in a bar in beats of its time signature, the first being 1.
func (m *meiWriter) tstamp(bar int, at music.Beats) string {
	b := &m.s.Bars[bar]
	unit := int64(4)
	if len(b.Time.Parts) > 0 && b.Time.Parts[0].Unit > 0 {
		unit = int64(b.Time.Parts[0].Unit)
	}
	q := at.Sub(b.Start).Mul(unit, 4).Q() + 1
	return strconv.FormatFloat(q, 'f', -1, 32)
}

// accidentalsOf finds the sign before each note of a staff that needs one: what the score states, and
// what the key and the bar so far make necessary where it states none.
func (m *meiWriter) accidentalsOf(st *meiStaff) map[int]string {
	p := &m.s.Parts[st.part]
	out := map[int]string{}
	for bar, notes := range st.bars {
		key, _ := m.attributesAt(st, bar)
		fifths := 0
		if key != nil {
			fifths = key.Fifths
		}
		type line struct {
			step   byte
			octave int
		}
		state := map[line]int{}
		order := slices.Clone(notes)
		slices.SortStableFunc(order, func(a, b int) int { return p.Notes[a].Start.Cmp(p.Notes[b].Start) })
		for _, j := range order {
			n := &p.Notes[j]
			if !n.Pitched() {
				continue
			}
			at := line{n.Pitch.Step, n.Pitch.Octave}
			had, known := state[at]
			if !known {
				had = keyAlter(fifths, n.Pitch.Step)
			}
			switch sign := meiAccid[n.Accidental.Name]; {
			case sign != "":
				out[j] = sign
			case n.Pitch.Alter != had && !n.TieStop:
				out[j] = accidSign(n.Pitch.Alter)
				if out[j] == "" {
					out[j] = "n"
				}
			}
			if !n.TieStop || out[j] != "" {
				state[at] = n.Pitch.Alter
			}
		}
	}
	return out
}

// keyAlter is what a key signature does to a step.
func keyAlter(fifths int, step byte) int {
	place := strings.IndexByte("FCGDAEB", step)
	switch {
	case fifths > place:
		return 1
	case fifths < 0 && 6-place < -fifths:
		return -1
	}
	return 0
}

func accidSign(alter int) string {
	switch {
	case alter >= 2:
		return "x"
	case alter == 1:
		return "s"
	case alter == -1:
		return "f"
	case alter <= -2:
		return "ff"
	}
	return ""
}

func stepName(step byte) string { return strings.ToLower(string(step)) }

// meiAccid are MEI's names of the accidentals.
var meiAccid = map[string]string{
	"sharp": "s", "flat": "f", "natural": "n", "double-sharp": "x", "sharp-sharp": "ss", "flat-flat": "ff",
	"natural-sharp": "ns", "natural-flat": "nf", "quarter-flat": "1qf", "quarter-sharp": "1qs",
	"three-quarters-flat": "3qf", "three-quarters-sharp": "3qs", "triple-sharp": "ts", "triple-flat": "tf",
}
