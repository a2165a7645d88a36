package engrave

import (
	"cmp"
	"math"
	"slices"

	"antiphon/internal/music"
)

// layout puts our marks into the systems that the library drew.
type layout struct {
	s      *music.Score
	o      Options
	sh     *sheet
	hands  []hand
	times  map[string]music.Beats
	signs  []sign
	over   map[string][]Overlay
	thin   bool // of a run on one string only the first number is printed
	slurs  []legato
	tempo  map[[2]int64]bool // where a tempo mark stands
	effort int
}

func newLayout(s *music.Score, o Options, sh *sheet) *layout {
	l := &layout{s: s, o: o, sh: sh, hands: handsOf(s), times: timesOf(s), signs: signsOf(s), over: map[string][]Overlay{}, slurs: legatosOf(s)}
	l.effort = mostEffort
	l.tempo = map[[2]int64]bool{}
	for i := range l.signs {
		if g := &l.signs[i]; g.kind == tuningSign && o.From < len(s.Bars) {
			g.bar, g.at = o.From, s.Bars[o.From].Start // a passage says it too
		}
		if l.signs[i].kind == tempoSign {
			l.tempo[l.signs[i].place()] = true
		}
	}
	l.thin = thinStrings(s, l.hands, o.Strings)
	for _, v := range o.Overlay {
		l.over[v.Note] = append(l.over[v.Note], v)
	}
	return l
}

// spot is a hand's marks on the page.
type spot struct {
	*hand
	at *printedNote
}

// system places all marks of one system, from the note outwards.
func (l *layout) system(index int) {
	sys := l.sh.systems[index]
	here := l.signsIn(sys)
	fields := make([]*field, len(sys.staves))
	for k := range sys.staves {
		fields[k] = newField(sys.fixed[k], &l.effort)
	}
	spots := make([][]spot, len(sys.staves))
	for i := range l.hands {
		if n := sys.notes[l.hands[i].note]; n != nil && !n.head.empty() {
			spots[n.staff] = append(spots[n.staff], spot{&l.hands[i], n})
		}
	}
	for k := range sys.staves {
		if sys.staves[k].tab {
			continue
		}
		p := &placer{layout: l, sys: sys, staff: k, field: fields[k], spots: spots[k], signs: here}
		p.rings()
		loose := p.fingers()
		p.columns(loose)
		p.legatos()
		p.dynamics()
		p.lines()
		p.names()
		p.labels()
	}
	p := &placer{layout: l, sys: sys, staff: 0, field: fields[0], signs: here}
	p.top()
	l.spread(sys, fields)
}

// placer works on one staff of one system.
type placer struct {
	*layout
	sys   *system
	staff int
	field *field
	spots []spot
	signs []*sign // that stand in this system or reach into it
}

// signsIn are the signs that stand in a system or reach into it.
func (l *layout) signsIn(sys *system) (out []*sign) {
	first, last := sys.measures[0].bar, sys.measures[len(sys.measures)-1].bar
	for i := range l.signs {
		if g := &l.signs[i]; g.bar <= last && max(g.bar, g.endBar) >= first {
			out = append(out, g)
		}
	}
	return out
}

func (p *placer) lines5() staffLines { return p.sys.staves[p.staff] }

// put fixes a mark where it is.
func (p *placer) put(k *ink) {
	p.sys.marks[p.staff] = append(p.sys.marks[p.staff], k.node())
	p.field.add(obstacle{box: k.box, kind: k.kind, note: k.note})
}

// Where fingers stand, in staff spaces. Our choice; no source.
const (
	fingerGap   = 0.20 * space // to the head
	fingerReach = 4.2 * space  // farthest from its head
	rightReach  = 1.6 * space  // the same on the right, where it must not seem to be the next note's
)

// fingers places the left hand's numbers beside the heads, and gives back those for which there is no
// room there. Those of a chord stand all on its left or, where that is too narrow, all on its right.
func (p *placer) fingers() (loose []spot) {
	order := slices.DeleteFunc(slices.Clone(p.spots), func(s spot) bool { return s.finger == "" })
	slices.SortStableFunc(order, func(a, b spot) int {
		if c := a.onset.Cmp(b.onset); c != 0 {
			return c
		}
		return b.midi - a.midi
	})
	order = slices.CompactFunc(order, func(a, b spot) bool { // two voices in unison: one finger stops both
		return a.onset.Cmp(b.onset) == 0 && a.midi == b.midi && a.finger == b.finger && a.grace == b.grace
	})
	for i := 0; i < len(order); {
		j := i + 1
		for j < len(order) && order[j].onset.Cmp(order[i].onset) == 0 && order[j].grace == order[i].grace {
			j++
		}
		chord := order[i:j]
		i = j
		done, rest := p.besideAll(chord, true)
		if len(rest) > 0 && len(chord) > 1 && !slices.ContainsFunc(chord, func(s spot) bool { return s.side != "" }) {
			p.field.cut(len(p.field.list) - len(done))
			right, left := p.besideAll(chord, false)
			if len(left) == 0 {
				done, rest = right, nil
			} else {
				p.field.cut(len(p.field.list) - len(right))
				done, rest = p.besideAll(chord, true)
			}
		}
		for _, k := range done {
			p.sys.marks[p.staff] = append(p.sys.marks[p.staff], k.node())
		}
		loose = append(loose, rest...)
	}
	return loose
}

