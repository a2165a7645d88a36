package engrave

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
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
			want = p.field.top(free.x0, free.x1, p.lines5().top-0.3*space) - 0.35*space - (m.box.y1 - m.middle())
			if i == 0 || want < y {
				y = want
			}
		} else {
			want = p.field.bottom(free.x0, free.x1, p.lines5().bottom+0.3*space) + 0.35*space + (m.middle() - m.box.y0)
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
	return f.textInk("words", "", text, italic, wordsSize, 0, 0)
}

// outside moves a mark to above or below all that stands in its way.
func (p *placer) outside(k *ink, above bool, pad float64) {
	b := p.inside(k.box)
	if above {
		b = b.moved(0, p.field.top(b.x0-0.3*space, b.x1+0.3*space, p.lines5().top-0.5*space)-pad-b.y1)
	} else {
		b = b.moved(0, p.field.bottom(b.x0-0.3*space, b.x1+0.3*space, p.lines5().bottom+0.5*space)+pad-b.y0)
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

// top places what stands above the whole system: endings, segno and coda, jumps, rehearsal marks,
// tempo marks, and the number of the first bar.
func (p *placer) top() {
	var endings []*mover
	lift := math.Inf(1)
	for _, m := range p.sys.movers {
		if m.kind == "ending" {
			endings = append(endings, m)
			lift = min(lift, p.field.top(m.box.x0, m.box.x1, p.lines5().top-0.4*space)-0.35*space-m.box.y1)
		}
	}
	for _, m := range endings {
		m.dy = lift
		p.field.add(obstacle{box: m.box.moved(0, lift), kind: "ending"})
	}
	for _, m := range p.sys.movers {
		if m.kind == "sign" {
			y := p.field.top(m.box.x0-0.3*space, m.box.x1+0.3*space, p.lines5().top-0.6*space) - 0.4*space
			m.dy = y - m.box.y1
			p.field.add(obstacle{box: m.box.moved(0, m.dy), kind: "sign"})
		}
	}
	for _, kind := range []signKind{jumpSign, rehearsalSign, wordsSign, tempoSign, tuningSign} {
		for _, g := range p.signs {
			at, here := p.measure(g.bar)
			if g.kind != kind || !here || (kind == wordsSign && !p.atTop(g)) {
				continue
			}
			p.heading(g, at)
		}
	}
	p.number()
}

func (p *placer) heading(g *sign, measure int) {
	f := p.sh.fonts
	switch g.kind {
	case jumpSign:
		k := f.textInk("words", "", g.text, italic, wordsSize, 0, 0)
		x := p.x(measure, g.at)
		k.to(k.box.moved(x-k.box.x1, 0))
		p.outside(k, true, 0.4*space)
	case rehearsalSign:
		t := f.textInk("", "", g.text, bold, tempoSize, 0, 0)
		b := t.box.grown(0.4*space, 0.35*space)
		frame := element("path", "d", "M"+num(b.x0)+" "+num(b.y0)+"L"+num(b.x1)+" "+num(b.y0)+"L"+num(b.x1)+" "+num(b.y1)+"L"+num(b.x0)+" "+num(b.y1)+"Z", "fill", "none", "stroke", "currentColor", "stroke-width", "20")
		k := joined("rehearsal", t, &ink{box: b.grown(10, 10), draw: []*node{frame}})
		k.to(k.box.moved(p.sys.measures[measure].x0-k.box.x0, 0))
		p.outside(k, true, 0.5*space)
	case wordsSign:
		if p.hasTempo(g.at) {
			return // the tempo mark takes it along
		}
		k := f.textInk("tempo", "", g.text, bold, tempoSize, 0, 0)
		k.to(k.box.moved(p.headX(measure, g.at)-k.box.x0, 0))
		p.outside(k, true, 0.6*space)
	case tempoSign:
		p.tempo(g, measure)
	case tuningSign:
		p.setUp(g, measure)
	}
}

// setUp writes the strings that are tuned anew, their numbers in circles, and the capo, in one line.
func (p *placer) setUp(g *sign, measure int) {
	f := p.sh.fonts
	var parts []*ink
	x := 0.0
	for _, item := range strings.Split(g.text, "\n") {
		str, rest, tuned := strings.Cut(item, " = ")
		if tuned {
			c := f.circleInk("", "", str)
			c.to(c.box.moved(x-c.box.x0, -0.62*space-c.box.midY()))
			parts, x = append(parts, c), c.box.x1+0.3*space
			rest = "= " + rest
		} else {
			rest = item
		}
		t := f.textInk("", "", rest, regular, positionSize, 0, 0)
		t.to(t.box.moved(x-t.box.x0, 0))
		parts, x = append(parts, t), t.box.x1+1.2*space
	}
	k := joined("tuning", parts...)
	k.to(k.box.moved(p.sys.measures[measure].x0-k.box.x0, 0))
	p.outside(k, true, 0.5*space)
}

func (p *placer) hasTempo(at music.Beats) bool {
	num, den := at.Fraction()
	return p.layout.tempo[[2]int64{num, den}]
}

// headX is where a tempo mark begins: at the start of the system for one at its first note.
func (p *placer) headX(measure int, at music.Beats) float64 {
	if measure == 0 && at.Cmp(p.s.Bars[p.sys.measures[0].bar].Start) == 0 {
		return p.sys.measures[0].x0
	}
	return p.x(measure, at)
}

func (p *placer) tempo(g *sign, measure int) {
	f := p.sh.fonts
	var parts []*ink
	x := 0.0
	add := func(k *ink, gap float64) {
		if k == nil {
			return
		}
		if len(parts) > 0 {
			x += gap
		}
		k.to(k.box.moved(x-k.box.x0, 0))
		x = k.box.x1
		parts = append(parts, k)
	}
	for _, w := range p.signs {
		if w.kind == wordsSign && p.atTop(w) && w.at.Cmp(g.at) == 0 {
			add(f.textInk("", "", w.text, bold, tempoSize, 0, 0), 0.8*space)
		}
	}
	t := g.tempo
	text := t.Text
	if text == "" {
		text = strconv.FormatFloat(math.Round(t.Bpm*10)/10, 'f', -1, 64)
	}
	if t.Parens {
		add(f.textInk("", "", "(", regular, tempoSize, 0, 0), 0.8*space)
	}
	before := 0.8 * space
	if t.Parens {
		before = 0.12 * space
	}
	add(metronomeNote(t.Unit), before)
	add(f.textInk("", "", "=", regular, tempoSize, 0, 0), 0.45*space)
	if !t.Was.IsZero() {
		add(metronomeNote(t.Was), 0.45*space)
	} else {
		add(f.textInk("", "", text, regular, tempoSize, 0, 0), 0.45*space)
	}
	if t.Parens {
		add(f.textInk("", "", ")", regular, tempoSize, 0, 0), 0.1*space)
	}
	k := joined("tempo", parts...)
	k.to(k.box.moved(p.headX(measure, g.at)-k.box.x0, 0))
	p.outside(k, true, 0.6*space)
}

// number writes the number of the first bar above the clef of every system but that of the first bar.
func (p *placer) number() {
	m := &p.sys.measures[0]
	bar := &p.s.Bars[m.bar]
	if m.bar == 0 || bar.Implicit || bar.Number == "" {
		return
	}
	k := p.sh.fonts.textInk("number", "", bar.Number, italic, numberSize, 0, 0)
	k.to(k.box.moved(m.x0-k.box.x0, p.lines5().top-1.15*space-k.box.y1))
	k.to(p.field.rise(k.box, markGap))
	p.put(k)
}
