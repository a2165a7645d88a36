package engrave

import (
	"cmp"
	"encoding/xml"
	"math"
	"slices"
	"strings"
	"testing"
)

// The tests read the finished SVG with encoding/xml and measure it anew, so that a fault in the
// layout's own measuring is seen.

// element of an SVG as encoding/xml sees it.
type shape struct {
	XMLName xml.Name
	Attrs   []xml.Attr `xml:",any,attr"`
	Kids    []shape    `xml:",any"`
	Text    string     `xml:",chardata"`
}

func (s *shape) attr(name string) string {
	for _, a := range s.Attrs {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func (s *shape) has(class string) bool {
	for _, c := range strings.Fields(s.attr("class")) {
		if c == class {
			return true
		}
	}
	return false
}

func (s *shape) number(name string) float64 {
	v := numbers(s.attr(name))
	if len(v) == 0 {
		return 0
	}
	return v[0]
}

// printed is one thing on the page with the boxes that it blackens.
type printed struct {
	kind  string
	note  string
	text  string
	group int // things of one group belong together
	boxes []box
}

// picture is what was read of an SVG.
type picture struct {
	fonts  *fonts
	defs   map[string]box
	things []printed
	ids    map[string]int
	marks  int
}

func readPicture(t testing.TB, svg string, f *fonts) *picture {
	t.Helper()
	var root shape
	if err := xml.Unmarshal([]byte(svg), &root); err != nil {
		t.Fatalf("the SVG is no XML: %v", err)
	}
	p := &picture{fonts: f, defs: map[string]box{}, ids: map[string]int{}}
	for i := range root.Kids {
		if root.Kids[i].XMLName.Local == "defs" {
			for j := range root.Kids[i].Kids {
				g := &root.Kids[i].Kids[j]
				var b box
				b = nothing()
				k := numbers(g.attr("transform"))
				for _, s := range parsePath(g.attr("d")) { // the hull of the control points holds the curve
					n := map[byte]int{'M': 1, 'L': 1, 'C': 3}[s.op]
					for _, q := range s.p[:n] {
						b = b.and(box{q.x * k[0], q.y * k[1], q.x * k[0], q.y * k[1]})
					}
				}
				p.defs[g.attr("id")] = b
			}
		}
	}
	p.read(&root, point{}, "", "", -1)
	return p
}

// solid are the classes that no mark may touch.
var solid = map[string]string{
	"notehead": "head", "accid": "accidental", "stem": "stem", "flag": "flag", "dots": "dot", "beam": "beam", "rest": "rest", "artic": "articulation",
	"fermata": "fermata", "clef": "clef", "keySig": "key", "meterSig": "meter", "arpeg": "arpeggio", "tupletNum": "tuplet",
}

func (p *picture) read(s *shape, at point, kind, note string, group int) {
	if s.XMLName.Local == "defs" || s.XMLName.Local == "title" {
		return
	}
	turn := 0.0
	var about point
	for _, part := range strings.SplitAfter(s.attr("transform"), ")") {
		v := numbers(part)
		switch {
		case strings.Contains(part, "translate"):
			at = point{at.x + v[0], at.y + v[1]}
		case strings.Contains(part, "rotate") && len(v) == 3:
			turn, about = v[0], point{at.x + v[1], at.y + v[2]}
		}
	}
	if id := s.attr("id"); id != "" {
		p.ids[id]++
	}
	for class, k := range solid {
		if s.has(class) {
			kind = k
		}
	}
	if s.has("note") || s.has("rest") {
		note = s.attr("id")
	}
	if s.has("mark") || s.has("dynam") || s.has("hairpin") || (s.has("overlay") && !s.has("ring")) {
		p.marks++
		group = p.marks
		kind = strings.Fields(s.attr("class"))[len(strings.Fields(s.attr("class")))-1]
		if s.has("overlay") {
			kind = strings.Fields(s.attr("class"))[1]
		}
		note = s.attr("data-note")
	}
	first := len(p.things)
	if kind != "" {
		if boxes := p.boxes(s, at); len(boxes) > 0 {
			p.things = append(p.things, printed{kind: kind, note: note, text: s.Text, group: group, boxes: boxes})
		}
	}
	for i := range s.Kids {
		p.read(&s.Kids[i], at, kind, note, group)
	}
	if turn != 0 { // a quarter turn to the left: what ran to the right runs upwards
		for i := first; i < len(p.things); i++ {
			for j, b := range p.things[i].boxes {
				sin, cos := math.Sincos(turn * math.Pi / 180)
				q := nothing()
				for _, c := range []point{{b.x0, b.y0}, {b.x1, b.y1}} {
					x, y := c.x-about.x, c.y-about.y
					r := point{about.x + x*cos - y*sin, about.y + x*sin + y*cos}
					q = q.and(box{r.x, r.y, r.x, r.y})
				}
				p.things[i].boxes[j] = q
			}
		}
	}
}

func (p *picture) boxes(s *shape, at point) []box {
	sw := s.number("stroke-width") / 2
	one := func(x0, y0, x1, y1 float64) []box {
		return []box{{min(x0, x1) + at.x, min(y0, y1) + at.y, max(x0, x1) + at.x, max(y0, y1) + at.y}}
	}
	switch s.XMLName.Local {
	case "use":
		b := p.defs[strings.TrimPrefix(s.attr("href"), "#")]
		return one(s.number("x")+b.x0, s.number("y")+b.y0, s.number("x")+b.x1, s.number("y")+b.y1)
	case "ellipse":
		return one(s.number("cx")-s.number("rx"), s.number("cy")-s.number("ry"), s.number("cx")+s.number("rx"), s.number("cy")+s.number("ry"))
	case "circle":
		r := s.number("r") + sw
		return one(s.number("cx")-r, s.number("cy")-r, s.number("cx")+r, s.number("cy")+r)
	case "rect":
		return one(s.number("x"), s.number("y"), s.number("x")+s.number("width"), s.number("y")+s.number("height"))
	case "path":
		b := nothing()
		for _, g := range parsePath(s.attr("d")) {
			n := map[byte]int{'M': 1, 'L': 1, 'C': 3}[g.op]
			for _, q := range g.p[:n] {
				b = b.and(box{q.x, q.y, q.x, q.y})
			}
		}
		if b.empty() {
			return nil
		}
		return one(b.x0-sw, b.y0-sw, b.x1+sw, b.y1+sw)
	case "polygon", "polyline": // a slanted strip or line in slices
		v := numbers(s.attr("points"))
		const parts = 16
		var out []box
		if len(v) == 8 {
			for i := range parts {
				a, b := float64(i)/parts, float64(i+1)/parts
				x := func(t float64) float64 { return v[0] + (v[2]-v[0])*t }
				up := func(t float64) float64 { return v[1] + (v[3]-v[1])*t }
				low := func(t float64) float64 { return v[7] + (v[5]-v[7])*t }
				out = append(out, one(x(a), min(up(a), up(b)), x(b), max(low(a), low(b)))...)
			}
			return out
		}
		for i := 0; i+3 < len(v); i += 2 {
			for k := range parts {
				a, b := float64(k)/parts, float64(k+1)/parts
				x := func(t float64) float64 { return v[i] + (v[i+2]-v[i])*t }
				y := func(t float64) float64 { return v[i+1] + (v[i+3]-v[i+1])*t }
				out = append(out, one(x(a), y(a)-sw, x(b), y(b)+sw)...)
			}
		}
		return out
	case "text":
		n := element("text", "font-style", s.attr("font-style"), "font-weight", s.attr("font-weight"))
		size := s.number("font-size")
		b := p.fonts.ink(s.Text, styleOf(n), size)
		x := s.number("x")
		switch w := p.fonts.width(s.Text, styleOf(n), size); s.attr("text-anchor") {
		case "middle":
			x -= w / 2
		case "end":
			x -= w
		}
		return one(x+b.x0, s.number("y")+b.y0, x+b.x1, s.number("y")+b.y1)
	}
	return nil
}

// collisions lists every mark that touches something it may not.
func (p *picture) collisions() (out []string) {
	const slack = 2 // units, a ninetieth of a staff space: rounding of coordinates
	type flat struct {
		box
		t *printed
	}
	var all []flat
	for i := range p.things {
		for _, b := range p.things[i].boxes {
			all = append(all, flat{b.grown(-slack/2, -slack/2), &p.things[i]})
		}
	}
	seen := map[[2]*printed]bool{}
	slices.SortFunc(all, func(a, b flat) int { return cmp.Compare(a.x0, b.x0) })
	widest := 0.0
	for i := range all {
		widest = max(widest, all[i].width())
	}
	for i := range all {
		from, _ := slices.BinarySearchFunc(all, all[i].x0-widest, func(f flat, x float64) int { return cmp.Compare(f.x0, x) })
		for j := from; j < len(all) && all[j].x0 < all[i].x1; j++ {
			a, b := all[i], all[j]
			if a.t == b.t || a.t.group < 0 || a.t.group == b.t.group || (b.t.group >= 0 && j < i) || !a.hits(b.box) || seen[[2]*printed{a.t, b.t}] {
				continue
			}
			seen[[2]*printed{a.t, b.t}] = true
			out = append(out, a.t.kind+" "+strings.TrimSpace(a.t.text)+" of "+a.t.note+" touches "+b.t.kind+" "+strings.TrimSpace(b.t.text)+" of "+b.t.note)
		}
	}
	return out
}
