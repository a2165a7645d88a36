package engrave

import (
	"math"
	"strconv"
	"strings"

	"antiphon/internal/music"
)

// top places what stands above the whole system: endings, segno and coda, jumps, rehearsal marks,
// tempo marks, and the number of the first bar.
func (p *placer) top() {
	var endings []*mover
	lift := math.Inf(1)
	for _, m := range p.sys.movers {
		if m.kind == "ending" {
			endings = append(endings, m)
			lift = min(lift, p.field.top(m.box.x0, m.box.x1, p.ownStaff().top-0.4*space)-0.35*space-m.box.y1)
		}
	}
	for _, m := range endings {
		m.dy = lift
		p.field.add(obstacle{box: m.box.moved(0, lift), kind: "ending"})
	}
	for _, m := range p.sys.movers {
		if m.kind == "sign" {
			y := p.field.top(m.box.x0-0.3*space, m.box.x1+0.3*space, p.ownStaff().top-0.6*space) - 0.4*space
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
		k := f.linesInk("tempo", g.text, bold, tempoSize, p.wide())
		k.to(k.box.moved(p.headX(measure, g.at)-k.box.x0, 0))
		p.outside(k, true, 0.6*space)
	case tempoSign:
		p.tempo(g, measure)
	case tuningSign:
		p.setUp(g, measure)
	}
}

// metronomeRoom is what a note and its number take beside a heading.
const metronomeRoom = 9 * space

// wide is how long a line of text in this system may be.
func (p *placer) wide() float64 { return p.sys.right - p.sys.measures[0].x0 }

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
			add(f.linesInk("", w.text, bold, tempoSize, p.wide()-metronomeRoom), 0.8*space)
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
	k.to(k.box.moved(m.x0-k.box.x0, p.ownStaff().top-1.15*space-k.box.y1))
	k.to(p.field.rise(k.box, markGap))
	p.put(k)
}
