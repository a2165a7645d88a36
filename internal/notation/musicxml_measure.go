package notation

import (
	"encoding/xml"
	"fmt"
	"math"
	"math/big"
	"strings"

	"antiphon/internal/music"
)

// measure is one bar of one part while it is being read.
type measure struct {
	r       *xmlScore
	part    *music.Part
	st      *partState
	bar     int
	cursor  music.Beats // from the start of the bar
	reached music.Beats // the farthest cursor
	chordAt music.Beats // where the last note that was not in a chord began
	noted   bool        // there was one
	first   int         // index of the bar's first note in part.Notes
}

// measure reads one bar of one part, up to its end tag.
func (r *xmlScore) measure(part, bar int) error {
	m := &measure{r: r, part: &r.s.Parts[part], st: &r.read[part], bar: bar, first: len(r.s.Parts[part].Notes)}
	m.st.bars = bar + 1
	err := r.x.children(func(e xml.StartElement) error {
		switch e.Name.Local {
		case "note", "backup", "forward", "attributes", "direction", "barline", "sound", "harmony":
		default: // print, figured-bass, listening, grouping, link, bookmark: layout and links, not music
			_, err := r.x.tree(e)
			return err
		}
		n, err := r.x.tree(e)
		if err != nil {
			return err
		}
		return m.child(n)
	})
	if err != nil {
		return err
	}
	if m.st.simile > 0 {
		m.st.similes[bar] = m.st.simile
	}
	if r.times[bar].Less(m.reached) {
		r.times[bar] = m.reached
	}
	return nil
}

func (m *measure) child(n *node) error {
	switch n.name {
	case "note":
		return m.note(n)
	case "backup":
		d, err := m.duration(n)
		if err != nil {
			return err
		}
		m.cursor = m.cursor.Sub(d)
		if m.cursor.Less(music.Beats{}) {
			m.forgive(n, "a backup goes to before the bar; it was stopped at the bar's start")
			m.cursor = music.Beats{}
		}
	case "forward":
		d, err := m.duration(n)
		if err != nil {
			return err
		}
		return m.advance(n, d)
	case "attributes":
		m.attributes(n)
	case "direction":
		m.direction(n)
	case "harmony":
		m.harmony(n)
	case "sound":
		m.sound(n, m.cursor, false)
	case "barline":
		m.barline(n)
	}
	return nil
}

func (m *measure) number() string { return m.r.s.Bars[m.bar].Number }

func (m *measure) forgive(n *node, what string) { m.r.p.add(n.line, m.number(), what) }

func (m *measure) wrong(n *node, say string) error { return illFormed(n.line, m.number(), say, nil) }

func (m *measure) advance(n *node, d music.Beats) error {
	m.cursor = m.cursor.Add(d)
	if m.reached.Less(m.cursor) {
		m.reached = m.cursor
	}
	if m.reached.Q() > maxDurationQ {
		return m.wrong(n, fmt.Sprintf("the bar lasts longer than %d quarter notes", maxDurationQ))
	}
	return nil
}

// duration reads the <duration> of a note, backup or forward.
func (m *measure) duration(n *node) (music.Beats, error) {
	k := n.kid("duration")
	if k == nil {
		m.forgive(n, "a <"+n.name+"> has no duration")
		return music.Beats{}, nil
	}
	num, den, ok := decimal(k.text)
	switch {
	case !ok:
		return music.Beats{}, m.wrong(k, fmt.Sprintf("%q is no duration", printable(clip(k.text, 40))))
	case num < 0:
		m.forgive(k, "a duration is negative; it was taken as 0")
		return music.Beats{}, nil
	case num/den > int64(maxDurationQ)*maxDivisions:
		return music.Beats{}, m.wrong(k, "a duration is impossibly long")
	}
	return m.beats(k, num, den)
}

