package web

import (
	"net"
	"net/http"
	"net/netip"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// enter binds the browser that opens it to a device of the demo, on this machine only. A real studio has
// no such address: there a link is opened with a button.
func enter(f *page.Frame) page.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if !ourOwn(r) {
			return &studio.Problem{Kind: studio.NotAllowed, Say: "This link works on the machine of the demo only."}
		}
		secret := r.PathValue("secret")
		v, err := f.Desk().Recognise(r.Context(), secret)
		if err != nil {
			return err
		}
		f.Enter(w, secret)
		to := "/desk"
		if v.Role == studio.Coach {
			to = "/week"
		}
		http.Redirect(w, r, to, http.StatusSeeOther)
		return nil
	}
}

// ourOwn tells whether a request comes from this machine and was meant for it: a name that somebody else
// points here does not count.
func ourOwn(r *http.Request) bool {
	from, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil || !from.Addr().Unmap().IsLoopback() {
		return false
	}
	host, _, err := net.SplitHostPort(r.Host)
	if err != nil {
		host = r.Host
	}
	if host == "localhost" {
		return true
	}
	at, err := netip.ParseAddr(host)
	return err == nil && at.IsLoopback()
}
