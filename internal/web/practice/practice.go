// Package practice is playing at home with the phone: how a passage goes, playing along with a count-in and a
// click, the steps of a tempo ladder, a bar that goes round, a second part, and tuning.
//
// Guitar, click and second part are put together in the browser by the sample (_band.ts), from sounds that are
// made here once for each tempo. It measures the strings when they are tuned, and nothing that is played: a
// pass went well when the people who heard it say so. It gives no points, and tells nobody to go on when
// something hurts.
package practice

import (
	"embed"
	"errors"
	"net/http"

	"antiphon/internal/web/page"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/sounds"
)

//go:embed *.html
var files embed.FS

// Options of New. Sheets and CacheDir are needed.
type Options struct {
	Sheets   *sheet.Sheets
	CacheDir string                          // of its own, for made sounds; they can be made again at any time
	Family   func(page.Handler) http.Handler // who may come in; nil means the frame's own guard of families
}

// Practice is the pages. It is safe for several goroutines.
type Practice struct {
	f      *page.Frame
	p      *page.Pages
	o      Options
	sounds *sounds.Shelf
}

// New makes the pages. End them when the last request was answered.
func New(f *page.Frame, o Options) (*Practice, error) {
	if o.Sheets == nil || o.CacheDir == "" {
		return nil, errors.New("practice: sheets and a folder for sounds are needed")
	}
	if o.Family == nil {
		o.Family = f.Family
	}
	p, err := f.Pages(files)
	if err != nil {
		return nil, err
	}
	return &Practice{f, p, o, sounds.Open(o.CacheDir, sounds.Options{Log: f.Log()})}, nil
}

// Routes registers the page of one thing that is asked, its sounds, and the page that tunes.
func (p *Practice) Routes(mux *http.ServeMux) {
	mux.Handle("GET /week/practice", p.o.Family(p.show))
	mux.Handle("GET /week/sound/{assignment}", p.o.Family(p.sound))
	mux.Handle("GET /week/tune", p.o.Family(p.tune))
}

// End waits for sounds that are being made.
func (p *Practice) End() { p.sounds.End() }
