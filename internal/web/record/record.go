// Package record is the family's recorder: a page on which a child's playing is recorded in the browser,
// tried again, listened to, and sent when somebody chooses to.
//
// A recording is kept on the device while it is made and until the studio has it: see _vault.ts for the
// keeping, _tape.ts for the microphone and _send.ts for the way to the studio, which package arrive takes
// over. Nothing is sent without a tap, nothing is judged here, and a page without scripts leads to the plain
// form that sends a file.
package record

import (
	"embed"
	"html/template"
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/tongue"
)

//go:embed *.html
var files embed.FS

// Options of Routes. Sheets is needed.
type Options struct {
	Sheets *sheet.Sheets

	// Second says where the part that the tool plays beside a child sounds by itself, at a tempo in quarter notes
	// a minute: AAC with the mark of package sound before the child's first beat. "" or nil: there is none.
	Second func(child studio.StudentID, a studio.Assignment, bpm float64) (address string)

	Family func(page.Handler) http.Handler // who may come in; nil means the frame's own guard of families

	Tuner func(*tongue.Tongue) (template.HTML, error) // the element that hears the open strings; nil means there is none
}

type recorder struct {
	f *page.Frame
	p *page.Pages
	o Options
}

// Routes registers GET /week/record, with the queries child and of (an assignment of its newest lesson, or
// nothing). The way in is usually Place.
func Routes(mux *http.ServeMux, f *page.Frame, o Options) error {
	p, err := f.Pages(files)
	if err != nil {
		return err
	}
	if o.Family == nil {
		o.Family = f.Family
	}
	rec := &recorder{f, p, o}
	mux.Handle("GET /week/record", o.Family(rec.show))
	return nil
}
