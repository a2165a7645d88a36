// Package take is the page where the teacher's time goes: one take beside its score, with what was heard
// drawn under the staff, what may be said about it, and what was said.
//
// It shows and keeps what the teacher says; it measures nothing, grades nobody and sends nothing to a
// family. Where the ear was wrong, the teacher's word is kept beside the measurement and the page
// follows it.
package take

import (
	"embed"
	"errors"
	"net/http"

	"antiphon/internal/remedies"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/sheet"
)

//go:embed *.html
var templates embed.FS

// Pages are the pages of takes. They are safe for several goroutines.
type Pages struct {
	f      *page.Frame
	desk   *studio.Desk
	sheets *sheet.Sheets
	pages  *page.Pages
	book   *remedies.Book
}

// New makes the pages.
func New(f *page.Frame, s *sheet.Sheets) (*Pages, error) {
	p := &Pages{f: f, desk: f.Desk(), sheets: s}
	var err error
	if p.pages, err = f.Pages(templates); err != nil {
		return nil, err
	}
	if p.book, err = remedies.Printed(); err != nil {
		return nil, err
	}
	return p, nil
}

// Routes registers the pages. All are the teacher's.
func (p *Pages) Routes(mux *http.ServeMux) {
	for pattern, h := range map[string]page.Handler{
		"GET /takes/{take}":                           p.show,
		"GET /takes/{take}/heard":                     p.heard,
		"GET /takes/{take}/against/{other}":           p.against,
		"POST /takes/{take}/remarks":                  p.remark,
		"POST /takes/{take}/remarks/{remark}":         p.changeRemark,
		"POST /takes/{take}/remarks/{remark}/remove":  p.removeRemark,
		"POST /takes/{take}/corrections":              p.correct,
		"POST /takes/{take}/corrections/{which}/undo": p.takeBack,
		"POST /takes/{take}/work":                     p.assign,
		"POST /takes/{take}/again":                    p.hearAgain,
		"POST /takes/{take}/answered":                 p.answered,
	} {
		mux.Handle(pattern, p.f.Teacher(h))
	}
}

// take reads the take of an address.
func (p *Pages) take(r *http.Request) (studio.Review, error) {
	id := studio.TakeID(r.PathValue("take"))
	if !studio.IsID(id) {
		return studio.Review{}, &studio.Problem{Kind: studio.NotFound, Say: "There is no take at this address."}
	}
	return p.desk.ReviewTake(r.Context(), page.Viewer(r), id)
}

// done answers a form: a script gets JSON with a sentence, a browser is led back to the page.
func done(w http.ResponseWriter, r *http.Request, say, place string) error {
	if wantsJSON(r) {
		return page.JSON(w, map[string]string{"say": say})
	}
	http.Redirect(w, r, "/takes/"+r.PathValue("take")+place, http.StatusSeeOther)
	return nil
}

// isProblem tells a refusal with a kind.
func isProblem(err error, kind studio.Kind) bool {
	p, ok := errors.AsType[*studio.Problem](err)
	return ok && p.Kind == kind
}
