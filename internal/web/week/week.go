// Package week is the family's page: what the teacher asked for this week, in words for an adult who reads
// no music, how to send a recording, what became of it, and what is kept about the family.
//
// It shows a family its own and nothing else; that is the studio's to decide, and every page asks it anew.
// It shows no mark, no count of days and no number from a hearing: what a child hears about its playing
// comes from the teacher.
package week

import (
	"embed"
	"net/http"
	"sync"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/tongue"
)

//go:embed *.html
var files embed.FS

// Options of the family's pages. The zero value plays nothing and tells nobody.
type Options struct {
	Sounds  bool // the pages and the sounds of package practice are there
	Notices Notices
}

type week struct {
	f      *page.Frame
	p      *page.Pages
	sheets *sheet.Sheets
	o      Options
	icons  map[int]func() []byte // by their edge in pixels; each is drawn once

	letters letters
}

// Routes registers the family's pages. The music on them comes from the routes of sheets.
func Routes(mux *http.ServeMux, f *page.Frame, sheets *sheet.Sheets, o Options) error {
	p, err := f.Pages(files)
	if err != nil {
		return err
	}
	w := &week{f: f, p: p, sheets: sheets, o: o, icons: map[int]func() []byte{}}
	for _, edge := range iconSizes {
		w.icons[edge] = sync.OnceValue(func() []byte { return drawIcon(edge) })
	}
	mux.Handle("GET /week/sw.js", f.Open(w.worker))
	mux.Handle("GET /week/manifest.json", f.Open(w.showManifest))
	mux.HandleFunc("GET /week/icon/{edge}", w.icon)
	mux.Handle("GET /week/away", w.family(w.away))

	mux.Handle("GET /week", w.family(w.show))
	mux.Handle("GET /week/sent", w.family(w.sentPart))

	mux.Handle("GET /week/captions/{lesson}", w.family(w.showCaptions))
	mux.Handle("GET /week/captions/{lesson}/{$}", w.family(w.showCaptions)) // of the opening words
	mux.Handle("GET /week/captions/{lesson}/{assignment}", w.family(w.showCaptions))

	mux.Handle("POST /week/log", w.family(w.log))
	mux.Handle("POST /week/answer", w.family(small(w.answer)))
	mux.Handle("POST /week/voice", w.family(w.voice))

	mux.Handle("POST /week/names", w.family(small(w.keepNames)))
	mux.Handle("POST /week/notices", w.family(w.subscribe))
	mux.Handle("POST /week/notices/off", w.family(small(w.unsubscribe)))
	mux.Handle("POST /week/email", w.family(small(f.Paced(w.email))))
	mux.Handle("GET /notices/{does}/{secret}", f.Open(w.mail))
	mux.Handle("POST /notices/{does}/{secret}", f.Open(f.Paced(w.mail)))

	mux.Handle("GET /week/send", w.family(w.sendForm))
	mux.Handle("POST /week/send", w.family(w.send))
	mux.Handle("GET /week/hurt", w.family(w.hurtForm))
	mux.Handle("POST /week/hurt", w.family(small(f.Paced(w.hurt))))

	mux.Handle("GET /week/takes/{take}", w.family(w.take))
	mux.Handle("POST /week/takes/{take}/delete", w.family(small(w.deleteTake)))

	mux.Handle("GET /week/data", w.family(w.data))
	mux.Handle("POST /week/data/children/{student}", w.family(small(w.changeChild)))
	mux.Handle("POST /week/data/export", w.family(small(w.export)))
	mux.Handle("POST /week/data/erase", w.family(small(w.erase)))

	// An address that is none is refused in the family's language too.
	mux.Handle("GET /week/", w.family(func(http.ResponseWriter, *http.Request) error {
		return &studio.Problem{Kind: studio.NotFound, Say: "There is no page at this address."}
	}))
	return nil
}

// mostForm is more than any form here says but the one that sends a recording.
const mostForm = 64 << 10

func small(h page.Handler) page.Handler {
	return func(rw http.ResponseWriter, r *http.Request) error {
		r.Body = http.MaxBytesReader(rw, r.Body, mostForm)
		return h(rw, r)
	}
}

// common is what the templates of all these pages see.
type common struct {
	*tongue.Tongue
	Here   string // path of the page
	Studio string // its name

	replyDays int // the studio's promise
}

func (w *week) common(r *http.Request, here string) (common, error) {
	st, err := w.f.Desk().OwnStudio(r.Context(), page.Viewer(r))
	if err != nil {
		return common{}, err
	}
	t, err := w.f.Tongue(r)
	return common{t, here, st.Name, st.ReplyDays}, err
}

// render writes a page whose title is the phrase with this key.
func (w *week) render(rw http.ResponseWriter, r *http.Request, file, title string, t *tongue.Tongue, data any) error {
	say, err := t.Say(title)
	if err != nil {
		return err
	}
	return w.p.Render(rw, r, file, page.View{Title: say, Here: "week", Lang: t.Code, Data: data})
}
