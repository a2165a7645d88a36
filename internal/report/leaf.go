package report

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode"

	"codeberg.org/go-pdf/fpdf"

	"antiphon/internal/engrave"
	"antiphon/internal/music"
)

// Sizes on paper, in mm and points. The inner side is wide enough for two holes (ISO 838: their middle 12 mm from the edge).
const (
	leafLeft   = 20.0
	leafRight  = 15.0
	leafTop    = 15.0
	leafBottom = 17.0
	bodyPt     = 11.5
	smallPt    = 9.5
	titlePt    = 20.0
	headPt     = 14.0
	leading    = 1.28 // lines to the size of their letters
	mmPerPt    = 25.4 / 72
)

// leaf writes text and lines onto pages of paper from the top down.
type leaf struct {
	doc    *fpdf.Fpdf
	e      *engrave.Engraver
	family string
	paper  engrave.Paper
	y      float64 // where the next thing begins
	foot   string

	explained map[music.Stroke]bool // whose signs were said already
}

func newLeaf(e *engrave.Engraver, p engrave.Paper, lang, title, foot string, made time.Time) *leaf {
	if p.WidthMm <= 0 {
		p = engrave.A4()
	}
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: p.WidthMm, Ht: p.HeightMm}})
	doc.SetAutoPageBreak(false, 0)
	doc.SetMargins(0, 0, 0)
	doc.SetCellMargin(0)
	doc.SetCompression(true)
	doc.SetCatalogSort(true) // the same input, the same bytes
	doc.SetCreationDate(made)
	doc.SetModificationDate(made)
	doc.SetLang(lang)
	doc.SetCreator("Antiphon", true)
	l := &leaf{doc: doc, e: e, family: e.TextFont(doc), paper: p}
	doc.SetTitle(l.clean(title), true)
	l.foot = l.clean(foot)
	l.page()
	return l
}

func (l *leaf) right() float64  { return l.paper.WidthMm - leafRight }
func (l *leaf) bottom() float64 { return l.paper.HeightMm - leafBottom }

func (l *leaf) page() {
	l.doc.AddPage()
	l.ink()
	l.y = leafTop
}

// ink puts back what drawing music changed.
func (l *leaf) ink() {
	l.doc.SetDrawColor(0x11, 0x11, 0x11)
	l.doc.SetFillColor(0x11, 0x11, 0x11)
	l.doc.SetTextColor(0x11, 0x11, 0x11)
	l.doc.SetLineWidth(0.2)
	l.doc.SetDashPattern(nil, 0)
}

// room begins a new page where less than so many mm are left, unless this one is still empty.
func (l *leaf) room(mm float64) {
	if l.y+mm > l.bottom() && l.y > leafTop {
		l.page()
	}
}

// clean leaves out what the font has no sign for: pictures vanish, letters of other scripts become "?".
func (l *leaf) clean(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case unicode.IsSpace(r):
			return ' '
		case !unicode.IsGraphic(r) || r > 0xffff && !unicode.IsLetter(r):
			return -1
		case r <= 0xffff && l.e.Writes(r):
			return r
		case unicode.IsLetter(r) || unicode.IsNumber(r):
			return '?'
		}
		return -1
	}, s)
}

func (l *leaf) font(style string, pt float64) {
	l.doc.SetFont(l.family, style, pt)
}

// width of a text in the present font.
func (l *leaf) width(s string) float64 { return l.doc.GetStringWidth(s) }

// lines breaks a text, in the present font, at blanks and at its own line ends; a word that is too long is broken.
func (l *leaf) lines(s string, wide float64) (out []string) {
	for _, para := range strings.Split(strings.TrimSpace(s), "\n") {
		line := ""
		for _, word := range strings.Fields(para) {
			for l.width(word) > wide { // no hyphen: it may be an address
				n := 0
				for i := range word {
					if i > 0 && l.width(word[:i]) > wide {
						break
					}
					n = i
				}
				if n == 0 {
					break
				}
				if line != "" {
					out = append(out, line)
					line = ""
				}
				out = append(out, word[:n])
				word = word[n:]
			}
			switch {
			case line == "":
				line = word
			case l.width(line+" "+word) <= wide:
				line += " " + word
			default:
				out = append(out, line)
				line = word
			}
		}
		out = append(out, line)
	}
	return out
}

// para writes a paragraph from x to the right edge, over pages where it must.
func (l *leaf) para(x float64, style string, pt float64, s string) {
	s = l.clean(s)
	if strings.TrimSpace(s) == "" {
		return
	}
	l.font(style, pt)
	step := pt * mmPerPt * leading
	for _, line := range l.lines(s, l.right()-x) {
		l.room(step)
		l.font(style, pt) // a new page does not change it, music does
		l.y += step
		l.doc.Text(x, l.y-0.28*step, line)
	}
}

// labelled writes a paragraph that begins with a word in bold, "Watch for".
func (l *leaf) labelled(x float64, label, s string) {
	if s = l.clean(s); strings.TrimSpace(s) == "" {
		return
	}
	l.font("B", bodyPt)
	label = l.clean(label)
	in := l.width(label + "  ")
	step := bodyPt * mmPerPt * leading
	l.font("", bodyPt)
	for i, line := range l.lines(s, l.right()-x-in) {
		l.room(step)
		l.y += step
		if i == 0 {
			l.font("B", bodyPt)
			l.doc.Text(x, l.y-0.28*step, label)
			l.font("", bodyPt)
		}
		l.doc.Text(x+in, l.y-0.28*step, line)
	}
}

// rule is a thin line across the page.
func (l *leaf) rule(x float64) {
	l.doc.Line(x, l.y, l.right(), l.y)
}

// cut shortens a text in the present font to so many mm.
func (l *leaf) cut(s string, wide float64) string {
	if l.width(s) <= wide {
		return s
	}
	for s != "" && l.width(s+"…") > wide {
		r := []rune(s)
		s = string(r[:len(r)-1])
	}
	return strings.TrimRight(s, " ") + "…"
}

// output numbers the pages and writes the whole.
func (l *leaf) output(w io.Writer, of string) error {
	n := l.doc.PageCount()
	for i := 1; i <= n; i++ {
		l.doc.SetPage(i)
		l.ink()
		l.font("", smallPt)
		y := l.paper.HeightMm - 9
		number := ""
		if n > 1 {
			number = fmt.Sprintf(of, i, n)
			l.doc.Text(l.right()-l.width(number), y, number)
		}
		l.doc.Text(leafLeft, y, l.cut(l.foot, l.right()-leafLeft-l.width(number)-6))
	}
	if err := l.doc.Output(w); err != nil {
		return fmt.Errorf("the PDF could not be made (%w)", err)
	}
	return nil
}
