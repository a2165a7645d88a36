package tongue

import "net/http"

const (
	cookie    = "language"
	cookieFor = 400 * 24 * 60 * 60 // browsers allow no more
)

// Chosen is the language that was chosen in this browser; false where none was.
func Chosen(r *http.Request) (*Tongue, bool) {
	c, err := r.Cookie(cookie)
	if err != nil || Of(c.Value).Code != c.Value {
		return nil, false
	}
	return Of(c.Value), true
}

// For gives the language that was chosen in this browser, or the one with the code otherwise.
func For(r *http.Request, otherwise string) *Tongue {
	if t, ok := Chosen(r); ok {
		return t
	}
	return Of(otherwise)
}

// Choose keeps a language for this browser.
func Choose(w http.ResponseWriter, code string, secure bool) {
	http.SetCookie(w, &http.Cookie{Name: cookie, Value: code, Path: "/", MaxAge: cookieFor,
		HttpOnly: true, Secure: secure, SameSite: http.SameSiteLaxMode})
}
