package tongue

import "net/http"

const (
	cookie    = "language"
	cookieFor = 400 * 24 * 60 * 60 // browsers allow no more
)

// For gives the language that was chosen in this browser, or the one with the code otherwise.
func For(r *http.Request, otherwise string) *Tongue {
	if c, err := r.Cookie(cookie); err == nil && Of(c.Value).Code == c.Value {
		return Of(c.Value)
	}
	return Of(otherwise)
}

// Choose keeps a language for this browser.
func Choose(w http.ResponseWriter, code string, secure bool) {
	http.SetCookie(w, &http.Cookie{Name: cookie, Value: code, Path: "/", MaxAge: cookieFor,
		HttpOnly: true, Secure: secure, SameSite: http.SameSiteLaxMode})
}
