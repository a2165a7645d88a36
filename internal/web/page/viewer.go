package page

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"net/http"
	"net/url"

	"antiphon/internal/studio"
)

// cookieFor is how long a browser keeps the device's secret; browsers allow no more. How long it is good is the studio's to say.
const cookieFor = 400 * 24 * 60 * 60

type viewerKey struct{}

// Viewer is who asks; the zero value is a stranger.
func Viewer(r *http.Request) studio.Viewer {
	v, _ := r.Context().Value(viewerKey{}).(studio.Viewer)
	return v
}

// cookie's name tells browsers to take it only over HTTPS and for this host, where there is HTTPS.
func (f *Frame) cookie() string {
	if f.o.Secure {
		return "__Host-" + f.o.Cookie
	}
	return f.o.Cookie
}

// Enter binds the browser: from now on it brings the device's secret.
func (f *Frame) Enter(w http.ResponseWriter, secret string) { f.setCookie(w, secret, cookieFor) }

// Leave takes the secret away again.
func (f *Frame) Leave(w http.ResponseWriter) { f.setCookie(w, "", -1) }

func (f *Frame) setCookie(w http.ResponseWriter, value string, age int) {
	http.SetCookie(w, &http.Cookie{Name: f.cookie(), Value: value, Path: "/", MaxAge: age,
		HttpOnly: true, Secure: f.o.Secure, SameSite: http.SameSiteLaxMode})
}

// forWhom is the header that tells the store of a family's phone for whom an answer is: it keeps for one person only,
// and nothing once the phone is signed out.
const forWhom = "Antiphon-For"

// whose names a person there without saying who it is: the family, a dot, and the person.
func whose(v studio.Viewer) string {
	if v.Role != studio.Coach {
		return "nobody"
	}
	name := func(id string) string {
		sum := sha256.Sum256([]byte("a family's phone " + id))
		return hex.EncodeToString(sum[:8])
	}
	return name(string(v.Family)) + "." + name(string(v.Person))
}

// recognise makes a viewer of the cookie. One that is not good any more is a stranger's.
func (f *Frame) recognise(r *http.Request) (studio.Viewer, error) {
	c, err := r.Cookie(f.cookie())
	if err != nil || c.Value == "" {
		return studio.Viewer{}, nil
	}
	v, err := f.o.Desk.Recognise(r.Context(), c.Value)
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind != studio.Internal {
		return studio.Viewer{}, nil
	}
	return v, err
}

// Teacher lets the teacher in and shows others the way to the sign-in page.
func (f *Frame) Teacher(h Handler) http.Handler {
	return f.Open(func(w http.ResponseWriter, r *http.Request) error {
		if Viewer(r).Role != studio.Teacher {
			return f.stranger(w, r)
		}
		return h(w, r)
	})
}

// Family lets the adults of a family in.
func (f *Frame) Family(h Handler) http.Handler {
	return f.Open(func(w http.ResponseWriter, r *http.Request) error {
		switch Viewer(r).Role {
		case studio.Coach:
			return h(w, r)
		case studio.Teacher:
			return &studio.Problem{Kind: studio.NotAllowed, Say: "This page belongs to a family; you are signed in as the teacher."}
		}
		return &studio.Problem{Kind: studio.NotAllowed, Say: "This phone is not connected to a family here. Open the link that the teacher sent you, or ask for a new one."}
	})
}

// Known lets the teacher and the families in; what each may see is the studio's to decide.
func (f *Frame) Known(h Handler) http.Handler {
	return f.Open(func(w http.ResponseWriter, r *http.Request) error {
		if Viewer(r).Role == "" {
			return f.stranger(w, r)
		}
		return h(w, r)
	})
}

func (f *Frame) stranger(w http.ResponseWriter, r *http.Request) error {
	if Viewer(r).Role != "" {
		return &studio.Problem{Kind: studio.NotAllowed, Say: "This page is the teacher’s."}
	}
	if r.Method != http.MethodGet {
		return &studio.Problem{Kind: studio.NotAllowed, Say: "You are not signed in any more. Sign in and do it again."}
	}
	to := "/sign-in"
	if p := r.URL.RequestURI(); p != "/" && p != "/desk" {
		to += "?to=" + url.QueryEscape(p)
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}
