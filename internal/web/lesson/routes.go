// Package lesson is where the teacher writes the answer: what a family is asked until the next lesson, and the page
// on which a sent lesson is read.
//
// A draft is a form first: every button works without a script, and what stands in the form is never lost, neither
// to a closed window nor to a second one. The package decides nothing for the teacher and sends nothing by itself.
package lesson

import (
	"embed"
	"net/http"

	"antiphon/internal/engrave"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
	"antiphon/internal/web/sheet"
)

//go:embed *.html
var templates embed.FS

// pages are the handlers of this package.
type pages struct {
	*page.Pages
	f    *page.Frame
	desk *studio.Desk
	o    Options
}

// Options of the lessons. The zero value shows no music and prints nothing.
type Options struct {
	Sheets   *sheet.Sheets
	Engraver *engrave.Engraver
}

// Routes registers the pages.
func Routes(mux *http.ServeMux, f *page.Frame, o Options) error {
	ps, err := f.Pages(templates)
	if err != nil {
		return err
	}
	p := &pages{ps, f, f.Desk(), o}
	mux.Handle("GET /lessons/{lesson}", f.Known(p.lessonPage))
	mux.Handle("GET /lessons/{lesson}/paper", f.Known(p.paper))
	mux.Handle("GET /lessons/{lesson}/film/captions.vtt", f.Known(p.filmCaptions))
	mux.Handle("GET /lessons/{lesson}/film/chapters.vtt", f.Known(p.filmChapters))
	mux.Handle("GET /lessons/{lesson}/answers/{item}/captions.vtt", f.Known(p.answerCaptions))
	for _, at := range []struct {
		address string
		handler page.Handler
	}{
		{"POST /lessons/{lesson}", p.saveLesson},
		{"POST /lessons/{lesson}/cancel", p.cancelSending},
		{"POST /lessons/{lesson}/back", p.takeBack},
		{"GET /lessons/{lesson}/answers/{item}", p.answerPart},
		{"POST /lessons/{lesson}/answers/{item}", p.keepAnswer},
		{"POST /lessons/{lesson}/answers/{item}/captions", p.captionAnswer},
		{"POST /lessons/{lesson}/answers/{item}/remove", p.removeAnswer},
		{"POST /lessons/{lesson}/recordings/{item}", p.keepRecording},
		{"POST /lessons/{lesson}/recordings/{item}/remove", p.removeRecording},
		{"GET /lessons/{lesson}/film", p.filmPart},
		{"POST /lessons/{lesson}/film", p.makeFilm},
		{"POST /lessons/{lesson}/phrases", p.keepPhrase},
		{"POST /lessons/{lesson}/phrases/{phrase}/use", p.usePhrase},
		{"POST /lessons/{lesson}/phrases/{phrase}/remove", p.removePhrase},
		{"GET /lessons/{lesson}/music", p.music},
		{"GET /lessons/{lesson}/preview", p.preview},
		{"GET /lessons/{lesson}/listen/{take}", p.listen},
		{"POST /students/{student}/assign", p.assign},
		{"GET /students/{student}/lesson", p.lesson},
		{"POST /students/{student}/lesson", p.beginLesson},
	} {
		mux.Handle(at.address, f.Teacher(at.handler))
	}
	return nil
}

// works are the studio's, without their scores.
func (p *pages) works(r *http.Request) (prose.Titles, error) {
	all, err := p.desk.Works(r.Context(), page.Viewer(r))
	return prose.TitlesOf(all), err
}

// back leads on after a change, so that loading the page again changes nothing.
func (p *pages) back(w http.ResponseWriter, r *http.Request, to string) error {
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}
