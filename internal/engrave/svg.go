package engrave

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// figure is one finished drawing: a whole score on a strip, or one page of paper.
type figure struct {
	root          *node
	width, height float64 // in units
	glyphs        map[string]glyph
	fonts         *fonts
	prefix        string // of the glyphs' ids
}

// Margins of a strip, in units.
const (
	stripSide  = 0.5 * space
	bracketOut = 1.3 * space // that a bracket sticks out to the left
	stripTop   = 0.6 * space
)

// finish cleans the systems of what the page does not need.
func (l *layout) finish() {
	known := map[string]bool{}
	for id := range l.times {
		known[id], known[notation.TabID(id)] = true, true
	}
	for i := range l.s.Bars {
		known[notation.BarID(i)] = true
	}
	for _, sys := range l.sh.systems {
		for _, m := range sys.measures {
			m.node.set("role", "group")
			m.node.set("aria-label", l.barInWords(m.bar))
		}
		sys.node.walk(func(n *node) bool {
			l.clean(n, known)
			return true
		})
	}
}

// shown are the classes that styles, scripts and tests may rely on.
var shown = map[string]bool{
	"system": true, "measure": true, "staff": true, "layer": true, "note": true, "rest": true, "mRest": true, "chord": true, "notehead": true,
	"accid": true, "stem": true, "flag": true, "beam": true, "dots": true, "slur": true, "tie": true, "dynam": true, "hairpin": true, "ending": true,
	"artic": true, "fermata": true, "arpeg": true, "barLine": true, "clef": true, "keySig": true, "meterSig": true, "tabGrp": true, "verse": true,
	"tuplet": true, "tupletNum": true, "tupletBracket": true, "repeatMark": true, "mark": true, "marks": true, "overlay": true, "graceGrp": true,
	"trill": true, "mordent": true, "turn": true, "gliss": true, "octave": true, "lv": true, "ledgerLines": true, "lines": true,
}

func (l *layout) clean(n *node, known map[string]bool) {
	id := n.get("id")
	if id != "" && !known[id] {
		n.drop("id")
		id = ""
	}
	if id != "" && l.o.Prefix != "" {
		n.set("id", l.o.Prefix+id)
	}
	n.drop("data-staff", "data-startid", "data-endid", "data-plist")
	if c := n.class(); c != "" && !shown[c] {
		n.drop("class")
	}
	n.kids = slices.DeleteFunc(n.kids, func(k *node) bool { return k.name == "g" && len(k.kids) == 0 })
	switch n.name {
	case "use":
		if n.get("x") == "" && n.get("transform") != "" {
			m := transformOf(n.get("transform"))
			code := glyphID(n.get("href"))
			n.attrs = n.attrs[:0]
			n.set("href", "#"+l.o.Prefix+l.sh.scaled(code, m.a))
			n.set("x", num(m.e))
			n.set("y", num(m.f))
		}
	case "text":
		flatten(n)
		if n.get("font-size") == "" && len(n.text) > 0 {
			n.set("font-size", "360")
		}
		n.set("font-size", strings.TrimSuffix(n.get("font-size"), "px"))
		l.sh.hold(n)
	case "path", "rect", "polygon", "polyline", "ellipse":
		if n.get("stroke-width") != "" && n.get("stroke") == "none" {
			n.drop("stroke")
		}
	}
}

// hold makes a text as wide as it was laid out, whatever font the reader's machine takes for it.
func (sh *sheet) hold(n *node) {
	if n.get("textLength") == "" && n.text != "" {
		n.set("textLength", num(sh.fonts.width(n.text, styleOf(n), n.float("font-size"))))
		n.set("lengthAdjust", "spacingAndGlyphs")
	}
}

// commonScale is that of signs at full size: the library draws them at 0.72 of the font's units.
const commonScale = 0.72

// scaled notes that a glyph is drawn at a scale and gives its id in the drawing.
func (sh *sheet) scaled(code string, scale float64) string {
	id := code
	if scale != commonScale {
		id += "-" + strconv.Itoa(int(scale*1000+0.5))
	}
	if _, ok := sh.glyphs["="+id]; !ok {
		g := sh.glyphs[code]
		g.box = box{g.box.x0 * scale, g.box.y0 * scale, g.box.x1 * scale, g.box.y1 * scale}
		g.scale = scale
		sh.glyphs["="+id] = g
		sh.used = append(sh.used, id)
	}
	return id
}

// strip puts all systems below one another on one drawing as wide as they are.
func (l *layout) strip(units float64) *figure {
	f := &figure{width: units, glyphs: l.sh.glyphs, fonts: l.sh.fonts, prefix: l.o.Prefix}
	body := element("g", "class", "score", "stroke", "currentColor", "stroke-width", "0")
	y := l.title(body, units, stripTop)
	for _, sys := range l.sh.systems {
		dy := y - sys.box.y0
		sys.node.set("transform", "translate("+num(l.left())+" "+num(dy)+")")
		body.kids = append(body.kids, sys.node)
		y += sys.box.height() + systemClear
		if l.o.Under > 0 {
			sys.tellPlaces(l.o.Under * space)
			y += l.o.Under * space
		}
	}
	y = l.legend(body, units, y-systemClear+1.2*space)
	f.height = y + stripTop
	f.root = body
	return f
}

