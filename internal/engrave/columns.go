package engrave

import (
	"cmp"
	"math"
	"slices"

	"antiphon/internal/music"
)

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
		edge   float64 // where it may begin
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
		st := stacks[k]
		if st == nil {
			st = &stack{x: s.at.head.midX(), edge: p.edge(above), above: above, bar: s.bar}
			stacks[k], order = st, append(order, st)
		}
		switch { // never between a note and its own beam
		case above && s.at.up:
			st.edge = min(st.edge, s.at.stem.y0-markGap)
		case !above && !s.at.up && !s.at.stem.empty():
			st.edge = max(st.edge, s.at.stem.y1+markGap)
		}
		return st
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
		run, top := map[string]int{}, map[music.Beats]int{}
		for _, s := range mine {
			if s.str > 0 {
				top[s.onset] = max(top[s.onset], s.midi)
			}
		}
		for _, s := range mine {
			// Of a worked out fingering, the first of a run and the highest of a chord say enough.
			told := p.thin && (run[s.voice] == s.str || s.midi < top[s.onset])
			if s.midi >= top[s.onset] {
				run[s.voice] = s.str
			}
			if s.str > 0 && !told {
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
		p.pile(st.near, st.x, st.edge, st.above)
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
				y := p.trial(st.far, st.x, st.edge, above)
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
		return p.ownStaff().top - 0.45*space
	}
	return p.ownStaff().bottom + 0.45*space
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
