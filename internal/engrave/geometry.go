package engrave

import (
	"math"
	"strconv"
	"strings"
)

// Lengths inside a drawing are in the engraving library's units: 180 make one staff space.
const space = 180.0

// box is a rectangle; y grows downwards.
type box struct{ x0, y0, x1, y1 float64 }

func nothing() box {
	return box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
}

func (b box) empty() bool { return b.x1 < b.x0 || b.y1 < b.y0 }

func (b box) and(c box) box {
	return box{min(b.x0, c.x0), min(b.y0, c.y0), max(b.x1, c.x1), max(b.y1, c.y1)}
}

func (b box) hits(c box) bool { return b.x0 < c.x1 && c.x0 < b.x1 && b.y0 < c.y1 && c.y0 < b.y1 }

func (b box) grown(x, y float64) box { return box{b.x0 - x, b.y0 - y, b.x1 + x, b.y1 + y} }

func (b box) moved(dx, dy float64) box { return box{b.x0 + dx, b.y0 + dy, b.x1 + dx, b.y1 + dy} }

func (b box) width() float64 { return b.x1 - b.x0 }

func (b box) height() float64 { return b.y1 - b.y0 }

func (b box) midX() float64 { return (b.x0 + b.x1) / 2 }

func (b box) midY() float64 { return (b.y0 + b.y1) / 2 }

// point of a drawing.
type point struct{ x, y float64 }

// affine maps (x, y) to (a·x + c·y + e, b·x + d·y + f).
type affine struct{ a, b, c, d, e, f float64 }

func identity() affine { return affine{a: 1, d: 1} }

// then gives the map that does n first and m after it.
func (m affine) then(n affine) affine {
	return affine{m.a*n.a + m.c*n.b, m.b*n.a + m.d*n.b, m.a*n.c + m.c*n.d, m.b*n.c + m.d*n.d, m.a*n.e + m.c*n.f + m.e, m.b*n.e + m.d*n.f + m.f}
}

func (m affine) at(p point) point { return point{m.a*p.x + m.c*p.y + m.e, m.b*p.x + m.d*p.y + m.f} }

// scale is by how much lengths grow.
func (m affine) scale() float64 { return math.Sqrt(math.Abs(m.a*m.d - m.b*m.c)) }

// transformOf reads translate, scale and rotate.
func transformOf(s string) affine {
	m := identity()
	for s != "" {
		name, rest, ok := strings.Cut(s, "(")
		if !ok {
			break
		}
		args, after, _ := strings.Cut(rest, ")")
		v := numbers(args)
		switch strings.TrimSpace(name) {
		case "translate":
			if len(v) == 1 {
				v = append(v, 0)
			}
			if len(v) == 2 {
				m = m.then(affine{1, 0, 0, 1, v[0], v[1]})
			}
		case "scale":
			if len(v) == 1 {
				v = append(v, v[0])
			}
			if len(v) == 2 {
				m = m.then(affine{v[0], 0, 0, v[1], 0, 0})
			}
		case "rotate":
			if len(v) >= 1 {
				sin, cos := math.Sincos(v[0] * math.Pi / 180)
				turn := affine{cos, sin, -sin, cos, 0, 0}
				if len(v) == 3 {
					turn = affine{1, 0, 0, 1, v[1], v[2]}.then(turn).then(affine{1, 0, 0, 1, -v[1], -v[2]})
				}
				m = m.then(turn)
			}
		}
		s = strings.TrimLeft(after, " ,")
	}
	return m
}

// numbers reads a list of numbers with whatever stands between them.
func numbers(s string) (out []float64) {
	for i := 0; i < len(s); {
		c := s[i]
		if c != '-' && c != '.' && (c < '0' || c > '9') {
			i++
			continue
		}
		j := i + 1
		for j < len(s) && (s[j] == '.' || (s[j] >= '0' && s[j] <= '9')) {
			j++
		}
		if v, err := strconv.ParseFloat(s[i:j], 64); err == nil {
			out = append(out, v)
		}
		i = j
	}
	return out
}

// segment of a path: a move, a line, or a cubic curve; or the closing of the outline.
type segment struct {
	op byte // 'M', 'L', 'C', 'Z'
	p  [3]point
}