// besideAll tries to place the fingers of one chord on one side of it.
func (p *placer) besideAll(chord []spot, left bool) (done []*ink, rest []spot) {
	for _, s := range chord {
		size := fingerSize
		if s.grace {
			size *= 0.75
		}
		k := p.sh.fonts.textInk("lh", s.note, s.finger, bold, size, 0, 0)
		reach := fingerReach
		if !left {
			reach = rightReach
		} else if s.side != "" && len(s.finger) == 1 {
			reach = 0.8 * space // the file wants it above or below: beside the head only where it is close
		}
		if !p.beside(k, s, left, reach) {
			rest = append(rest, s)
			continue
		}
		p.field.add(obstacle{box: k.box, kind: k.kind, note: k.note})
		done = append(done, k)
	}
	return done, rest
}

// beside looks to one side of the head, past what belongs to the same moment, a little higher or lower.
func (p *placer) beside(k *ink, s spot, left bool, reach float64) bool {
	best, cost := box{}, math.Inf(1)
	for _, dy := range []float64{0, 0.18, -0.18, 0.34, -0.34, 0.5, -0.5} {
		x := s.at.head.x0 - fingerGap - k.box.x1
		if !left {
			x = s.at.head.x1 + fingerGap - k.box.x0
		}
		b := k.box.moved(x, s.at.head.midY()+dy*space-k.box.midY())
		for {
			away := s.at.head.x0 - b.x1
			if !left {
				away = b.x0 - s.at.head.x1
			}
			if away > reach {
				break
			}
			o, hit := p.field.hit(b.grown(0.14*space, 0.04*space))
			if !hit {
				if c := away/space + 1.5*math.Abs(dy); c < cost {
					best, cost = b, c
				}
				break
			}
			if !p.sameMoment(o, s, left) {
				break
			}
			if left {
				b = b.moved(o.x0-0.15*space-b.x1, 0)
			} else {
				b = b.moved(o.x1+0.15*space-b.x0, 0)
			}
		}
	}
	if math.IsInf(cost, 1) {
		return false
	}
	k.to(best)
	return true
}

// sameMoment: one may look beyond o, since it belongs to the same chord.
func (p *placer) sameMoment(o obstacle, s spot, left bool) bool {
	if o.kind == "arpeggio" || o.kind == "ledger" || o.kind == "dot" && !left {
		return true
	}
	if o.note == "" || o.kind == "dot" {
		return false
	}
	at, ok := p.times[o.note]
	return ok && at.Cmp(s.onset) == 0
}

