package engrave

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"unicode"
	"unicode/utf8"

	"antiphon/internal/music"
)

func itoa(n int) string { return strconv.Itoa(n) }

// dynamics moves the library's dynamic marks and hairpins to where there is room, in one row as long
// as they follow each other closely.
func (p *placer) dynamics() {
	for _, above := range []bool{true, false} {
		var list []*mover
		for _, m := range p.sys.movers {
			if m.staff == p.staff && m.above == above && (m.kind == "dynam" || m.kind == "hairpin") {
				list = append(list, m)
			}
		}
		slices.SortStableFunc(list, func(a, b *mover) int { return cmp.Compare(a.box.x0, b.box.x0) })
		list = withoutDoubles(list)
		for i := 0; i < len(list); {
			j := i + 1
			for j < len(list) && list[j].box.x0-list[j-1].box.x1 < 7*space {
				j++
			}
			p.row(list[i:j], above)
			i = j
		}
	}
}

// withoutDoubles hides a mark that two voices share.
func withoutDoubles(list []*mover) []*mover {
	kept := list[:0:0]
	for i, m := range list {
		if i > 0 && m.kind == "dynam" && list[i-1].kind == "dynam" && math.Abs(m.box.x0-list[i-1].box.x0) < space && math.Abs(m.box.width()-list[i-1].box.width()) < 5 {
			m.node.kids = nil
			continue
		}
		kept = append(kept, m)
	}
	return kept
}

// middle is the height that the marks of a row have in common.
func (m *mover) middle() float64 {
	if m.kind == "dynam" {
		for _, k := range m.node.kids {
			if k.name == "use" {
				return transformOf(k.get("transform")).f - 0.33*space
			}
		}
	}
	return m.box.midY()
}

func (p *placer) row(list []*mover, above bool) {
	var y float64
	for i, m := range list {
		free := m.box.grown(0.25*space, 0)
		var want float64
		if above {
			want = p.field.top(free.x0, free.x1, p.ownStaff().top-0.3*space) - 0.35*space - (m.box.y1 - m.middle())
			if i == 0 || want < y {
				y = want
			}
		} else {
			want = p.field.bottom(free.x0, free.x1, p.ownStaff().bottom+0.3*space) + 0.35*space + (m.middle() - m.box.y0)
			if i == 0 || want > y {
				y = want
			}
		}
	}
	for _, m := range list {
		m.dy = y - m.middle()
		b := m.box.moved(0, m.dy)
		if above {
			m.dy += p.field.rise(b, markGap).y0 - b.y0
		} else {
			m.dy += p.field.sink(b, markGap).y0 - b.y0
		}
		p.field.add(obstacle{box: m.box.moved(0, m.dy), kind: m.kind})
	}
}

// lines places what stands at a time and belongs to this staff: chord symbols, positions, barres, words.
func (p *placer) lines() {
	for _, kind := range []signKind{harmonySign, positionSign, barreSign, lineSign, wordsSign} {
		for _, g := range p.signs {
			if g.kind != kind || !p.mine(g) || p.atTop(g) {
				continue
			}
			if g.end != nil {
				p.span(g)
				continue
			}
			if at, ok := p.measure(g.bar); ok {
				p.text(g, p.x(at, g.at))
			}
		}
	}
}

// mine: the sign belongs to this staff.
func (p *placer) mine(g *sign) bool {
	for _, s := range p.spots {
		if s.part == g.part && (g.staff == 0 || s.staff == g.staff) {
			return true
		}
	}
	return len(p.spots) == 0 && p.staff == 0 && g.part == 0
}

// atTop: words that begin like a heading at a tempo mark are part of it, and so are those at the head
// of the piece: "Andante", not "dolce".
func (p *placer) atTop(g *sign) bool {
	if g.kind != wordsSign || !g.above || g.end != nil {
		return false
	}
	first, _ := utf8.DecodeRuneInString(g.text)
	return unicode.IsUpper(first) && len(g.text) > 2 && (g.at.IsZero() || p.hasTempo(g.at))
}

// measure finds a bar of the score in this system.
func (p *placer) measure(bar int) (index int, ok bool) {
	for i := range p.sys.measures {
		if p.sys.measures[i].bar == bar {
			return i, true
		}
	}
	return 0, false
}

// onset is where something begins in a bar.
type onset struct {
	at music.Beats
	x  float64
}

