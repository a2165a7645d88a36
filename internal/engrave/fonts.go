package engrave

import (
	"fmt"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// style of the text font.
type style int

const (
	regular style = iota
	italic
	bold
	boldItalic
	styles
)

func (s style) name() string {
	return [...]string{"Regular", "Italic", "Bold", "BoldItalic"}[s]
}

// fonts is the text font in its four styles, each unpacked when it is first needed. The engraving
// library lays out its own text with the widths of Times; Tinos has the same ones.
type fonts struct {
	mu    sync.Mutex // a buffer serves one caller at a time
	data  [styles][]byte
	faces [styles]*sfnt.Font
	buf   sfnt.Buffer
	fault error // the first font that could not be used
}

func openFonts() (*fonts, error) {
	f := &fonts{}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.face(regular)
	return f, f.fault
}

// face gives a style; f.mu is held. Where a style cannot be used, the regular one stands in.
func (f *fonts) face(s style) *sfnt.Font {
	if f.faces[s] != nil {
		return f.faces[s]
	}
	data, err := asset("Tinos-" + s.name() + ".ttf")
	if err == nil {
		if f.faces[s], err = sfnt.Parse(data); err == nil {
			f.data[s] = data
			return f.faces[s]
		}
	}
	if f.fault == nil {
		f.fault = fmt.Errorf("the embedded text font is damaged (%w): run make assets, then build again", err)
	}
	f.faces[s], f.data[s] = f.faces[regular], f.data[regular]
	return f.faces[s]
}

// file is a style as it is embedded in a PDF.
func (f *fonts) file(s style) []byte {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.face(s)
	return f.data[s]
}

// emUnits at which outlines are asked for.
const emUnits = 1000

// width of a text at a size, in the units of the size.
func (f *fonts) width(text string, s style, size float64) float64 {
	sum := 0.0
	for _, r := range text {
		_, adv := f.glyphBox(r, s)
		sum += adv
	}
	return sum / emUnits * size
}

// ink is the box of what a text blackens when it begins at 0 on a baseline at 0.
func (f *fonts) ink(text string, s style, size float64) box {
	all, x := nothing(), 0.0
	for _, r := range text {
		b, adv := f.glyphBox(r, s)
		if !b.empty() {
			all = all.and(b.moved(x, 0))
		}
		x += adv
	}
	if all.empty() {
		return box{}
	}
	k := size / emUnits
	return box{all.x0 * k, all.y0 * k, all.x1 * k, all.y1 * k}
}

// glyphBox is the box of one character in thousandths of the size, with its advance.
func (f *fonts) glyphBox(r rune, s style) (box, float64) {
	if d, ok := f.ours(r, s); ok {
		return d.box(), d.advance
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	g, err := f.face(s).GlyphIndex(&f.buf, r)
	if err != nil {
		return nothing(), 0
	}
	b, adv, err := f.face(s).GlyphBounds(&f.buf, g, fixed.I(emUnits), font.HintingNone)
	if err != nil {
		return nothing(), 0
	}
	if b.Empty() {
		return nothing(), float64(adv) / 64
	}
	return box{float64(b.Min.X) / 64, float64(b.Min.Y) / 64, float64(b.Max.X) / 64, float64(b.Max.Y) / 64}, float64(adv) / 64
}

// outline is a character as a path, in thousandths of the size, y downwards.
func (f *fonts) outline(r rune, s style) (path []segment, advance float64) {
	if d, ok := f.ours(r, s); ok {
		return d.path, d.advance
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	g, err := f.face(s).GlyphIndex(&f.buf, r)
	if err != nil {
		return nil, 0
	}
	segs, err := f.face(s).LoadGlyph(&f.buf, g, fixed.I(emUnits), nil)
	if err != nil {
		return nil, 0
	}
	pt := func(p fixed.Point26_6) point { return point{float64(p.X) / 64, float64(p.Y) / 64} }
	var at point
	for _, sg := range segs {
		switch sg.Op {
		case sfnt.SegmentOpMoveTo:
			if len(path) > 0 {
				path = append(path, segment{op: 'Z'})
			}
			at = pt(sg.Args[0])
			path = append(path, segment{op: 'M', p: [3]point{at}})
		case sfnt.SegmentOpLineTo:
			at = pt(sg.Args[0])
			path = append(path, segment{op: 'L', p: [3]point{at}})
		case sfnt.SegmentOpQuadTo:
			q, e := pt(sg.Args[0]), pt(sg.Args[1])
			path = append(path, segment{op: 'C', p: [3]point{{at.x + 2.0/3*(q.x-at.x), at.y + 2.0/3*(q.y-at.y)}, {e.x + 2.0/3*(q.x-e.x), e.y + 2.0/3*(q.y-e.y)}, e}})
			at = e
		case sfnt.SegmentOpCubeTo:
			at = pt(sg.Args[2])
			path = append(path, segment{op: 'C', p: [3]point{pt(sg.Args[0]), pt(sg.Args[1]), at}})
		}
	}
	if len(path) > 0 {
		path = append(path, segment{op: 'Z'})
	}
	adv, err := f.face(s).GlyphAdvance(&f.buf, g, fixed.I(emUnits), font.HintingNone)
	if err != nil {
		return path, 0
	}
	return path, float64(adv) / 64
}
