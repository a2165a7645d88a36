package engrave

import (
	"math"
	"strconv"
	"strings"
)

// obstacle is something printed that a mark must not touch.
type obstacle struct {
	box
	kind string // "head", "stem", "slur", …
	note string // the note that it belongs to; "" none
}

// staffLines is where one staff of a system lies.
type staffLines struct {
	top, bottom float64
	tab         bool
	gap         float64 // between two lines
}

// printedNote is where a note or rest of the score has come to lie.
type printedNote struct {
	id      string
	staff   int // of the system, from 0
	measure int // of the system
	head    box
	stem    box // empty for none
	up      bool
	rest    bool
	small   bool // a grace note
}

// measureBox is one bar of a system.
type measureBox struct {
	node   *node
	bar    int // index into Score.Bars
	x0, x1 float64
	first  float64 // where its notes begin
}

// mover is something that the library drew and that is moved to where there is room.
type mover struct {
	node  *node
	kind  string // "dynam", "hairpin", "ending", "sign"
	box   box
	staff int
	above bool
	dy    float64
}

// system is one line of the page.
type system struct {
	node     *node
	measures []measureBox
	staves   []staffLines
	fixed    [][]obstacle // by staff
	movers   []*mover
	notes    map[string]*printedNote
	onsets   [][]onset // by bar, when they are first asked for
	crossing []*node   // what runs from staff to staff: barlines, brackets
	owned    [][]*node
	marks    [][]*node // what we add, by staff
	shift    []float64 // by which each staff is moved down
	right    float64
	box      box // of all, after its staves were spread
}

// sheet is a whole score as the library drew it, taken apart.
type sheet struct {
	systems []*system
	glyphs  map[string]glyph // the library's outlines by their id in the drawing
	used    []string         // ids of the glyphs that are drawn, in order of first use
	fonts   *fonts
}

// glyph is a sign of the music font.
type glyph struct {
	data  string // path data, y upwards
	path  []segment
	box   box
	scale float64 // at which a drawing uses it; 0 as the font has it
}

// readSheet takes the library's pages apart.
func readSheet(pages []string, f *fonts) (*sheet, error) {
	sh := &sheet{glyphs: map[string]glyph{}, fonts: f}
	for _, p := range pages {
		root, err := parseDrawing(p)
		if err != nil {
			return nil, err
		}
		root.walk(func(n *node) bool {
			switch {
			case n.name == "defs":
				sh.readGlyphs(n)
				return false
			case n.class() == "system":
				sh.systems = append(sh.systems, sh.readSystem(n))
				return false
			}
			return true
		})
	}
	if len(sh.systems) == 0 {
		return nil, errDrawing
	}
	return sh, nil
}

func (sh *sheet) readGlyphs(defs *node) {
	for _, g := range defs.kids {
		for _, p := range g.kids {
			segs := parsePath(p.get("d"))
			m := transformOf(p.get("transform"))
			sh.glyphs[glyphID(g.get("id"))] = glyph{data: p.get("d"), path: segs, box: union(pathBoxes(segs, m, 0))}
		}
	}
}

// glyphID is the code of a glyph without the drawing's own ending: "E0A4-l19nj5e9" is E0A4.
func glyphID(id string) string {
	code, _, _ := strings.Cut(strings.TrimPrefix(id, "#"), "-")
	return code
}

// kindOf names what an element of a class is to a mark that looks for room; "" is as its parent.
var kindOf = map[string]string{
	"notehead": "head", "accid": "accid", "stem": "stem", "flag": "flag", "dots": "dot", "beam": "beam", "rest": "rest", "mRest": "rest",
	"multiRest": "rest", "artic": "artic", "slur": "slur", "tie": "tie", "lv": "tie", "tupletNum": "tuplet", "tupletBracket": "tuplet",
	"ledgerLines": "ledger", "clef": "clef", "keySig": "key", "meterSig": "meter", "barLine": "barline", "arpeg": "arpeggio",
	"fermata": "fermata", "trill": "ornament", "mordent": "ornament", "turn": "ornament", "verse": "verse", "syl": "verse",
	"gliss": "slur", "breath": "ornament", "caesura": "ornament", "octave": "octave", "bTrem": "tremolo", "tabGrp": "tabnumber",
	"note": "head", "stemMod": "stem",
}

func (sh *sheet) readSystem(n *node) *system {
	sys := &system{node: n, notes: map[string]*printedNote{}}
	for _, k := range n.kids { // barlines and staves first: they say where everything is
		if k.class() == "measure" {
			sys.readMeasureStaves(k)
		}
	}
	count := len(sys.staves)
	sys.fixed, sys.owned = make([][]obstacle, count), make([][]*node, count)
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
	return sys
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
