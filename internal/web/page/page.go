// Package page is the frame of every page: who is asking, the layout, the look, and what a refusal
// looks like.
//
// A web package brings templates and handlers; a handler reads the request, calls one use-case and
// renders. Errors go up to one place here, which turns a studio.Problem into a status and one sentence.
// The frame refuses requests from other sites, and its policy lets no page fetch anything from
// anywhere else.
package page

import (
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"net/netip"
	"time"

	"github.com/klauspost/compress/gzhttp"

	"antiphon/internal/studio"
)

// Options of a Frame. The zero value of what may be left out: the real clock, no log, cookies for
// plain HTTP, addresses as the connection has them.
type Options struct {
	Desk   *studio.Desk
	Now    func() time.Time                 // nil means time.Now
	Log    *slog.Logger                     // nil means discard
	Secure bool                             // the browser speaks HTTPS to us, or to a proxy before us
	Cookie string                           // name of the cookie; "" means antiphon. Cookies know no port: two studios on one machine need two
	Client func(r *http.Request) netip.Addr // who is asking; nil means RemoteAddr
}

// Frame is what all pages share. It is safe for several goroutines.
type Frame struct {
	o       Options
	assets  fs.FS
	version string // of the assets, in their addresses
	pages   *Pages // its own: problem.html
	slow    *paces
	cross   *http.CrossOriginProtection
	pack    func(http.Handler) http.HandlerFunc
}

// New makes the frame. Without `make assets` it is an error that says so.
func New(o Options) (*Frame, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Client == nil {
		o.Client = remote
	}
	if o.Cookie == "" {
		o.Cookie = "antiphon"
	}
	f := &Frame{o: o, slow: newPaces(o.Now), cross: http.NewCrossOriginProtection()}
	var err error
	if f.assets, f.version, err = built(); err != nil {
		return nil, err
	}
	if f.pages, err = f.Pages(own); err != nil {
		return nil, fmt.Errorf("the frame's own pages: %w", err)
	}
	f.cross.SetDenyHandler(http.HandlerFunc(f.fromElsewhere))
	f.pack, err = gzhttp.NewWrapper(gzhttp.EnableZstd(false), gzhttp.ContentTypes([]string{"text/html", "text/css", "text/javascript", "application/json", "image/svg+xml"}))
	if err != nil {
		return nil, fmt.Errorf("packing pages: %w", err)
	}
	return f, nil
}

// Desk is where the use-cases are.
func (f *Frame) Desk() *studio.Desk { return f.o.Desk }

// Now is the frame's clock.
func (f *Frame) Now() time.Time { return f.o.Now() }

// Secure says whether browsers speak HTTPS to us.
func (f *Frame) Secure() bool { return f.o.Secure }

// Version of the pages' styles and scripts, as it stands in their addresses.
func (f *Frame) Version() string { return f.version }

// Asset is one of the bundled files, for an address of its own: a service worker reigns only below where it lies.
func (f *Frame) Asset(name string) ([]byte, error) { return fs.ReadFile(f.assets, name) }

// Log is where what a person cannot mend is written.
func (f *Frame) Log() *slog.Logger { return f.o.Log }

// Routes registers what belongs to the frame itself.
func (f *Frame) Routes(mux *http.ServeMux) {
	mux.Handle("GET /assets/{file}", http.HandlerFunc(f.asset))
	mux.Handle("/", f.Open(func(http.ResponseWriter, *http.Request) error {
		return &studio.Problem{Kind: studio.NotFound, Say: "There is no page at this address."}
	}))
}
