// Package plan is the pages on which a teacher plans: a student's coming week with the reason for every line, what is
// slipping, what stands before the next work and when a collection is likely finished; what is remembered of a student;
// and the whole studio at a glance.
//
// It proposes and never decides, and says everything in a teacher's words: ranges and never one date, what was seen and
// never what is wrong with a child or a family. What may be done, and by whom, is package studio's to say; no family
// comes here.
package plan

import (
	"embed"
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

//go:embed *.html
var templates embed.FS

// pages are the handlers of this package.
type pages struct {
	*page.Pages
	f    *page.Frame
	desk *studio.Desk
}

// Routes registers the pages.
func Routes(mux *http.ServeMux, f *page.Frame) error {
	ps, err := f.Pages(templates)
	if err != nil {
		return err
	}
	p := &pages{ps, f, f.Desk()}
	for _, at := range []struct {
		address string
		handler page.Handler
	}{
		{"GET /plan", p.studio},
		{"POST /plan", p.settleStudio},
		{"GET /plan/works/{work}", p.work},
		{"POST /plan/works/{work}", p.sayOfWork},
		{"GET /students/{student}/plan", p.week},
		{"POST /students/{student}/plan", p.change},
		{"POST /students/{student}/plan/settings", p.settle},
		{"POST /students/{student}/plan/trial", p.trial},
		{"POST /students/{student}/plan/lesson", p.intoLesson},
		{"GET /students/{student}/memory", p.memory},
		{"POST /students/{student}/memory", p.remember},
	} {
		mux.Handle(at.address, f.Teacher(at.handler))
	}
	return nil
}

// back leads on after a change, so that loading the page again changes nothing.
func back(w http.ResponseWriter, r *http.Request, to string) error {
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}
