package engrave

import (
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
	lines    [][]*node // of each staff, as the library drew them
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
