package engrave

import (
	"context"
	"slices"

	"codeberg.org/go-pdf/fpdf"

	"antiphon/internal/music"
)

// Placed is a score whose systems are put, one by one, onto pages that hold other things too.
type Placed struct {
	l *layout
	k float64 // mm in a unit
}

// Place engraves a score on systems of a width in mm for somebody else's page. Title and the legend of
// signs are left out; both are the page's affair.
func (e *Engraver) Place(ctx context.Context, s *music.Score, o Options, widthMm float64) (*Placed, error) {
	o = o.filled()
	mm := paperSpaceMm
	if o.Scale > 0 {
		mm *= o.Scale
	}
	k := mm / space
	l, err := e.drawn(ctx, s, o, widthMm/k)
	if err != nil {
		return nil, err
	}
	return &Placed{l: l, k: k}, nil
}

// Systems is how many there are.
func (p *Placed) Systems() int { return len(p.l.sh.systems) }

// HeightMm is what system i needs, its ink from the highest to the lowest.
func (p *Placed) HeightMm(i int) float64 { return p.l.sh.systems[i].box.height() * p.k }

// GapMm is what should be left free between two systems.
func (p *Placed) GapMm() float64 { return systemClear * p.k }

// Put draws system i on the present page of doc with its left end at xMm and its highest ink at yMm. doc
// counts in mm and has the fonts that TextFont gave it.
func (p *Placed) Put(doc *fpdf.Fpdf, i int, xMm, yMm float64) {
	sys := p.l.sh.systems[i]
	sys.node.set("transform", "translate(0 "+num(-sys.box.y0)+")")
	body := element("g", "class", "score", "stroke", "currentColor", "stroke-width", "0")
	body.kids = append(body.kids, sys.node)
	f := &figure{root: body, width: sys.right, height: sys.box.height(), glyphs: p.l.sh.glyphs, fonts: p.l.sh.fonts, prefix: p.l.o.Prefix}
	f.draw(&quill{doc: doc, fonts: p.l.sh.fonts, ready: map[style]bool{}}, affine{p.k, 0, 0, p.k, xMm, yMm})
}

// Strokes are those whose signs stand in the systems, for a legend.
func (p *Placed) Strokes() (all []music.Stroke) {
	for _, s := range []music.Stroke{music.RestStroke, music.FreeStroke} {
		if slices.ContainsFunc(p.l.hands, func(h hand) bool { return h.stroke == s && p.l.onPage(h.note) }) {
			all = append(all, s)
		}
	}
	return all
}

// PutStroke draws the sign of a stroke as it stands in the music, its left end at xMm and its foot at yMm, and says
// how wide it is.
func (p *Placed) PutStroke(doc *fpdf.Fpdf, s music.Stroke, xMm, yMm float64) (widthMm float64) {
	k := strokeInk("", s)
	k.to(k.box.moved(-k.box.x0, -k.box.y1))
	body := element("g", "class", "score", "stroke", "currentColor", "stroke-width", "0")
	for _, d := range k.draw {
		shifted(d, k.x, k.y)
		body.kids = append(body.kids, d)
	}
	f := &figure{root: body, width: k.box.width(), height: k.box.height(), glyphs: p.l.sh.glyphs, fonts: p.l.sh.fonts, prefix: p.l.o.Prefix}
	f.draw(&quill{doc: doc, fonts: p.l.sh.fonts, ready: map[style]bool{}}, affine{p.k, 0, 0, p.k, xMm, yMm})
	return k.box.width() * p.k
}

// TextFont gives doc the text font of the music in its four styles, and says its name. It covers the
// languages of Europe.
func (e *Engraver) TextFont(doc *fpdf.Fpdf) (family string) {
	for st := range styles {
		doc.AddUTF8FontFromBytes(quillFamily, quillStyles[st], e.fonts.file(st))
	}
	return quillFamily
}

// Writes tells whether the text font has a sign of its own for a character.
func (e *Engraver) Writes(r rune) bool {
	e.fonts.mu.Lock()
	defer e.fonts.mu.Unlock()
	g, err := e.fonts.face(regular).GlyphIndex(&e.fonts.buf, r)
	return err == nil && g != 0
}