// onsets of a bar in order of time, each with its leftmost head.
func (p *placer) onsets(measure int) []onset {
	if p.sys.onsets == nil {
		p.sys.onsets = make([][]onset, len(p.sys.measures))
		for id, n := range p.sys.notes {
			if t, ok := p.times[id]; ok && !n.head.empty() && !n.small {
				p.sys.onsets[n.measure] = append(p.sys.onsets[n.measure], onset{t, n.head.x0})
			}
		}
		for _, list := range p.sys.onsets {
			slices.SortFunc(list, func(a, b onset) int { return cmp.Or(a.at.Cmp(b.at), cmp.Compare(a.x, b.x)) })
		}
	}
	return p.sys.onsets[measure]
}

// x is where a moment of a bar stands: at the head of what begins there, else between its neighbours.
func (p *placer) x(measure int, at music.Beats) float64 {
	m := &p.sys.measures[measure]
	bar := &p.s.Bars[m.bar]
	list := p.onsets(measure)
	i, exact := slices.BinarySearchFunc(list, at, func(o onset, at music.Beats) int { return o.at.Cmp(at) })
	if exact {
		return list[i].x
	}
	if !at.Less(bar.End()) {
		return m.x1 - 0.4*space
	}
	before, after := onset{bar.Start, min(m.first, m.x1)}, onset{bar.End(), m.x1 - 0.4*space}
	if i > 0 {
		before = list[i-1]
	}
	if i < len(list) {
		after = list[i]
	}
	if span := after.at.Sub(before.at).Q(); span > 0 {
		return before.x + (after.x-before.x)*at.Sub(before.at).Q()/span
	}
	return before.x
}

// inkOf is the text of a sign, its left edge at 0.
func (p *placer) inkOf(g *sign, text string) *ink {
	f := p.sh.fonts
	switch g.kind {
	case positionSign, barreSign:
		return f.textInk(string(g.kind), "", text, regular, positionSize, 0, 0)
	case harmonySign:
		return f.textInk("harmony", "", text, regular, positionSize, 0, 0)
	}
	return f.linesInk("words", text, italic, wordsSize, p.wide())
}

// outside moves a mark to above or below all that stands in its way.
func (p *placer) outside(k *ink, above bool, pad float64) {
	b := p.inside(k.box)
	beside := 0.3 * space
	if k.kind == "words" {
		beside = 0.9 * space // else a letter that follows reads as part of the words
	}
	if above {
		b = b.moved(0, p.field.top(b.x0-beside, b.x1+beside, p.ownStaff().top-0.5*space)-pad-b.y1)
	} else {
		b = b.moved(0, p.field.bottom(b.x0-beside, b.x1+beside, p.ownStaff().bottom+0.5*space)+pad-b.y0)
	}
	k.to(b)
	p.put(k)
}

func (p *placer) text(g *sign, x float64) {
	k := p.inkOf(g, g.text)
	k.to(k.box.moved(x-k.box.x0, 0))
	p.outside(k, g.above, 0.4*space)
}

// span draws a text with its line, or the part of them that falls into this system.
func (p *placer) span(g *sign) {
	first, last := p.sys.measures[0].bar, p.sys.measures[len(p.sys.measures)-1].bar
	if g.bar > last || g.endBar < first {
		return
	}
	x0, opens := p.sys.measures[0].first-0.6*space, false
	if at, ok := p.measure(g.bar); ok {
		x0, opens = p.x(at, g.at), true
	}
	x1, closes := p.sys.right-0.3*space, false
	if at, ok := p.measure(g.endBar); ok {
		x1, closes = p.x(at, *g.end)-0.5*space, true
		if !g.end.Less(p.s.Bars[g.endBar].End()) {
			x1 = p.sys.measures[at].x1 - 0.5*space
		}
	}
	var parts []*ink
	right, height := x0, 0.0
	if g.text != "" {
		text := g.text
		if !opens {
			text = "(" + text + ")"
		}
		k := p.inkOf(g, text)
		k.to(k.box.moved(x0-k.box.x0, 0))
		parts = append(parts, k)
		right, height = k.box.x1+0.35*space, k.box.y0*0.45
	}
	if x1 > right+0.5*space {
		parts = append(parts, lineInk("", point{right, height}, point{x1, height}, 18, "100 70"))
		if closes && g.kind != wordsSign {
			parts = append(parts, lineInk("", point{x1, height - 9}, point{x1, height + 0.75*space}, 18, ""))
		}
	}
	if len(parts) == 0 {
		return
	}
	p.outside(joined(string(g.kind), parts...), g.above, 0.35*space)
}
