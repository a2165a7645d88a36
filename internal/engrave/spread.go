package engrave

import (
	"math"
	"strconv"
	"strings"
)

// Distances, in staff spaces. Our choice; no source.
const (
	staffApart  = 4.6 * space // between two staves of a system, line to line, at least
	tabApart    = 3.6 * space // between notes and their tablature
	staffClear  = 0.6 * space // between what belongs to one and to the other
	systemClear = 1.8 * space // between two systems
)

// spread moves the staves of a system as far apart as what stands between them needs, and no farther.
func (l *layout) spread(sys *system, fields []*field) {
	for k := 1; k < len(sys.staves); k++ {
		apart := staffApart
		if sys.staves[k].tab {
			apart = tabApart
		}
		need := sys.staves[k-1].bottom + sys.shift[k-1] + apart - sys.staves[k].top
		const width = 2 * space
		for x := sys.measures[0].x0 - 2*space; x < sys.right; x += width {
			low := fields[k-1].bottom(x, x+width, sys.staves[k-1].bottom)
			high := fields[k].top(x, x+width, sys.staves[k].top)
			need = max(need, low+sys.shift[k-1]+staffClear-high)
		}
		sys.shift[k] = math.Ceil(need)
	}
	for k := range sys.staves {
		if dy := sys.shift[k]; dy != 0 {
			for _, n := range sys.owned[k] {
				n.set("transform", "translate(0 "+num(dy)+")"+n.get("transform"))
			}
		}
	}
	for _, m := range sys.movers {
		if dy := m.dy + sys.shift[m.staff]; dy != 0 {
			m.node.set("transform", "translate(0 "+num(dy)+")"+m.node.get("transform"))
		}
	}
	for _, n := range sys.crossing {
		n.walk(func(k *node) bool { sys.stretch(k); return true })
	}
	for k, list := range sys.marks {
		if len(list) == 0 {
			continue
		}
		g := element("g", "class", "marks")
		if dy := sys.shift[k]; dy != 0 {
			g.set("transform", "translate(0 "+num(dy)+")")
		}
		g.kids = list
		sys.node.kids = append(sys.node.kids, g)
	}
	sys.box = nothing()
	for k, f := range fields {
		for i := range f.list {
			sys.box = sys.box.and(f.list[i].box.moved(0, sys.shift[k]))
		}
		sys.box = sys.box.and(box{sys.measures[0].x0, sys.staves[k].top + sys.shift[k], sys.right, sys.staves[k].bottom + sys.shift[k]})
	}
	for _, n := range sys.crossing {
		sys.box = sys.box.and(l.sh.boxOf(n))
	}
}

// stretch moves the ends of what runs from staff to staff along with the staves.
func (sys *system) stretch(n *node) {
	to := func(y float64) float64 {
		by := sys.shift[0]
		for k, s := range sys.staves {
			if y > s.top-space/2 {
				by = sys.shift[k]
			}
		}
		return y + by
	}
	switch n.name {
	case "path":
		segs := parsePath(n.get("d"))
		var b strings.Builder
		for _, s := range segs {
			if s.op != 'M' && s.op != 'L' {
				return
			}
			b.WriteByte(s.op)
			b.WriteString(num(s.p[0].x) + " " + num(to(s.p[0].y)))
		}
		n.set("d", b.String())
	case "rect":
		y0, y1 := n.float("y"), n.float("y")+n.float("height")
		n.set("y", num(to(y0)))
		n.set("height", num(to(y1)-to(y0)))
	case "use":
		m := transformOf(n.get("transform"))
		n.set("transform", "translate("+num(m.e)+", "+num(to(m.f))+") scale("+strconv.FormatFloat(m.a, 'f', -1, 64)+", "+strconv.FormatFloat(m.d, 'f', -1, 64)+")")
	case "ellipse":
		n.set("cy", num(to(n.float("cy"))))
	}
}