// beats turns num/den divisions into quarters, keeping all times of the score on one grid.
func (m *measure) beats(n *node, num, den int64) (music.Beats, error) {
	if num < maxGrid && num > -maxGrid && den < 1000 && m.st.divDen < 1000 { // nearly always
		if q := music.Quarters(num*m.st.divDen, den*m.st.divNum); q.Q() <= maxDurationQ && q.Q() >= -maxDurationQ {
			if _, d := q.Fraction(); m.r.grid.n > 0 && m.r.grid.n%d == 0 {
				return q, nil
			}
		}
	}
	q := new(big.Rat).SetFrac64(num, den)
	q.Mul(q, new(big.Rat).SetFrac64(m.st.divDen, m.st.divNum))
	f, _ := q.Float64()
	switch {
	case f > maxDurationQ || f < -maxDurationQ:
		return music.Beats{}, m.wrong(n, fmt.Sprintf("a duration is longer than %d quarter notes", maxDurationQ))
	case !q.Num().IsInt64() || !q.Denom().IsInt64() || q.Denom().Int64() > maxGrid:
		m.forgive(n, "durations are too finely divided; they were rounded")
		return m.r.exact(music.Quarters(int64(math.Round(f*fallbackGrid)), fallbackGrid)), nil
	}
	return m.r.exact(music.Quarters(q.Num().Int64(), q.Denom().Int64())), nil
}

// exact keeps a time on the score's grid.
func (r *xmlScore) exact(b music.Beats) music.Beats {
	b, rounded := r.grid.fit(b)
	if rounded {
		r.p.add(r.x.line(), r.x.bar, "durations are too finely divided; they were rounded")
	}
	return b
}

// decimal reads a decimal number of at most fifteen digits, six of them after the point.
func decimal(s string) (num, den int64, ok bool) {
	s = strings.TrimPrefix(strings.TrimSpace(s), "+")
	negative := strings.HasPrefix(s, "-")
	s = strings.TrimPrefix(s, "-")
	before, after, _ := strings.Cut(s, ".")
	if before+after == "" {
		return 0, 1, false
	}
	if len(after) > 6 {
		after = after[:6]
	}
	if after = strings.TrimRight(after, "0"); len(strings.TrimLeft(before, "0"))+len(after) > 15 {
		return 0, 1, false
	}
	den = 1
	for _, c := range before + after {
		if c < '0' || c > '9' {
			return 0, 1, false
		}
		num = num*10 + int64(c-'0')
	}
	for range after {
		den *= 10
	}
	if negative {
		num = -num
	}
	return num, den, true
}

func (m *measure) barline(n *node) {
	b := &m.r.s.Bars[m.bar]
	left := n.get("location") == "left"
	if n.get("location") == "middle" {
		return
	}
	if style := n.at("bar-style"); style != "" && style != "regular" {
		if left {
			b.LeftStyle = barStyle(style)
		} else {
			b.RightStyle = barStyle(style)
		}
	}
	if rep := n.kid("repeat"); rep != nil {
		if rep.get("direction") == "forward" {
			b.RepeatStart = true
		} else {
			b.RepeatEnd = min(max(wholeOr(rep.get("times"), maxSmallNumber, 2), 2), 64)
			b.AfterJump = rep.get("after-jump") == "yes"
		}
	}
	if e := n.kid("ending"); e != nil {
		switch e.get("type") {
		case "start":
			b.Ending = endingNumbers(e.get("number"))
			b.EndingText = oneLine(e.text)
		case "stop", "discontinue":
			b.EndingStop = e.get("type")
		}
	}
	if n.has("segno") && b.Segno == "" {
		b.Segno = or(clip(n.get("segno"), maxVoiceName), "segno")
	}
	if n.has("coda") && b.Coda == "" {
		b.Coda = or(clip(n.get("coda"), maxVoiceName), "coda")
	}
}

// endingNumbers reads "1", "1,2", "1, 2" and, as some writers have it, "1-3" and "1.". What is no
// number at all counts as a first ending.
func endingNumbers(s string) []int {
	var out []int
	for _, f := range strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ' ' || r == '.' || r == ';' }) {
		from, to, isRange := strings.Cut(f, "-")
		a, ok := whole(from, 64)
		if !ok || a < 1 {
			continue
		}
		b := a
		if isRange {
			b = wholeOr(to, 64, a)
		}
		for ; a <= b && len(out) < 64; a++ {
			out = append(out, a)
		}
	}
	if out == nil {
		out = []int{1}
	}
	return out
}

// barStyle keeps the styles that the standard knows.
func barStyle(s string) string {
	switch s {
	case "dotted", "dashed", "heavy", "light-light", "light-heavy", "heavy-light", "heavy-heavy", "tick", "short", "none":
		return s
	}
	return ""
}

func or(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}
