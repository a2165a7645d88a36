package letter

import (
	"bytes"
	"net/http"

	"antiphon/internal/engrave"
	"antiphon/internal/report"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// paper is the letter as a PDF. GET /letters/{letter}/paper?size=letter
func (p *letters) paper(w http.ResponseWriter, r *http.Request) error {
	l, err := p.desk.Letter(r.Context(), page.Viewer(r), studio.LetterID(r.PathValue("letter")))
	if err != nil {
		return err
	}
	s, err := p.sheet(r, l)
	if err != nil {
		return err
	}
	written := l.Sent
	if written.IsZero() {
		written = l.Saved
	}
	now := p.f.Now()
	paper := report.LetterPaper{Language: s.Code, Studio: s.Studio, Student: s.Name, Title: s.Title, Span: s.Span,
		Date: s.Date(written, now), Closing: s.Studio, Made: written}
	if r.FormValue("size") == "letter" {
		paper.Paper = engrave.Letter()
	}
	for i, one := range s.Parts {
		x := report.LetterSection{Heading: one.Heading, Text: one.Text}
		for _, f := range one.Facts {
			x.Facts = append(x.Facts, report.LetterFact{Say: f.Say, Day: f.Day})
		}
		if c, ok := chartOf(l.Parts[i].Chart); ok {
			x.Charts = []report.Chart{c}
		}
		paper.Parts = append(paper.Parts, x)
	}
	var b bytes.Buffer
	if err := paper.PDF(&b, p.engraver); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/pdf")
	w.Header().Set("Content-Disposition", `inline; filename="letter.pdf"`)
	_, err = b.WriteTo(w)
	return err
}
