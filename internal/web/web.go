// Package web puts the pages of a studio together behind one handler.
//
// It draws no page itself: who may enter is package door's, the teacher's pages are desk's, lesson's, take's
// and library's, the family's week's, and recordings come in and go out through arrive.
package web

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/netip"
	"path/filepath"
	"time"

	"antiphon/internal/engrave"
	"antiphon/internal/studio"
	"antiphon/internal/web/arrive"
	"antiphon/internal/web/desk"
	"antiphon/internal/web/door"
	"antiphon/internal/web/lesson"
	"antiphon/internal/web/letter"
	"antiphon/internal/web/library"
	"antiphon/internal/web/page"
	"antiphon/internal/web/plan"
	"antiphon/internal/web/practice"
	"antiphon/internal/web/record"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/take"
	"antiphon/internal/web/week"
)

// Options of New. Desk, Engraver and Folder are needed.
type Options struct {
	Desk     *studio.Desk
	Engraver *engrave.Engraver
	Address  string                         // how browsers reach us, "https://studio.example.org"; "" means as they ask
	Folder   string                         // for half recordings and made sounds, private to this program
	Secure   bool                           // browsers speak HTTPS to us, or to a proxy before us
	Client   func(*http.Request) netip.Addr // who is asking; nil means RemoteAddr
	Now      func() time.Time               // nil means time.Now
	Log      *slog.Logger                   // nil means discard
	Notices  week.Notices                   // how people can be told that something is here; the zero value: they cannot

	// EnterByLink makes GET /enter/{secret of a device} bind a browser on this machine. For the demo only.
	EnterByLink bool
}

// Site is the pages, and what they need done beside them.
type Site struct {
	http.Handler
	frame    *page.Frame
	arrivals *arrive.Arrivals
	end      func()
}

// New makes the site. The error is page.ErrNoAssets or engrave.ErrNoLibrary where `make assets` was not run.
func New(o Options) (*Site, error) {
	if !engrave.Available() {
		return nil, engrave.ErrNoLibrary
	}
	cookie := "" // the usual one
	if o.EnterByLink {
		cookie = "antiphon-demo" // on the machine of a real studio the demo signs nobody out
	}
	f, err := page.New(page.Options{Desk: o.Desk, Now: o.Now, Log: o.Log, Secure: o.Secure, Client: o.Client, Cookie: cookie})
	if err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	f.Routes(mux)
	sheets := sheet.New(o.Engraver, f)
	sheets.Routes(mux)
	takes, err := take.New(f, sheets)
	if err != nil {
		return nil, err
	}
	takes.Routes(mux)
	arrivals, err := arrive.New(f, arrive.Options{Dir: filepath.Join(o.Folder, "arriving")})
	if err != nil {
		return nil, err
	}
	arrivals.Routes(mux)
	err = errors.Join(
		door.Routes(mux, f, door.Options{Address: o.Address}),
		desk.Routes(mux, f, desk.Options{Address: o.Address, Notices: desk.Notices{PushKey: o.Notices.PushKey, Confirm: o.Notices.Confirm}}),
		lesson.Routes(mux, f, lesson.Options{Sheets: sheets, Engraver: o.Engraver}),
		week.Routes(mux, f, sheets, week.Options{Sounds: true, Notices: o.Notices}),
		letter.Routes(mux, f, o.Engraver),
		plan.Routes(mux, f),
	)
	if err != nil {
		return nil, err
	}
	family, err := week.Guard(f)
	if err != nil {
		return nil, err
	}
	home, err := practice.New(f, practice.Options{Sheets: sheets, Family: family, CacheDir: filepath.Join(o.Folder, "practice")})
	if err != nil {
		return nil, err
	}
	home.Routes(mux)
	if err := record.Routes(mux, f, record.Options{Sheets: sheets, Family: family, Second: practice.Second, Tuner: practice.Tuner}); err != nil {
		return nil, err
	}
	end, err := library.Routes(mux, f, library.Options{Sheets: sheets, Engraver: o.Engraver, CacheDir: filepath.Join(o.Folder, "sounds")})
	if err != nil {
		return nil, err
	}
	if o.EnterByLink {
		mux.Handle("GET /enter/{secret}", f.Open(enter(f)))
	}
	return &Site{f.Guard(mux), f, arrivals, func() { end(); home.End() }}, nil
}

// Tend does what has to be done beside answering, until ctx ends.
func (s *Site) Tend(ctx context.Context) error {
	defer s.end()
	return s.arrivals.Tend(ctx)
}
