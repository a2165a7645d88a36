package engrave

import (
	"strings"
)

// boxOf is the box of an element with all below it.
func (sh *sheet) boxOf(n *node) box { return union(sh.boxes(n, identity())) }

// beamSlices of a slanted shape, each with a box of its own.
const beamSlices = 10

// boxes covers what an element and all below it blacken.
func (sh *sheet) boxes(n *node, m affine) (out []box) {
	if t := n.get("transform"); t != "" {
		m = m.then(transformOf(t))
	}
	switch n.name {
	case "use":
		if g, ok := sh.glyphs[glyphID(n.get("href"))]; ok && !g.box.empty() {
			if n.get("x") != "" || n.get("y") != "" {
				m = m.then(affine{1, 0, 0, 1, n.float("x"), n.float("y")})
			}
			a, b := m.at(point{g.box.x0, g.box.y0}), m.at(point{g.box.x1, g.box.y1})
			out = append(out, box{min(a.x, b.x), min(a.y, b.y), max(a.x, b.x), max(a.y, b.y)})
		}
	case "path":
		stroke := n.float("stroke-width")
		out = pathBoxes(parsePath(n.get("d")), m, stroke)
	case "polyline":
		v := numbers(n.get("points"))
		for i := 0; i+3 < len(v); i += 2 {
			out = append(out, sliced(m.at(point{v[i], v[i+1]}), m.at(point{v[i+2], v[i+3]}), n.float("stroke-width"), 4)...)
		}
	case "polygon":
		out = polygonBoxes(numbers(n.get("points")), m)
	case "rect":
		a := m.at(point{n.float("x"), n.float("y")})
		b := m.at(point{n.float("x") + n.float("width"), n.float("y") + n.float("height")})
		out = append(out, box{min(a.x, b.x), min(a.y, b.y), max(a.x, b.x), max(a.y, b.y)})
	case "ellipse":
		c := m.at(point{n.float("cx"), n.float("cy")})
		k := m.scale()
		out = append(out, box{c.x, c.y, c.x, c.y}.grown(n.float("rx")*k, n.float("ry")*k))
	case "circle":
		c := m.at(point{n.float("cx"), n.float("cy")})
		r := n.float("r")*m.scale() + n.float("stroke-width")/2
		out = append(out, box{c.x, c.y, c.x, c.y}.grown(r, r))
	case "text":
		flatten(n)
		size := n.float("font-size")
		b := sh.fonts.ink(n.text, styleOf(n), size)
		x := n.float("x")
		switch w := sh.fonts.width(n.text, styleOf(n), size); n.get("text-anchor") {
		case "middle":
			x -= w / 2
		case "end":
			x -= w
		}
		if b.width() > 0 {
			p := m.at(point{x, n.float("y")})
			out = append(out, b.moved(p.x, p.y))
		}
		return out
	}
	for _, k := range n.kids {
		out = append(out, sh.boxes(k, m)...)
	}
	return out
}

func sliced(a, b point, stroke float64, n int) (out []box) {
	for i := range n {
		p := point{a.x + (b.x-a.x)*float64(i)/float64(n), a.y + (b.y-a.y)*float64(i)/float64(n)}
		q := point{a.x + (b.x-a.x)*float64(i+1)/float64(n), a.y + (b.y-a.y)*float64(i+1)/float64(n)}
		out = append(out, box{min(p.x, q.x), min(p.y, q.y), max(p.x, q.x), max(p.y, q.y)}.grown(stroke/2, stroke/2))
	}
	return out
}

// polygonBoxes covers a beam, a slanted strip with four corners, in upright slices; any other polygon
// gets one box.
func polygonBoxes(v []float64, m affine) (out []box) {
	if len(v) < 4 {
		return nil
	}
	var p []point
	all := nothing()
	for i := 0; i+1 < len(v); i += 2 {
		q := m.at(point{v[i], v[i+1]})
		p = append(p, q)
		all = all.and(box{q.x, q.y, q.x, q.y})
	}
	if len(p) != 4 || p[0].x != p[3].x || p[1].x != p[2].x {
		return []box{all}
	}
	up, down := sliced(p[0], p[1], 0, beamSlices), sliced(p[3], p[2], 0, beamSlices)
	for i := range up {
		out = append(out, up[i].and(down[i]))
	}
	return out
}

// flatten turns a text with its spans into one element with one size and style.
func flatten(n *node) {
	if len(n.kids) == 0 {
		return
	}
	var text strings.Builder
	text.WriteString(n.text)
	n.walk(func(k *node) bool {
		if k == n {
			return true
		}
		text.WriteString(k.text)
		for _, a := range []string{"font-size", "font-weight", "font-style", "x", "y"} {
			if v := k.get(a); v != "" && v != "0px" {
				n.set(a, v)
			}
		}
		return true
	})
	n.text, n.kids = strings.Map(plainDynamic, text.String()), nil
	n.set("font-size", num(n.float("font-size")))
}

// plainDynamic turns the music font's letters of dynamic marks, where the library mixes them with words,
// into letters of the text font.
func plainDynamic(r rune) rune {
	if i := r - 0xE520; i >= 0 && i < 7 {
		return rune("pmfrszn"[i])
	}
	return r
}

func styleOf(n *node) style {
	s := regular
	if n.get("font-style") == "italic" {
		s = italic
	}
	if n.get("font-weight") == "bold" {
		s += bold - regular
	}
	return s
}