// columns stacks what does not stand beside a head: fingers without room there, string numbers,
// the right hand's letters, the sign of the stroke.
func (p *placer) columns(loose []spot) {
	type key struct {
		onset music.Beats
		above bool
		grace bool
	}
	type stack struct {
		x      float64
		above  bool
		bar    int
		near   []*ink // fingers and strings
		far    []*ink // plucks and strokes
		stroke music.Stroke
	}
	stacks := map[key]*stack{}
	var order []*stack
	of := func(s spot, above bool) *stack {
		k := key{s.onset, above, s.grace}
		if stacks[k] == nil {
			stacks[k] = &stack{x: s.at.head.midX(), above: above, bar: s.bar}
			order = append(order, stacks[k])
		}
		return stacks[k]
	}
	outward := func(list []spot, above bool) []spot { // from the staff outwards
		out := slices.Clone(list)
		slices.SortStableFunc(out, func(a, b spot) int {
			if c := a.onset.Cmp(b.onset); c != 0 {
				return c
			}
			if above {
				return a.midi - b.midi
			}
			return b.midi - a.midi
		})
		return slices.DeleteFunc(out, func(s spot) bool { return s.above != above })
	}
	f := p.sh.fonts
	for _, above := range []bool{true, false} {
		mine := outward(p.spots, above)
		for _, s := range outward(loose, above) {
			up := above
			if s.side != "" {
				up = s.side == "above"
			}
			st := of(s, up)
			st.near = append(st.near, f.textInk("lh", s.note, s.finger, bold, fingerSize, 0, 0))
		}
		run := map[string]int{}
		for _, s := range mine {
			same := p.thin && run[s.voice] == s.str
			run[s.voice] = s.str
			if s.str > 0 && !same {
				st := of(s, above)
				st.near = append(st.near, f.circleInk("string", s.note, itoa(s.str)))
			}
		}
		together := map[music.Beats]int{}
		for _, s := range mine {
			if s.pluck != "" && !s.grace {
				together[s.onset]++
			}
		}
		for _, s := range mine {
			if s.pluck != "" {
				// The thumb of a chord stands below it, so that the letters do not pile up.
				st := of(s, above && !(s.pluck == "p" && together[s.onset] > 1))
				st.far = append(st.far, f.textInk("pima", s.note, s.pluck, italic, pluckSize, 0, 0))
			}
		}
		for _, s := range mine {
			if s.stroke != music.NoStroke {
				if st := of(s, above); st.stroke != s.stroke {
					st.stroke = s.stroke
					st.far = append(st.far, strokeInk(s.note, s.stroke))
				}
			}
		}
	}
	for _, s := range p.spots {
		if s.words != "" {
			st := of(s, s.above)
			st.far = append(st.far, f.textInk("words", s.note, s.words, italic, labelSize, 0, 0))
		}
	}
	slices.SortStableFunc(order, func(a, b *stack) int { return cmp.Compare(a.x, b.x) })
	for _, st := range order {
		p.pile(st.near, st.x, p.edge(st.above), st.above)
	}
	// The letters of a bar stand in a row as far as the notes let them.
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && order[j].bar == order[i].bar {
			j++
		}
		for _, above := range []bool{true, false} {
			starts := map[*stack]float64{}
			row := math.Inf(-1)
			if above {
				row = math.Inf(1)
			}
			for _, st := range order[i:j] {
				if st.above != above || len(st.far) == 0 {
					continue
				}
				y := p.trial(st.far, st.x, p.edge(above), above)
				starts[st] = y
				if above {
					row = min(row, y)
				} else {
					row = max(row, y)
				}
			}
			for _, st := range order[i:j] {
				y, ok := starts[st]
				if !ok {
					continue
				}
				if math.Abs(y-row) < rowReach {
					y = row
				}
				p.pile(st.far, st.x, y, above)
			}
		}
		i = j
	}
}

// legatos writes the letters of hammer-ons and pull-offs over the middle of their slurs.
func (p *placer) legatos() {
	for _, l := range p.slurs {
		a, b := p.sys.notes[l.from], p.sys.notes[l.to]
		if a == nil || b == nil || a.staff != p.staff || a.head.empty() || b.head.empty() {
			continue
		}
		k := p.sh.fonts.textInk("words", l.from, l.text, regular, labelSize, 0, 0).centred((a.head.midX() + b.head.midX()) / 2)
		k.to(p.field.rise(k.box.moved(0, p.edge(true)-k.box.y1), markGap))
		p.put(k)
	}
}

// rowReach is how far a letter goes from its note to stand in a row with the others of its bar.
const rowReach = 2.2 * space

// edge is where marks begin above or below the staff.
func (p *placer) edge(above bool) float64 {
	if above {
		return p.lines5().top - 0.45*space
	}
	return p.lines5().bottom + 0.45*space
}

// tower is the box of marks piled up at x, its near edge at y.
func tower(list []*ink, x, y float64, above bool) box {
	b := box{x, y, x, y}
	for i, k := range list {
		b.x0, b.x1 = min(b.x0, x-k.box.width()/2), max(b.x1, x+k.box.width()/2)
		h := k.box.height()
		if i > 0 {
			h += markGap
		}
		if above {
			b.y0 -= h
		} else {
			b.y1 += h
		}
	}
	return b
}

// trial is where the near edge of a pile would come to stand so that all of it is free.
func (p *placer) trial(list []*ink, x, y float64, above bool) float64 {
	b := tower(list, x, y, above)
	if above {
		return p.field.rise(b, markGap).y1
	}
	return p.field.sink(b, markGap).y0
}

// pile puts marks one upon the other, from the staff outwards.
func (p *placer) pile(list []*ink, x, y float64, above bool) {
	if len(list) == 0 {
		return
	}
	y = p.trial(list, x, y, above)
	for _, k := range list {
		k.centred(x)
		if above {
			k.to(k.box.moved(0, y-k.box.y1))
			y = k.box.y0 - markGap
		} else {
			k.to(k.box.moved(0, y-k.box.y0))
			y = k.box.y1 + markGap
		}
		p.put(k)
	}
}

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
	row := p.field.bottom(p.sys.measures[0].x0, p.sys.right, p.lines5().bottom) + 0.5*space
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
			b := k.box.moved(0, p.field.bottom(k.box.x0, k.box.x1, p.lines5().bottom+0.4*space)+0.35*space-k.box.y0)
			k.to(p.field.sink(p.inside(b), markGap))
			p.overlay(k, v)
		}
	}
}

// thread draws the thread with a stem for each note and a dot where it came.
func (p *placer) thread() {
	x0, x1 := p.sys.measures[0].first-space, p.sys.right
	y := p.field.bottom(x0, x1, p.lines5().bottom) + 1.1*space
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