// parsePath reads the path data that the library and its music font use: M L H V C S Q T Z, both cases.
func parsePath(d string) (out []segment) {
	var at, start, ctrl point
	var cmd, last byte
	for i := 0; i < len(d); {
		c := d[i]
		switch {
		case c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z':
			cmd = c
			i++
			if cmd == 'Z' || cmd == 'z' {
				out = append(out, segment{op: 'Z'})
				at, last = start, 'Z'
				continue
			}
		case c == ' ' || c == ',' || c == '\n' || c == '\t':
			i++
			continue
		}
		need := map[byte]int{'M': 2, 'L': 2, 'H': 1, 'V': 1, 'C': 6, 'S': 4, 'Q': 4, 'T': 2}[upper(cmd)]
		if need == 0 {
			return out
		}
		v, next := take(d, i, need)
		if len(v) < need {
			return out
		}
		i = next
		var rel point
		if cmd >= 'a' {
			rel = at
		}
		pt := func(k int) point { return point{v[k] + rel.x, v[k+1] + rel.y} }
		switch upper(cmd) {
		case 'M':
			at = pt(0)
			start = at
			out = append(out, segment{op: 'M', p: [3]point{at}})
			if cmd == 'm' {
				cmd = 'l'
			} else {
				cmd = 'L'
			}
			last = 'M'
			continue
		case 'L':
			at = pt(0)
			out = append(out, segment{op: 'L', p: [3]point{at}})
		case 'H':
			at.x = v[0] + rel.x
			out = append(out, segment{op: 'L', p: [3]point{at}})
		case 'V':
			at.y = v[0] + rel.y
			out = append(out, segment{op: 'L', p: [3]point{at}})
		case 'C':
			a, b, e := pt(0), pt(2), pt(4)
			out = append(out, segment{op: 'C', p: [3]point{a, b, e}})
			ctrl, at = b, e
		case 'S':
			a, b, e := at, pt(0), pt(2)
			if last == 'C' || last == 'S' {
				a = point{2*at.x - ctrl.x, 2*at.y - ctrl.y}
			}
			out = append(out, segment{op: 'C', p: [3]point{a, b, e}})
			ctrl, at = b, e
		case 'Q', 'T':
			q, e := at, at
			if upper(cmd) == 'Q' {
				q, e = pt(0), pt(2)
			} else {
				e = pt(0)
				if last == 'Q' || last == 'T' {
					q = point{2*at.x - ctrl.x, 2*at.y - ctrl.y}
				}
			}
			a := point{at.x + 2.0/3*(q.x-at.x), at.y + 2.0/3*(q.y-at.y)}
			b := point{e.x + 2.0/3*(q.x-e.x), e.y + 2.0/3*(q.y-e.y)}
			out = append(out, segment{op: 'C', p: [3]point{a, b, e}})
			ctrl, at = q, e
		}
		last = upper(cmd)
	}
	return out
}

func upper(c byte) byte {
	if c >= 'a' {
		return c - 'a' + 'A'
	}
	return c
}

// take reads up to n numbers of path data, where signs and points may stand for spaces.
func take(d string, i, n int) (v []float64, next int) {
	for len(v) < n {
		for i < len(d) && (d[i] == ' ' || d[i] == ',' || d[i] == '\n' || d[i] == '\t') {
			i++
		}
		j := i
		if j < len(d) && (d[j] == '-' || d[j] == '+') {
			j++
		}
		dot := false
		for j < len(d) && (d[j] >= '0' && d[j] <= '9' || d[j] == '.' && !dot) {
			dot = dot || d[j] == '.'
			j++
		}
		f, err := strconv.ParseFloat(d[i:j], 64)
		if err != nil {
			return v, i
		}
		v = append(v, f)
		i = j
	}
	return v, i
}

// cubic is the point at t of a curve from a.
func cubic(a point, s segment, t float64) point {
	u := 1 - t
	w0, w1, w2, w3 := u*u*u, 3*u*u*t, 3*u*t*t, t*t*t
	return point{w0*a.x + w1*s.p[0].x + w2*s.p[1].x + w3*s.p[2].x, w0*a.y + w1*s.p[0].y + w2*s.p[1].y + w3*s.p[2].y}
}

// slices of a curve that are turned into boxes of their own, so that there is room below an arch.
const curveSlices = 12

// pathBoxes gives boxes that cover a path after the map m, with half the width of its stroke around it.
func pathBoxes(segs []segment, m affine, stroke float64) (out []box) {
	var at, start point
	cover := func(a, b point) {
		p, q := m.at(a), m.at(b)
		out = append(out, box{min(p.x, q.x), min(p.y, q.y), max(p.x, q.x), max(p.y, q.y)}.grown(stroke/2, stroke/2))
	}
	for _, s := range segs {
		switch s.op {
		case 'M':
			at, start = s.p[0], s.p[0]
		case 'L':
			cover(at, s.p[0])
			at = s.p[0]
		case 'C':
			from := at
			for k := 1; k <= curveSlices; k++ {
				to := cubic(at, s, float64(k)/curveSlices)
				cover(from, to)
				from = to
			}
			at = s.p[2]
		case 'Z':
			if at != start {
				cover(at, start)
			}
			at = start
		}
	}
	return out
}

func union(list []box) box {
	all := nothing()
	for _, b := range list {
		all = all.and(b)
	}
	return all
}
