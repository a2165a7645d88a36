package engrave

import (
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
	l.signs = append(l.signs, leftSigns(s, l.signs)...)
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

func (p *placer) ownStaff() staffLines { return p.sys.staves[p.staff] }

// put fixes a mark where it is.
func (p *placer) put(k *ink) {
	p.sys.marks[p.staff] = append(p.sys.marks[p.staff], k.node())
	p.field.add(obstacle{box: k.box, kind: k.kind, note: k.note})
}
