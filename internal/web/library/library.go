// Package library has the pages of what a studio plays from: works and exercises with their scores,
// collections, and the book of remedies.
//
// A score comes in from a file or a recipe, is fingered, played, cut into passages and filed. All of it
// is the teacher's; a family never sees a page of this package, and hears only what was asked of it. What takes longer than a page may wait
// is begun, and the page looks again.
package library

import (
	"embed"
	"errors"
	"fmt"
	"net/http"
	"sync"
	"time"

	"antiphon/internal/engrave"
	"antiphon/internal/remedies"
	"antiphon/internal/studio"
	"antiphon/internal/web/errand"
	"antiphon/internal/web/page"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/sounds"
)

//go:embed *.html
var files embed.FS

// Options of the pages. All but Patience are needed.
type Options struct {
	Sheets   *sheet.Sheets     // draws scores into pages
	Engraver *engrave.Engraver // prints them on paper
	Patience time.Duration     // a page waits so long for what is being worked out; 0 means 2 s
	CacheDir string            // where made sounds are kept; they can be made again at any time
}

const (
	usualPatience = 2 * time.Second
	fingeringTime = 2 * time.Minute  // of one fingering with its pictures
	soundPatience = 90 * time.Second // a player waits longer than a reader
)

type library struct {
	f     *page.Frame
	pages *page.Pages
	o     Options
	book  *remedies.Book // as printed

	fingerings *errand.Errands[*fingered]
	sounds     *sounds.Shelf
	asking     *errand.Errands[asks] // what scores ask of the hands
	adding     sync.Mutex            // two equal posts at once add one work, not two
}

// Routes registers the pages. The function returned waits for what was begun; call it when the last
// request was answered.
func Routes(mux *http.ServeMux, f *page.Frame, o Options) (end func(), err error) {
	if o.Sheets == nil || o.Engraver == nil || o.CacheDir == "" {
		return nil, errors.New("library: sheets, an engraver and a folder for sounds are needed")
	}
	if o.Patience <= 0 {
		o.Patience = usualPatience
	}
	l := &library{f: f, o: o}
	if l.pages, err = f.Pages(files); err != nil {
		return nil, fmt.Errorf("the pages of the library: %w", err)
	}
	if l.book, err = remedies.Printed(); err != nil {
		return nil, fmt.Errorf("the book of remedies: %w", err)
	}
	l.fingerings = errand.New[*fingered](1, 12, fingeringTime)
	l.sounds = sounds.Open(o.CacheDir, sounds.Options{Log: f.Log()})
	l.asking = errand.New[asks](1, 1000, fingeringTime)
	for pattern, h := range map[string]page.Handler{
		"GET /library":                 l.works,
		"GET /library/add":             l.addPage,
		"POST /library/add":            l.add,
		"GET /library/compose":         l.composePage,
		"POST /library/compose":        l.compose,
		"GET /library/compose/picture": l.composePicture,

		"GET /library/works/{work}":                            l.work,
		"POST /library/works/{work}":                           l.reviseWork,
		"POST /library/works/{work}/score":                     l.replaceScore,
		"GET /library/works/{work}/fingering":                  l.fingering,
		"POST /library/works/{work}/fingering":                 l.useFingering,
		"GET /library/works/{work}/fingering/picture":          l.fingeringPicture,
		"GET /library/works/{work}/earlier/{earlier}/picture":  l.earlierPicture,
		"POST /library/works/{work}/earlier/{earlier}":         l.restoreScore,
		"POST /library/works/{work}/fingerings":                l.dropFingering,
		"POST /library/works/{work}/fingerings/{fingering}":    l.holdFingering,
		"GET /library/works/{work}/sound":                      l.sound,
		"GET /library/works/{work}/score.musicxml":             l.download,
		"GET /library/works/{work}/score.mid":                  l.download,
		"GET /library/works/{work}/score.pdf":                  l.download,
		"POST /library/works/{work}/passages":                  l.addPassage,
		"POST /library/works/{work}/passages/{passage}/remove": l.removePassage,
		"POST /library/works/{work}/models":                    l.addModel,
		"GET /library/works/{work}/models/{take}":              l.modelArrived,
		"POST /library/works/{work}/models/{take}/remove":      l.removeModel,
		"POST /library/works/{work}/collections":               l.fileWork,
		"GET /library/collections":                             l.collections,
		"POST /library/collections":                            l.newCollection,
		"GET /library/collections/{collection}":                l.collection,
		"POST /library/collections/{collection}/name":          l.renameCollection,
		"POST /library/collections/{collection}/works":         l.addToCollection,
		"POST /library/collections/{collection}/works/{work}":  l.changeItem,

		"GET /library/remedies":                   l.remedies,
		"GET /library/remedies/new":               l.newRemedyPage,
		"POST /library/remedies/new":              l.newRemedy,
		"GET /library/remedies/{remedy}":          l.remedy,
		"GET /library/remedies/{remedy}/words":    l.remedyWords,
		"POST /library/remedies/{remedy}/words":   l.keepRemedy,
		"POST /library/remedies/{remedy}/printed": l.printedRemedy,
	} {
		mux.Handle(pattern, f.Teacher(h))
	}
	mux.Handle("GET /sounds/{work}", f.Known(l.sound)) // for a family what was asked of it, as /sheets/{work} shows it
	return func() {
		l.fingerings.End()
		l.sounds.End()
		l.asking.End()
	}, nil
}

func (l *library) desk() *studio.Desk { return l.f.Desk() }

// render shows one page of the library.
func (l *library) render(w http.ResponseWriter, r *http.Request, name, title string, data any) error {
	return l.pages.Render(w, r, name, page.View{Title: title, Here: "library", Data: data, Wide: true})
}

func invalid(format string, a ...any) error {
	return &studio.Problem{Kind: studio.Invalid, Say: fmt.Sprintf(format, a...)}
}

// say is the sentence of a problem for a list where each thing is answered by itself. What is no
// problem of the sender's is given back, to go up.
func say(err error) (string, error) {
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind != studio.Internal {
		return p.Say, nil
	}
	return "", err
}

// form reads a form that has no files; more than a page of text is refused.
func form(w http.ResponseWriter, r *http.Request) error {
	r.Body = http.MaxBytesReader(w, r.Body, 1<<20)
	if err := r.ParseForm(); err != nil {
		if _, tooLarge := errors.AsType[*http.MaxBytesError](err); tooLarge {
			return &studio.Problem{Kind: studio.TooLarge, Say: "That is more text than fits. Shorten it.", Err: err}
		}
		return &studio.Problem{Kind: studio.Invalid, Say: "The page sent something that makes no sense. Load it again.", Err: err}
	}
	return nil
}

func see(w http.ResponseWriter, r *http.Request, address string) error {
	http.Redirect(w, r, address, http.StatusSeeOther)
	return nil
}
