package engrave

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

func (sh *sheet) readSystem(n *node) *system {
	sys := &system{node: n, notes: map[string]*printedNote{}}
	for _, k := range n.kids { // barlines and staves first: they say where everything is
		if k.class() == "measure" {
			sys.readMeasureStaves(k)
		}
	}
	count := len(sys.staves)
	sys.fixed, sys.owned = make([][]obstacle, count), make([][]*node, count)
	sys.lines = make([][]*node, count)
	sys.marks, sys.shift = make([][]*node, count), make([]float64, count)
	kept := n.kids[:0]
	for _, k := range n.kids {
		switch c := k.class(); {
		case c == "measure":
			sh.readMeasure(sys, k)
			kept = append(kept, k)
		case c == "ending":
			k.kids = firstBracket(k.kids) // the library draws one over each part
			sys.movers = append(sys.movers, &mover{node: k, kind: "ending", box: sh.boxOf(k), above: true})
			kept = append(kept, k)
		case k.name == "g" && len(k.kids) == 0: // milestones
		case k.name == "path" || c == "grpSym":
			sys.crossing = append(sys.crossing, k)
			kept = append(kept, k)
		case c == "label", c == "labelAbbr":
			kept = append(kept, k)
			sys.owned[sys.nearest(sh.boxOf(k).midY())] = append(sys.owned[sys.nearest(sh.boxOf(k).midY())], k)
		default:
			sh.readControl(sys, k)
			kept = append(kept, k)
		}
	}
	n.kids = kept
	sys.drawLines()
	return sys
}

// drawLines draws the lines of each staff once for the whole system; the library draws them bar by bar,
// which makes up a quarter of the file. Those of a tablature keep their gaps.
func (sys *system) drawLines() {
	for k := range sys.staves {
		var d strings.Builder
		width := ""
		type run struct{ x0, x1 float64 }
		var order []float64
		runs := map[float64][]run{}
		for _, p := range sys.lines[k] {
			v := numbers(p.get("d"))
			if width = p.get("stroke-width"); len(v) != 4 {
				continue
			}
			list := runs[v[1]]
			if list == nil {
				order = append(order, v[1])
			}
			if n := len(list) - 1; n >= 0 && list[n].x1 >= v[0]-1 {
				list[n].x1 = max(list[n].x1, v[2])
			} else {
				list = append(list, run{v[0], v[2]})
			}
			runs[v[1]] = list
		}
		for _, y := range order {
			for _, r := range runs[y] {
				d.WriteString("M" + num(r.x0) + " " + num(y) + "H" + num(r.x1))
			}
		}
		if d.Len() > 0 {
			p := element("path", "class", "lines", "d", d.String(), "stroke-width", width)
			sys.node.kids = append([]*node{p}, sys.node.kids...)
			sys.owned[k] = append(sys.owned[k], p)
		}
	}
}

func firstBracket(list []*node) []*node {
	for _, k := range list {
		if k.class() == "voltaBracket" {
			return []*node{k}
		}
	}
	return nil
}

// readMeasureStaves finds the staves of the system from the lines of its bars.
func (sys *system) readMeasureStaves(m *node) {
	k := 0
	for _, st := range m.kids {
		if st.class() != "staff" {
			continue
		}
		var ys []float64
		x0, x1 := math.Inf(1), math.Inf(-1)
		for _, p := range st.kids {
			if p.name != "path" {
				continue
			}
			v := numbers(p.get("d"))
			if len(v) == 4 && v[1] == v[3] {
				if len(ys) == 0 || ys[len(ys)-1] != v[1] {
					ys = append(ys, v[1])
				}
				x0, x1 = min(x0, v[0]), max(x1, v[2])
			}
		}
		if len(ys) > 0 && k >= len(sys.staves) {
			s := staffLines{top: ys[0], bottom: ys[len(ys)-1], tab: len(ys) > 5, gap: space}
			if len(ys) > 1 {
				s.gap = (s.bottom - s.top) / float64(len(ys)-1)
			}
			sys.staves = append(sys.staves, s)
		}
		if k == 0 && len(ys) > 0 {
			bar, _ := strconv.Atoi(strings.TrimPrefix(m.get("id"), "m"))
			sys.measures = append(sys.measures, measureBox{node: m, bar: bar - 1, x0: x0, x1: x1, first: math.Inf(1)})
			sys.right = max(sys.right, x1)
		}
		k++
	}
}

// nearest is the staff that a height belongs to.
func (sys *system) nearest(y float64) int {
	best, dist := 0, math.Inf(1)
	for k, s := range sys.staves {
		d := 0.0
		if y < s.top {
			d = s.top - y
		} else if y > s.bottom {
			d = y - s.bottom
		}
		if d < dist {
			best, dist = k, d
		}
	}
	return best
}

func (sh *sheet) readMeasure(sys *system, m *node) {
	index := len(sys.measures) - 1
	for i := range sys.measures {
		if sys.measures[i].node == m {
			index = i
		}
	}
	staff := 0
	kept := m.kids[:0]
	for _, k := range m.kids {
		switch c := k.class(); c {
		case "staff":
			if staff < len(sys.staves) {
				if sys.staves[staff].tab {
					k.kids = withoutClass(k.kids, "meterSig")
				}
				sh.readStaff(sys, k, staff, index, "", nil)
				k.kids = slices.DeleteFunc(k.kids, func(line *node) bool {
					if line.name == "path" {
						sys.lines[staff] = append(sys.lines[staff], line)
					}
					return line.name == "path"
				})
				sys.owned[staff] = append(sys.owned[staff], k)
			}
			staff++
		case "barLine":
			sys.crossing = append(sys.crossing, k)
			for s := range sys.staves { // wherever it stands, no mark may stand on it inside a staff
				b := sh.boxOf(k)
				b.y0, b.y1 = sys.staves[s].top, sys.staves[s].bottom
				sys.fixed[s] = append(sys.fixed[s], obstacle{box: b, kind: "barline"})
			}
		case "mNum":
			continue // we number the systems
		default:
			if k.name == "g" && len(k.kids) == 0 {
				continue
			}
			sh.readControl(sys, k)
		}
		kept = append(kept, k)
	}
	m.kids = kept
}

