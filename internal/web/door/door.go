// Package door is where people come in: the teacher sets the studio up and signs in, a family opens
// its invitation, and both see which phones and computers are let in and sign them out.
//
// It knows no page behind the door. It does not say which of two things was wrong, changes nothing on a
// GET (messengers open links by themselves), and sends nobody to another site.
package door

import (
	"embed"
	"errors"
	"net/http"
	"net/url"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

//go:embed *.html
var files embed.FS

// Options of the door. The zero value believes the address that a request names.
type Options struct {
	Address string // how browsers reach this site, "https://studio.example"; passkeys are bound to it
}

type door struct {
	f     *page.Frame
	p     *page.Pages
	o     Options
	going *ceremonies
}

// Routes registers the pages of the door.
func Routes(mux *http.ServeMux, f *page.Frame, o Options) error {
	p, err := f.Pages(files)
	if err != nil {
		return err
	}
	d := &door{f, p, o, newCeremonies(f.Now)}

	mux.Handle("GET /set-up/{secret}", f.Open(d.setUpForm))
	mux.Handle("POST /set-up/{secret}", f.Open(small(f.Paced(d.setUp))))

	mux.Handle("GET /sign-in", f.Open(d.signInForm))
	mux.Handle("POST /sign-in", f.Open(small(f.Paced(d.signIn))))
	mux.Handle("POST /sign-in/passkey", f.Open(small(f.Paced(d.askPasskey))))
	mux.Handle("POST /sign-in/passkey/answer", f.Open(small(f.Paced(d.enterByPasskey))))
	mux.Handle("GET /recover", f.Open(d.recoverForm))
	mux.Handle("POST /recover", f.Open(small(f.Paced(d.recover))))
	mux.Handle("POST /sign-out", f.Known(small(d.signOut)))

	mux.Handle("GET /studio/door", f.Teacher(d.own))
	mux.Handle("POST /studio/door/password", f.Teacher(small(f.Paced(d.changePassword))))
	mux.Handle("POST /studio/door/codes", f.Teacher(small(f.Paced(d.newCodes))))
	mux.Handle("POST /studio/door/passkeys", f.Teacher(small(f.Paced(d.offerPasskey))))
	mux.Handle("POST /studio/door/passkeys/answer", f.Teacher(small(f.Paced(d.addPasskey))))
	mux.Handle("POST /studio/door/passkeys/{passkey}/forget", f.Teacher(small(f.Paced(d.forgetPasskey))))
	mux.Handle("POST /studio/door/devices/{device}/sign-out", f.Teacher(small(d.signOutOwn)))
	mux.Handle("POST /studio/door/devices/{device}/name", f.Teacher(small(d.nameOwn)))

	mux.Handle("GET /join/{token}", f.Open(d.invitation))
	mux.Handle("POST /join/{token}", f.Open(small(f.Paced(d.join))))
	mux.Handle("GET /devices", f.Family(d.devices))
	mux.Handle("POST /devices/{device}/sign-out", f.Family(small(d.signOutDevice)))
	mux.Handle("POST /devices/{device}/name", f.Family(small(d.nameDevice)))
	mux.Handle("POST /language", f.Open(small(d.language)))
	return nil
}

// mostForm is more than any form or passkey at the door says; a stranger is not to fill the disk with it.
const mostForm = 64 << 10

func small(h page.Handler) page.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		r.Body = http.MaxBytesReader(w, r.Body, mostForm)
		return h(w, r)
	}
}

// local is where a page leads afterwards: a path of this site, or otherwise.
func local(to, otherwise string) string {
	u, err := url.Parse(to)
	// A browser reads \ as / and drops tabs and line ends before it looks for a host.
	if err != nil || u.IsAbs() || u.Host != "" || u.User != nil || !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") ||
		strings.ContainsFunc(to, func(r rune) bool { return r == '\\' || r <= ' ' || r == 0x7f }) {
		return otherwise
	}
	return to
}

// deviceName is what a browser says of the thing it runs on, as far as it helps to find it in a list.
func deviceName(r *http.Request) string {
	ua := r.UserAgent()
	switch {
	case strings.Contains(ua, "Tablet"):
		return "Tablet"
	case strings.Contains(ua, "Mobi"): // what browsers on phones say by convention
		return "Phone"
	}
	return "Computer"
}

// refused gives the sentence of a refusal that a person can mend in the form at hand. Anything else,
// and what is too much at once, belongs to the frame.
func refused(err error) (string, bool) {
	p, ok := errors.AsType[*studio.Problem](err)
	if !ok || p.Kind == studio.Internal || p.Kind == page.TooMany {
		return "", false
	}
	return p.Say, true
}
