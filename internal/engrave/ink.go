package engrave

import (
	"strings"

	"antiphon/internal/music"
)

// Sizes of what we add, in staff spaces. Our choice after looking at printed editions; no source.
const (
	fingerSize   = 1.62 * space
	pluckSize    = 1.75 * space
	circleRadius = 0.80 * space
	circleText   = 1.32 * space
	wordsSize    = 1.95 * space
	positionSize = 1.90 * space
	tempoSize    = 2.05 * space
	nameSize     = 1.55 * space
	labelSize    = 1.60 * space
	numberSize   = 1.45 * space
	markGap      = 0.28 * space // between a mark and anything else
)

// ink is a piece of drawing with its place: a mark that is still to be moved where there is room.
type ink struct {
	kind string
	note string
	box  box     // around what it blackens, at its present place
	draw []*node // drawn for the box at its first place
	x, y float64 // by which it has been moved since
}

func (k *ink) to(b box) {
	k.x += b.x0 - k.box.x0
	k.y += b.y0 - k.box.y0
	k.box = b
}

// node gives the drawing at its place.
func (k *ink) node() *node {
	class := "mark " + k.kind
	g := element("g", "class", class, "data-note", k.note)
	for _, d := range k.draw {
		shifted(d, k.x, k.y)
		g.kids = append(g.kids, d)
	}
	return g
}

// shifted moves the coordinates of our own simple shapes.
func shifted(n *node, dx, dy float64) {
	move := func(name string, by float64) {
		if n.get(name) != "" {
			n.set(name, num(n.float(name)+by))
		}
	}
	switch n.name {
	case "text":
		move("x", dx)
		move("y", dy)
	case "circle", "ellipse":
		move("cx", dx)
		move("cy", dy)
	case "use":
		move("x", dx)
		move("y", dy)
	case "path":
		n.set("d", movedPath(n.get("d"), dx, dy))
	}
}

// movedPath moves a path of absolute M, L and C.
func movedPath(d string, dx, dy float64) string {
	var b strings.Builder
	for _, s := range parsePath(d) {
		switch s.op {
		case 'Z':
			b.WriteByte('Z')
			continue
		case 'C':
			b.WriteString("C" + num(s.p[0].x+dx) + " " + num(s.p[0].y+dy) + " " + num(s.p[1].x+dx) + " " + num(s.p[1].y+dy) + " " + num(s.p[2].x+dx) + " " + num(s.p[2].y+dy))
			continue
		}
		b.WriteByte(s.op)
		b.WriteString(num(s.p[0].x+dx) + " " + num(s.p[0].y+dy))
	}
	return b.String()
}

// textInk is a text whose ink begins at x with its baseline at y.
func (f *fonts) textInk(kind, note, text string, s style, size, x, y float64) *ink {
	b := f.ink(text, s, size)
	n := element("text", "x", num(x-b.x0), "y", num(y), "font-size", num(size))
	styled(n, s)
	n.text = text
	return &ink{kind: kind, note: note, box: b.moved(x-b.x0, y), draw: []*node{n}}
}

func styled(n *node, s style) {
	if s == italic || s == boldItalic {
		n.set("font-style", "italic")
	}
	if s == bold || s == boldItalic {
		n.set("font-weight", "bold")
	}
}

// centred moves ink so that its middle stands at x.
func (k *ink) centred(x float64) *ink {
	k.to(k.box.moved(x-k.box.midX(), 0))
	return k
}

// circleInk is a number in a circle with its middle at 0, 0.
func (f *fonts) circleInk(kind, note, text string) *ink {
	b := f.ink(text, regular, circleText)
	c := element("circle", "cx", "0", "cy", "0", "r", num(circleRadius), "fill", "none", "stroke", "currentColor", "stroke-width", "20")
	t := element("text", "x", num(-b.midX()), "y", num(-b.midY()), "font-size", num(circleText))
	t.text = text
	r := circleRadius + 10
	return &ink{kind: kind, note: note, box: box{-r, -r, r, r}, draw: []*node{c, t}}
}

// strokeInk is our sign for the stroke: a wedge that comes to rest on a line, or an arc that stays free.
func strokeInk(note string, s music.Stroke) *ink {
	w, h := 0.62*space, 0.62*space
	var d string
	if s == music.RestStroke {
		d = "M" + num(-w) + " " + num(-h) + "L0 0L" + num(w) + " " + num(-h)
	} else {
		d = "M" + num(-w) + " 0C" + num(-w*0.6) + " " + num(-h*1.1) + " " + num(w*0.6) + " " + num(-h*1.1) + " " + num(w) + " 0"
	}
	n := element("path", "d", d, "fill", "none", "stroke", "currentColor", "stroke-width", "26")
	kind := "rest-stroke"
	if s == music.FreeStroke {
		kind = "free-stroke"
	}
	return &ink{kind: kind, note: note, box: union(pathBoxes(parsePath(d), identity(), 26)), draw: []*node{n}}
}

// lineInk is a straight line with an optional dash.
func lineInk(kind string, from, to point, width float64, dash string) *ink {
	d := "M" + num(from.x) + " " + num(from.y) + "L" + num(to.x) + " " + num(to.y)
	n := element("path", "d", d, "fill", "none", "stroke", "currentColor", "stroke-width", num(width), "stroke-dasharray", dash)
	return &ink{kind: kind, box: union(pathBoxes(parsePath(d), identity(), width)), draw: []*node{n}}
}

// joined makes one ink of several at their present places.
func joined(kind string, parts ...*ink) *ink {
	all := &ink{kind: kind, box: nothing()}
	for _, p := range parts {
		for _, d := range p.draw {
			shifted(d, p.x, p.y)
			all.draw = append(all.draw, d)
		}
		all.box = all.box.and(p.box)
	}
	return all
}

// letterName and syllable name a pitch for saying aloud. Fixed do; sharps and flats as signs.
func nameOf(p music.Pitch, n Names) string {
	text := string(p.Step)
	if n == DoReMi {
		text = map[byte]string{'C': "do", 'D': "re", 'E': "mi", 'F': "fa", 'G': "sol", 'A': "la", 'B': "si"}[p.Step]
	}
	switch {
	case p.Alter >= 2:
		text += "x"
	case p.Alter == 1:
		text += "♯"
	case p.Alter == -1:
		text += "♭"
	case p.Alter <= -2:
		text += "♭♭"
	}
	return text
}
