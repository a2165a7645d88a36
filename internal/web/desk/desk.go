// Package desk is the teacher's side of the studio: who waits, the students and the settings.
//
// A page here is a list as a teacher would write it. It says what is there, what was promised and what the
// ear heard in a few words; the page of a take is where that is judged. It counts no points, ranks no child
// and blames nobody for a quiet week. What may be done, and by whom, is package studio's to say.
package desk

import (
	"embed"
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

//go:embed *.html
var templates embed.FS

// Options of the desk. The zero value believes the address that a request names.
type Options struct {
	Address string // how browsers reach this site, "https://studio.example"; it stands in invitations
	Notices Notices
}

// pages are the handlers of this package.
type pages struct {
	*page.Pages
	f    *page.Frame
	desk *studio.Desk
	o    Options
}

// Routes registers the pages.
func Routes(mux *http.ServeMux, f *page.Frame, o Options) error {
	ps, err := f.Pages(templates)
	if err != nil {
		return err
	}
	p := &pages{ps, f, f.Desk(), o}
	mux.Handle("GET /{$}", f.Open(p.start))
	for _, at := range []struct {
		address string
		handler page.Handler
	}{
		{"GET /desk", p.standingPage},
		{"GET /desk/standing", p.standingPart},
		{"GET /desk/next", p.next},
		{"GET /desk/at-home", p.athome},
		{"GET /students", p.students},
		{"GET /students/{student}", p.student},
		{"POST /students/{student}", p.changeStudent},
		{"GET /students/{student}/looked", p.looked},
		{"POST /students/{student}/taps/{tap}", p.answered},
		{"GET /students/{student}/note", p.note},
		{"POST /students/{student}/note", p.sendNote},
		{"GET /students/{student}/takes/{take}/delete", p.deletePage},
		{"POST /students/{student}/takes/{take}/delete", p.deleteTake},
		{"GET /studio", p.studio},
		{"POST /studio", p.changeStudio},
		{"GET /studio/told", p.told},
		{"POST /studio/told", p.tellHere},
		{"POST /studio/told/off", p.tellNowhere},
		{"GET /studio/told.js", p.toldWorker},
		{"POST /studio/email", p.tellByMail},
		{"POST /studio/corrections", p.corrections},
		{"GET /studio/receipts", p.receipts},
		{"GET /studio/families", p.families},
		{"GET /studio/families/new", p.newFamily},
		{"POST /studio/families", p.inviteFamily},
		{"GET /studio/families/{family}", p.family},
		{"GET /studio/families/{family}/link", p.link},
		{"POST /studio/families/{family}/link", p.newLink},
		{"POST /studio/families/{family}/students", p.addStudent},
		{"POST /studio/families/{family}/devices/{device}/revoke", p.revoke},
		{"POST /studio/families/{family}/export", p.exportFamily},
		{"POST /studio/families/{family}/erase", p.eraseFamily},
	} {
		mux.Handle(at.address, f.Teacher(at.handler))
	}
	return nil
}

// start sends everybody to where they are at home.
func (p *pages) start(w http.ResponseWriter, r *http.Request) error { // GET /
	to := "/sign-in"
	switch page.Viewer(r).Role {
	case studio.Teacher:
		to = "/desk"
	case studio.Coach:
		to = "/week"
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}
