package engrave

import (
	"slices"

	"antiphon/internal/music"
)

// rings draws what is to be shown on a note itself.
func (p *placer) rings() {
	for _, s := range p.spots {
		for _, v := range p.over[s.note] {
			if v.Kind != Ring {
				continue
			}
			r := max(s.at.head.width(), s.at.head.height())/2 + 0.42*space
			dash := ""
			if v.Dashed {
				dash = "60 45"
			}
			c := element("circle", "cx", num(s.at.head.midX()), "cy", num(s.at.head.midY()), "r", num(r), "fill", "none", "stroke", "currentColor", "stroke-width", "28", "stroke-dasharray", dash)
			p.overlay(&ink{kind: "ring", note: s.note, box: box{s.at.head.midX(), s.at.head.midY(), s.at.head.midX(), s.at.head.midY()}.grown(r+14, r+14), draw: []*node{c}}, v)
		}
	}
}

// overlay puts an overlay's ink with its role and its words.
func (p *placer) overlay(k *ink, v Overlay) {
	n := k.node()
	n.set("class", "overlay "+k.kind+" "+roleOf(v.Role))
	if v.Text != "" && v.Kind != Label {
		t := element("title")
		t.text = v.Text
		n.kids = append([]*node{t}, n.kids...)
	}
	p.sys.marks[p.staff] = append(p.sys.marks[p.staff], n)
	p.field.add(obstacle{box: k.box, kind: k.kind, note: k.note})
}

// roleOf keeps letters, digits and hyphens.
func roleOf(s string) string {
	var out []rune
	for _, r := range s {
		if r == '-' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' {
			out = append(out, r)
		}
	}
	return string(out)
}

// names writes the names of the notes below the staff, those of a chord one below the other with
// the highest on top.
func (p *placer) names() {
	if p.o.Names == NoNames {
		return
	}
	order := slices.DeleteFunc(slices.Clone(p.spots), func(s spot) bool { return s.grace })
	slices.SortStableFunc(order, func(a, b spot) int {
		if c := a.onset.Cmp(b.onset); c != 0 {
			return c
		}
		return b.midi - a.midi
	})
	if len(order) == 0 {
		return
	}
	row := p.field.bottom(p.sys.measures[0].x0, p.sys.right, p.ownStaff().bottom) + 0.5*space
	step := 1.5 * space
	last, y := music.Quarters(-1, 1), row
	for _, s := range order {
		if s.onset.Cmp(last) != 0 {
			y = row
		}
		last = s.onset
		k := p.sh.fonts.textInk("name", s.note, nameOf(s.name, p.o.Names), regular, nameSize, 0, 0)
		k.centred(s.at.head.midX())
		b := k.box
		lift := y + step - 0.3*space // the baseline
		b = b.moved(0, lift)
		for {
			if _, hit := p.field.hit(b.grown(0.15*space, 0)); !hit {
				break
			}
			b, y = b.moved(0, step), y+step
		}
		k.to(b)
		p.put(k)
		y += step
	}
}

// labels places the texts and threads of the overlay below all else.
func (p *placer) labels() {
	thread := false
	for _, s := range p.spots {
		for _, v := range p.over[s.note] {
			thread = thread || v.Kind == Tick
		}
	}
	if thread {
		p.thread()
	}
	for _, s := range p.spots {
		for _, v := range p.over[s.note] {
			if v.Kind != Label || v.Text == "" {
				continue
			}
			k := p.sh.fonts.textInk("text", s.note, v.Text, italic, labelSize, 0, 0).centred(s.at.head.midX())
			b := k.box.moved(0, p.field.bottom(k.box.x0, k.box.x1, p.ownStaff().bottom+0.4*space)+0.35*space-k.box.y0)
			k.to(p.field.sink(p.inside(b), markGap))
			p.overlay(k, v)
		}
	}
}

// thread draws the thread with a stem for each note and a dot where it came.
func (p *placer) thread() {
	x0, x1 := p.sys.measures[0].first-space, p.sys.right
	y := p.field.bottom(x0, x1, p.ownStaff().bottom) + 1.1*space
	line := lineInk("thread", point{x0, y}, point{x1, y}, 10, "")
	for _, s := range p.spots {
		for _, v := range p.over[s.note] {
			if v.Kind != Tick {
				continue
			}
			x := s.at.head.midX()
			stem := lineInk("tick", point{x, y - 0.5*space}, point{x, y + 0.5*space}, 16, "")
			dot := element("circle", "cx", num(x-v.Early*space), "cy", num(y), "r", num(0.24*space))
			k := joined("tick", stem)
			k.note = s.note
			k.draw = append(k.draw, dot)
			r := 0.24 * space
			k.box = k.box.and(box{x - v.Early*space - r, y - r, x - v.Early*space + r, y + r})
			p.overlay(k, v)
		}
	}
	p.overlay(line, Overlay{})
}

// inside moves a box that sticks out of the system back into it.
func (p *placer) inside(b box) box {
	left := p.sys.measures[0].x0
	if b.x1 > p.sys.right {
		b = b.moved(p.sys.right-b.x1, 0)
	}
	if b.x0 < left {
		b = b.moved(left-b.x0, 0)
	}
	return b
}