// tellPlaces writes where a system and its bars lie, in the system's own units: data-left and data-right
// from the first note to the end, data-top of the highest staff, data-low of the lowest ink, and
// data-room free below that; of each bar data-bar (its index), data-left, data-first (its first note) and
// data-right.
func (sys *system) tellPlaces(room float64) {
	n := sys.node
	n.set("data-left", num(sys.measures[0].x0))
	n.set("data-right", num(sys.right))
	n.set("data-top", num(sys.staves[0].top+sys.shift[0]))
	n.set("data-low", num(sys.box.y1))
	n.set("data-room", num(room))
	for _, m := range sys.measures {
		m.node.set("data-bar", itoa(m.bar))
		m.node.set("data-left", num(m.x0))
		m.node.set("data-right", num(m.x1))
		if m.first < m.x1 {
			m.node.set("data-first", num(m.first))
		}
	}
}

// left is the margin for what sticks out to the left.
func (l *layout) left() float64 {
	for _, sys := range l.sh.systems {
		if sys.box.x0 < -0.2*space {
			return bracketOut
		}
	}
	return stripSide
}

// smallerTitle is how far a long title shrinks before it takes two lines. Our choice; no source.
const smallerTitle = 0.75

// title writes title, subtitle and composer, and gives where the music may begin.
func (l *layout) title(body *node, units, y float64) float64 {
	if l.o.NoTitle || l.s.Title == "" && l.s.Subtitle == "" && l.s.Composer == "" {
		return y
	}
	f := l.sh.fonts
	line := func(text string, s style, size float64, anchor string) {
		if text == "" {
			return
		}
		wide := units - 2*space
		if w := f.width(text, s, size); w > wide {
			size *= max(wide/w, smallerTitle)
		}
		x := units / 2
		if anchor == "end" {
			x = units - stripSide
		}
		for _, piece := range f.wrapped(text, s, size, wide) {
			at := size
			if w := f.width(piece, s, size); w > wide {
				at *= wide / w
			}
			y += size
			t := body.add("text", "class", "title", "x", num(x), "y", num(y), "font-size", num(at), "text-anchor", anchor)
			styled(t, s)
			t.text = piece
			l.sh.hold(t)
			y += 0.15 * size
		}
		y += 0.2 * size
	}
	line(l.s.Title, regular, 3.4*space, "middle")
	line(l.s.Subtitle, italic, 2.3*space, "middle")
	line(l.s.Composer, regular, 2.0*space, "end")
	return y + 1.2*space
}

// legend explains our own signs below the music, where they were used.
func (l *layout) legend(body *node, units, y float64) float64 {
	used := map[music.Stroke]bool{}
	for _, h := range l.hands {
		used[h.stroke] = used[h.stroke] || l.onPage(h.note)
	}
	x, drawn := l.left(), false
	for _, s := range []music.Stroke{music.RestStroke, music.FreeStroke} {
		if !used[s] {
			continue
		}
		k := strokeInk("", s)
		k.to(k.box.moved(x-k.box.x0, y+1.1*space-k.box.y1))
		for _, d := range k.draw {
			shifted(d, k.x, k.y)
			body.kids = append(body.kids, d)
		}
		t := body.add("text", "class", "legend", "x", num(k.box.x1+0.5*space), "y", num(y+1.2*space), "font-size", num(labelSize))
		if t.text = l.o.Legend[s]; t.text == "" {
			t.text = string(s)
		}
		l.sh.hold(t)
		x, drawn = k.box.x1+0.5*space+l.sh.fonts.width(t.text, regular, labelSize)+2*space, true
	}
	if drawn {
		return y + 1.8*space
	}
	return y - 0.6*space
}

func (l *layout) onPage(note string) bool {
	for _, sys := range l.sh.systems {
		if sys.notes[note] != nil {
			return true
		}
	}
	return false
}

// svg writes the figure at a width in pixels.
func (l *layout) svg(f *figure, widthPx float64) string {
	k := widthPx / f.width
	root := element("svg", "xmlns", "http://www.w3.org/2000/svg", "class", "antiphon-score", "width", px(widthPx), "height", px(f.height*k),
		"viewBox", "0 0 "+num(f.width)+" "+num(f.height), "role", "group", "color", "#111", "fill", "currentColor",
		"font-family", "Tinos, 'Liberation Serif', 'Times New Roman', Times, serif")
	title := root.add("title")
	title.text = l.inWords()
	defs := root.add("defs")
	for _, id := range l.sh.used {
		g := l.sh.glyphs["="+id]
		s := strconv.FormatFloat(g.scale, 'f', -1, 64)
		defs.add("path", "id", l.o.Prefix+id, "d", g.data, "transform", "scale("+s+",-"+s+")")
	}
	root.kids = append(root.kids, f.root)
	var b strings.Builder
	root.write(&b)
	b.WriteByte('\n')
	return b.String()
}

// inWords is what a screen reader says of the whole drawing.
func (l *layout) inWords() string {
	title := l.s.Title
	if title == "" {
		title = "Music"
	}
	return fmt.Sprintf("%s, %d bars", title, len(l.s.Bars))
}

// barInWords is what a screen reader says of a bar: its notes in order, with what the hands do.
func (l *layout) barInWords(bar int) string {
	if bar < 0 || bar >= len(l.s.Bars) {
		return ""
	}
	var b strings.Builder
	b.WriteString("Bar " + l.s.Bars[bar].Number + ":")
	l.inBar(bar, func(h *hand) {
		b.WriteString(" " + h.name.Name())
		if h.finger != "" {
			b.WriteString(" finger " + h.finger)
		}
		if h.pluck != "" {
			b.WriteString(" " + h.pluck)
		}
		b.WriteByte(';')
	})
	return strings.TrimSuffix(b.String(), ";")
}

// inBar visits the notes of a bar in order of time.
func (l *layout) inBar(bar int, visit func(*hand)) {
	from, _ := slices.BinarySearchFunc(l.hands, bar, func(h hand, bar int) int { return h.bar - bar })
	for i := from; i < len(l.hands) && l.hands[i].bar == bar; i++ {
		visit(&l.hands[i])
	}
}
