package page

import (
	"net/http"
	"net/netip"
	"strings"

	"antiphon/internal/studio"
)

// policy lets a page load from this server only, run no script and no style that stands in the page
// itself, and be shown in nobody's frame.
const policy = "default-src 'self'; img-src 'self' data: blob:; media-src 'self' blob:; worker-src 'self' blob:; " +
	"connect-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"

// rawUnder are addresses whose answers are not packed: recordings are so already, and news must not wait.
var rawUnder = [...]string{"/live", "/media/", "/uploads/", "/sounds/", "/week/sound/"}

// Guard stands before every route: the headers that keep a page to itself, no change asked for by another
// site, and no body that never ends.
func (f *Frame) Guard(next http.Handler) http.Handler {
	checked := f.cross.Handler(next)
	packed := f.pack(checked)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(self), microphone=(self), geolocation=(), interest-cohort=()")
		if f.o.Secure {
			h.Set("Strict-Transport-Security", "max-age=31536000")
		}
		if !strings.HasPrefix(r.URL.Path, "/assets/") {
			h.Set("Cache-Control", "no-store") // a page is about children; nobody in between keeps it
		}
		r = unstalled(w, r)
		for _, raw := range rawUnder {
			if strings.HasPrefix(r.URL.Path, raw) {
				checked.ServeHTTP(w, r)
				return
			}
		}
		packed.ServeHTTP(w, r)
	})
}

func (f *Frame) fromElsewhere(w http.ResponseWriter, r *http.Request) {
	f.refuse(w, r, &studio.Problem{Kind: studio.NotAllowed, Say: "This came from another site and was not done. Open the page here and try again."})
}

func remote(r *http.Request) netip.Addr {
	at, _ := netip.ParseAddrPort(r.RemoteAddr) // the zero address is one client like any other
	return at.Addr()
}
