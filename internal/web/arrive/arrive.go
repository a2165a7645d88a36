// Package arrive is where recordings come in and go out: resumable uploads from phones and from the
// teacher's computer, the page for files that nobody's name is on yet, the recordings that pages play,
// and the line over which pages hear what became of them.
//
// It keeps half recordings in a folder of its own until they are whole and the studio has taken them in,
// and decides nothing about them: what may be sent and seen is the studio's. A page without scripts sends
// plain forms; see the packages of those pages.
//
// # What pages write
//
// An island sends what a form would, and goes on after a lost network, a sleeping phone and a reload:
//
//	<form data-island="upload" data-kind="take" data-then="/week/takes/" method="post" enctype="multipart/form-data" …>
//
// with the fields child, of, note, hurt ("yes"), with (what sounded beside the child: a studio.Partner as JSON;
// its StartS counts in what loudspeaker and microphone take, as far as the browser knows it) and file. Once the studio has the recording the page goes
// on to data-then with the take's id and "?sent" ("?sent=before" where it was sent before) behind it.
// data-kind is also "drop" (the teacher's files without names; file may be multiple) and "model" (field
// work). What the teacher records of one item of a draft comes as "answer", with lesson and item, from the island of
// package lesson. What happens is told in an element with data-told inside the form, which the island adds where
// there is none; all words can be set by data-words, a JSON object (see upload.ts).
//
// Another one keeps the states of takes fresh: data-island="live" on any element, and inside it
// data-take="ID" on what belongs to a take. Its data-state becomes the state, and the text of an element
// inside with data-state-words becomes what data-say-STATE says, or else the studio's own English words.
// With data-live-reload the page is loaded anew when a take on it gets to a new state.
package arrive

import (
	"cmp"
	"embed"
	"errors"
	"fmt"
	"net/http"
	"os"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

//go:embed *.html
var files embed.FS

// Options of New. Dir is needed; the zero value of the others is the default that they state.
type Options struct {
	Dir      string        // for half recordings, private to this program
	MaxBytes int64         // of one file; 0 means 2 GiB
	Drops    int           // of the teacher's files that nobody announced, those half here; 0 means 1000. How many takes may be is the studio's to say
	KeepHalf time.Duration // a half recording of which nothing came for so long is given up; 0 means 3 days
	Poll     time.Duration // between two looks at what changed; 0 means a second
	Beat     time.Duration // between two signs of life on an open line; 0 means 15 seconds
	Line     time.Duration // after which an open line is ended, so that who asks is checked again; 0 means 10 minutes
}

// Arrivals is the part of the site that recordings come in by. Several goroutines may use it.
type Arrivals struct {
	f       *page.Frame
	desk    *studio.Desk
	o       Options
	pages   *page.Pages
	uploads *uploads
	live    *live
}

// New makes the folder for half recordings if it is not there.
func New(f *page.Frame, o Options) (*Arrivals, error) {
	o.MaxBytes = cmp.Or(o.MaxBytes, 2<<30)
	o.Drops = cmp.Or(o.Drops, 1000)
	o.KeepHalf = cmp.Or(o.KeepHalf, 3*24*time.Hour)
	o.Poll = cmp.Or(o.Poll, time.Second)
	o.Beat = cmp.Or(o.Beat, 15*time.Second)
	o.Line = cmp.Or(o.Line, 10*time.Minute)
	if o.Dir == "" {
		return nil, errors.New("arrive: there is no folder for half recordings")
	}
	if err := os.MkdirAll(o.Dir, 0o700); err != nil {
		return nil, fmt.Errorf("making the folder of half recordings: %w", err)
	}
	a := &Arrivals{f: f, desk: f.Desk(), o: o, live: newLive(f, o)}
	var err error
	if a.pages, err = f.Pages(files); err != nil {
		return nil, fmt.Errorf("the pages of arrivals: %w", err)
	}
	if a.uploads, err = newUploads(f, o); err != nil {
		return nil, err
	}
	return a, nil
}

// Routes registers everything here.
func (a *Arrivals) Routes(mux *http.ServeMux) {
	known := func(pattern string, h page.Handler) { mux.Handle(pattern, a.f.Known(h)) }
	known("OPTIONS /uploads/", a.uploads.pass)
	known("POST /uploads/{$}", a.uploads.create)
	known("HEAD /uploads/{upload}", a.uploads.ask)
	known("PATCH /uploads/{upload}", a.uploads.append)
	known("DELETE /uploads/{upload}", a.uploads.giveUp)
	known("GET /media/{media}", a.media)
	known("GET /live", a.live.listen)

	teacher := func(pattern string, h page.Handler) { mux.Handle(pattern, a.f.Teacher(h)) }
	teacher("GET /unsorted", a.unsorted)
	teacher("POST /unsorted", a.drop)
	teacher("GET /unsorted/{unsorted}/sound", a.unsortedSound)
	teacher("POST /unsorted/{unsorted}", a.sort)
	teacher("POST /unsorted/{unsorted}/discard", a.discard)
}
