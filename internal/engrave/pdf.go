package engrave

import (
	"context"
	"fmt"
	"io"
	"math"
	"strconv"

	"codeberg.org/go-pdf/fpdf"

	"antiphon/internal/music"
)

// Sizes on paper. A staff of 6.8 mm is about what collections for guitar use. Our choice; no source.
const (
	paperSpaceMm = 1.7
	sideMm       = 15.0
	topMm        = 14.0
	bottomMm     = 16.0
	footMm       = 9.0 // from the lower edge to the line with the page number
	mostSpread   = 1.7 // by how much a full page may widen the distances between systems
)

// PDF engraves the score on paper, o.Paper, with its fonts inside and its text as text.
func (e *Engraver) PDF(ctx context.Context, w io.Writer, s *music.Score, o Options) error {
	o = o.filled()
	mm := paperSpaceMm
	if o.Scale > 0 {
		mm *= o.Scale
	}
	units := (o.Paper.WidthMm - 2*sideMm) / mm * space
	l, err := e.drawn(ctx, s, o, units)
	if err != nil {
		return err
	}
	k := mm / space // mm in a unit
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: o.Paper.WidthMm, Ht: o.Paper.HeightMm}})
	doc.SetAutoPageBreak(false, 0)
	doc.SetMargins(0, 0, 0)
	doc.SetCompression(true)
	doc.SetCatalogSort(true) // the same score, the same bytes
	doc.SetCreationDate(o.Made)
	doc.SetModificationDate(o.Made)
	doc.SetTitle(l.s.Title, true)
	doc.SetAuthor(l.s.Composer, true)
	doc.SetCreator("Antiphon", true)
	doc.SetDrawColor(0x11, 0x11, 0x11)
	doc.SetFillColor(0x11, 0x11, 0x11)
	doc.SetTextColor(0x11, 0x11, 0x11)
	quill := &quill{doc: doc, fonts: e.fonts, ready: map[style]bool{}}
	for _, f := range l.pages(units, (o.Paper.HeightMm-topMm-bottomMm)/k, (o.Paper.HeightMm-topMm-footMm)/k) {
		doc.AddPage()
		f.draw(quill, affine{k, 0, 0, k, sideMm, topMm})
	}
	if err := doc.Output(w); err != nil {
		return fmt.Errorf("the PDF could not be made (%w)", err)
	}
	return nil
}

// pages puts the systems on pages of a height in units; foot is where the number of the page stands.
func (l *layout) pages(units, height, foot float64) []*figure {
	var out []*figure
	var on []*system
	start := 0.0
	first := element("g", "class", "score", "stroke", "currentColor", "stroke-width", "0")
	body := first
	start = l.title(first, units, 0)
	flush := func(last bool) {
		sum := 0.0
		for _, sys := range on {
			sum += sys.box.height()
		}
		gap := systemClear
		if n := len(on) - 1; n > 0 && !last {
			gap = min((height-start-sum)/float64(n), systemClear*(1+mostSpread))
		}
		y := start
		for _, sys := range on {
			sys.node.set("transform", "translate(0 "+num(y-sys.box.y0)+")")
			body.kids = append(body.kids, sys.node)
			y += sys.box.height() + gap
		}
		if last {
			l.legend(body, units, y-gap+1.2*space)
		}
		f := &figure{root: body, width: units, height: height, glyphs: l.sh.glyphs, fonts: l.sh.fonts, prefix: l.o.Prefix}
		out = append(out, f)
		on, start = nil, 0
		body = element("g", "class", "score", "stroke", "currentColor", "stroke-width", "0")
	}
	y := start
	for _, sys := range l.sh.systems {
		if len(on) > 0 && y+sys.box.height() > height {
			flush(false)
			y = 0
		}
		on = append(on, sys)
		y += sys.box.height() + systemClear
	}
	flush(true)
	if len(out) > 1 {
		for i, f := range out {
			t := f.root.add("text", "x", num(units/2), "y", num(foot), "font-size", num(1.9*space), "text-anchor", "middle")
			t.text = strconv.Itoa(i + 1)
		}
	}
	return out
}

// The text font, and its styles as a PDF's writer knows them.
const quillFamily = "Tinos"

var quillStyles = [styles]string{"", "I", "B", "BI"}

// quill draws on a page of a PDF.
type quill struct {
	doc   *fpdf.Fpdf
	fonts *fonts
	ready map[style]bool
}

func (q *quill) trace(path []segment, m affine) {
	for _, s := range path {
		switch s.op {
		case 'M':
			a := m.at(s.p[0])
			q.doc.MoveTo(a.x, a.y)
		case 'L':
			a := m.at(s.p[0])
			q.doc.LineTo(a.x, a.y)
		case 'C':
			a, b, c := m.at(s.p[0]), m.at(s.p[1]), m.at(s.p[2])
			q.doc.CurveBezierCubicTo(a.x, a.y, b.x, b.y, c.x, c.y)
		case 'Z':
			q.doc.ClosePath()
		}
	}
}

func (q *quill) fill(path []segment, m affine) {
	if len(path) == 0 {
		return
	}
	q.trace(path, m)
	q.doc.DrawPath("F")
}

func (q *quill) stroke(path []segment, m affine, width float64, dash []float64) {
	if len(path) == 0 {
		return
	}
	k := m.scale()
	q.doc.SetLineWidth(width * k)
	scaled := make([]float64, len(dash))
	for i, d := range dash {
		scaled[i] = d * k
	}
	q.doc.SetDashPattern(scaled, 0)
	q.trace(path, m)
	q.doc.DrawPath("D")
}

func (q *quill) text(s string, st style, size float64, at point, m affine) {
	name := quillStyles[st]
	if !q.ready[st] {
		q.ready[st] = true
		q.doc.AddUTF8FontFromBytes(quillFamily, name, q.fonts.file(st))
	}
	const ptPerMm = 72 / 25.4
	q.doc.SetFont(quillFamily, name, math.Max(size*m.scale()*ptPerMm, 1))
	p := m.at(at)
	q.doc.Text(p.x, p.y, s)
}

func (q *quill) unseen(s string, st style, size float64, at point, m affine) {
	const invisible = 3 // text rendering mode, ISO 32000-1, table 106
	q.doc.SetTextRenderingMode(invisible)
	q.text(s, st, size, at, m)
	q.doc.SetTextRenderingMode(0)
}