func withoutClass(list []*node, class string) []*node {
	kept := list[:0]
	for _, k := range list {
		if k.class() != class {
			kept = append(kept, k)
		}
	}
	return kept
}

// readControl takes in what stands beside the staves: slurs, dynamics, fermatas and the like.
func (sh *sheet) readControl(sys *system, k *node) {
	if k.class() == "dynam" {
		k.walk(asWords)
	}
	b := sh.boxOf(k)
	if b.empty() {
		return
	}
	staff := sys.staffOf(k, b)
	above := b.midY() < (sys.staves[staff].top+sys.staves[staff].bottom)/2
	kind := ""
	switch k.class() {
	case "dynam":
		kind = "dynam"
	case "hairpin":
		kind = "hairpin"
	case "repeatMark":
		kind = "sign"
	}
	if kind != "" {
		if kind == "sign" {
			above = true
		}
		sys.movers = append(sys.movers, &mover{node: k, kind: kind, box: b, staff: staff, above: above})
		return
	}
	sys.owned[staff] = append(sys.owned[staff], k)
	kind = kindOf[k.class()]
	if kind == "" {
		kind = "other"
	}
	for _, c := range sh.boxes(k, identity()) {
		sys.fixed[staff] = append(sys.fixed[staff], obstacle{box: c, kind: kind})
	}
}

// asWords gives a dynamic mark in words the look of our own.
func asWords(n *node) bool {
	if n.name == "text" {
		flatten(n)
		n.set("font-size", num(wordsSize))
		n.set("font-style", "italic")
	}
	return true
}

// staffOf is the staff that a sign belongs to: the one that it names, that of the note that it names, or
// else the nearest one that has notes.
func (sys *system) staffOf(k *node, b box) int {
	if n, err := strconv.Atoi(k.get("data-staff")); err == nil && n >= 1 && n <= len(sys.staves) {
		return n - 1
	}
	for _, a := range []string{"data-startid", "data-endid", "data-plist"} {
		for _, id := range strings.Fields(k.get(a)) {
			if n := sys.notes[strings.TrimPrefix(id, "#")]; n != nil {
				return n.staff
			}
		}
	}
	staff := sys.nearest(b.midY())
	if sys.staves[staff].tab && staff > 0 {
		if staff+1 < len(sys.staves) && b.midY() > sys.staves[staff].bottom {
			return staff + 1
		}
		return staff - 1 // the tablature has no signs of its own
	}
	return staff
}

// readStaff collects what is printed on one staff of one bar.
func (sh *sheet) readStaff(sys *system, n *node, staff, measure int, kind string, of *printedNote) {
	for _, k := range n.kids {
		class := k.class()
		if class == "staff" || (n.class() == "staff" && k.name == "path") {
			continue // the lines
		}
		now := kind
		if named := kindOf[class]; named != "" {
			now = named
		}
		note := of
		switch class {
		case "note", "rest", "mRest":
			note = &printedNote{id: k.get("id"), staff: staff, measure: measure, head: nothing(), stem: nothing(), rest: class != "note"}
			if note.id != "" {
				sys.notes[note.id] = note
			}
		}
		if k.name == "g" {
			sh.readStaff(sys, k, staff, measure, now, note)
			if class == "note" || class == "rest" || class == "mRest" {
				sys.finish(note, measure)
			}
			if class == "chord" { // its stem belongs to all
				sys.shareStem(k, sh)
			}
			continue
		}
		owner := ""
		if note != nil {
			owner = note.id
		}
		for _, b := range sh.boxes(k, identity()) {
			sys.fixed[staff] = append(sys.fixed[staff], obstacle{box: b, kind: now, note: owner})
			if note != nil && (now == "head" || now == "rest" || now == "tabnumber") {
				note.head = note.head.and(b)
			}
			if note != nil && now == "stem" {
				note.stem = note.stem.and(b)
			}
		}
		if note != nil && k.name == "use" && strings.Contains(k.get("transform"), "scale(0.54") {
			note.small = true
		}
	}
}

func (sys *system) finish(n *printedNote, measure int) {
	if n.head.empty() {
		return
	}
	if m := &sys.measures[measure]; !n.rest || n.head.width() > 0 {
		m.first = min(m.first, n.head.x0)
	}
	n.up = !n.stem.empty() && n.stem.midY() < n.head.midY()
}

// shareStem gives the notes of a chord the stem that is drawn once for all of them.
func (sys *system) shareStem(chord *node, sh *sheet) {
	stem := nothing()
	for _, k := range chord.kids {
		if k.class() == "stem" {
			stem = stem.and(sh.boxOf(k))
		}
	}
	if stem.empty() {
		return
	}
	for _, k := range chord.kids {
		if n := sys.notes[k.get("id")]; n != nil && k.class() == "note" {
			n.stem = stem
			n.up = stem.midY() < n.head.midY()
		}
	}
}
