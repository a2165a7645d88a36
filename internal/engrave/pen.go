package engrave

import (
	"math"
	"strings"
	"unicode/utf8"
)

// pen is what a figure can be drawn with other than as SVG.
type pen interface {
	fill(path []segment, m affine)
	stroke(path []segment, m affine, width float64, dash []float64)
	text(s string, st style, size float64, at point, m affine)
	unseen(s string, st style, size float64, at point, m affine) // text that is there only to be selected
}

// ways of drawing that an element hands down to those inside it.
type ways struct {
	m      affine
	stroke float64
	line   bool // has a colour for its outline
	fill   bool
	dash   []float64
}

// draw draws a figure, which m maps to the pen's paper.
func (f *figure) draw(p pen, m affine) {
	f.node(p, f.root, ways{m: m, fill: true})
}

func (f *figure) node(p pen, n *node, w ways) {
	if t := n.get("transform"); t != "" {
		w.m = w.m.then(transformOf(t))
	}
	if v := n.get("stroke-width"); v != "" {
		w.stroke = n.float("stroke-width")
	}
	if v := n.get("stroke"); v != "" {
		w.line = v != "none"
	}
	if v := n.get("fill"); v != "" {
		w.fill = v != "none" && v != "transparent"
	}
	if v := n.get("fill-opacity"); v == "0" {
		w.fill = false
	}
	if v := n.get("stroke-dasharray"); v != "" {
		w.dash = numbers(v)
	}
	switch n.name {
	case "title", "desc", "defs", "style":
		return
	case "use":
		id := strings.TrimPrefix(strings.TrimPrefix(n.get("href"), "#"), f.prefix)
		if g, ok := f.glyphs["="+id]; ok {
			m := w.m.then(affine{g.scale, 0, 0, -g.scale, n.float("x"), n.float("y")})
			p.fill(g.path, m)
		}
	case "path":
		f.path(p, parsePath(n.get("d")), w)
	case "polygon", "polyline":
		v := numbers(n.get("points"))
		var path []segment
		for i := 0; i+1 < len(v); i += 2 {
			op := byte('L')
			if i == 0 {
				op = 'M'
			}
			path = append(path, segment{op: op, p: [3]point{{v[i], v[i+1]}}})
		}
		if n.name == "polygon" {
			path = append(path, segment{op: 'Z'})
		}
		f.path(p, path, w)
	case "rect":
		x0, y0 := n.float("x"), n.float("y")
		x1, y1 := x0+n.float("width"), y0+n.float("height")
		f.path(p, []segment{{op: 'M', p: [3]point{{x0, y0}}}, {op: 'L', p: [3]point{{x1, y0}}}, {op: 'L', p: [3]point{{x1, y1}}}, {op: 'L', p: [3]point{{x0, y1}}}, {op: 'Z'}}, w)
	case "ellipse":
		f.path(p, ellipse(n.float("cx"), n.float("cy"), n.float("rx"), n.float("ry")), w)
	case "circle":
		f.path(p, ellipse(n.float("cx"), n.float("cy"), n.float("r"), n.float("r")), w)
	case "text":
		f.text(p, n, w)
		return
	}
	for _, k := range n.kids {
		f.node(p, k, w)
	}
}

func (f *figure) path(p pen, path []segment, w ways) {
	if w.fill && len(path) > 2 {
		p.fill(path, w.m)
	}
	if w.line && w.stroke > 0 {
		p.stroke(path, w.m, w.stroke, w.dash)
	}
}

func (f *figure) text(p pen, n *node, w ways) {
	if n.text == "" {
		return
	}
	st, size, x := styleOf(n), n.float("font-size"), n.float("x")
	switch width := f.fonts.width(n.text, st, size); n.get("text-anchor") {
	case "middle":
		x -= width / 2
	case "end":
		x -= width
	}
	for _, piece := range f.fonts.pieces(n.text, st) {
		at := point{x, n.float("y")}
		x += f.fonts.width(piece, st, size)
		if r, _ := utf8.DecodeRuneInString(piece); utf8.RuneCountInString(piece) == 1 {
			if d, ours := f.fonts.ours(r, st); ours {
				k := size / emUnits
				p.fill(d.path, w.m.then(affine{k, 0, 0, k, at.x, at.y}))
				p.unseen(piece, st, size, at, w.m)
				continue
			}
		}
		p.text(piece, st, size, at, w.m)
	}
}

// ellipse as four curves; 0.5523 is the usual approximation of a quarter of a circle.
func ellipse(cx, cy, rx, ry float64) []segment {
	const k = 0.5523
	at := func(x, y float64) point { return point{cx + x*rx, cy + y*ry} }
	return []segment{
		{op: 'M', p: [3]point{at(1, 0)}},
		{op: 'C', p: [3]point{at(1, k), at(k, 1), at(0, 1)}},
		{op: 'C', p: [3]point{at(-k, 1), at(-1, k), at(-1, 0)}},
		{op: 'C', p: [3]point{at(-1, -k), at(-k, -1), at(0, -1)}},
		{op: 'C', p: [3]point{at(k, -1), at(1, -k), at(1, 0)}},
		{op: 'Z'},
	}
}

// flat turns a path into polygons, curves cut so that they look round.
func flat(path []segment, m affine) (out [][]point, closed []bool) {
	var now []point
	done := func(c bool) {
		if len(now) > 1 {
			out, closed = append(out, now), append(closed, c)
		}
		now = nil
	}
	var at point
	for _, s := range path {
		switch s.op {
		case 'M':
			done(false)
			at = s.p[0]
			now = []point{m.at(at)}
		case 'L':
			at = s.p[0]
			now = append(now, m.at(at))
		case 'C':
			a, e := m.at(at), m.at(s.p[2])
			n := int(min(max(math.Hypot(e.x-a.x, e.y-a.y)/1.5, 6), 64))
			for k := 1; k <= n; k++ {
				now = append(now, m.at(cubic(at, s, float64(k)/float64(n))))
			}
			at = s.p[2]
		case 'Z':
			done(true)
		}
	}
	done(false)
	return out, closed
}
