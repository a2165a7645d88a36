package door

import (
	"net/http"
	"net/url"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// signInPage asks for a passkey or a password.
type signInPage struct {
	Problem string
	Studio  string // its name; "" while there is none
	To      string
	Out     bool // somebody has just signed out
	Keyless bool // no passkey can belong to this address
}

// signInForm is GET /sign-in.
func (d *door) signInForm(w http.ResponseWriter, r *http.Request) error {
	to := local(r.URL.Query().Get("to"), "/desk")
	if page.Viewer(r).Role == studio.Teacher {
		http.Redirect(w, r, to, http.StatusSeeOther)
		return nil
	}
	return d.showSignIn(w, r, signInPage{To: to, Out: r.URL.Query().Has("out")})
}

func (d *door) showSignIn(w http.ResponseWriter, r *http.Request, form signInPage) error {
	home, _, err := d.f.Desk().Home(r.Context())
	if err != nil {
		return err
	}
	form.Studio, form.Keyless = home.Name, d.keyless(r)
	return d.p.Render(w, r, "sign-in.html", page.View{Title: "Sign in", Data: form})
}

// signIn is POST /sign-in, with a password.
func (d *door) signIn(w http.ResponseWriter, r *http.Request) error {
	to := local(r.PostFormValue("to"), "/desk")
	_, secret, err := d.f.Desk().SignIn(r.Context(), r.PostFormValue("password"), deviceName(r))
	if say, ok := refused(err); ok {
		return d.showSignIn(page.WithStatus(w, http.StatusForbidden), r, signInPage{Problem: say, To: to})
	}
	if err != nil {
		return err
	}
	d.f.Enter(w, secret)
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// recoverPage asks for a recovery code.
type recoverPage struct{ Problem string }

// recoverForm is GET /recover.
func (d *door) recoverForm(w http.ResponseWriter, r *http.Request) error {
	return d.p.Render(w, r, "recover.html", page.View{Title: "Recovery code", Data: recoverPage{}})
}

// recover is POST /recover: a code opens the door once, and leads to where a new way in is made.
func (d *door) recover(w http.ResponseWriter, r *http.Request) error {
	_, secret, err := d.f.Desk().Recover(r.Context(), r.PostFormValue("code"), deviceName(r))
	if say, ok := refused(err); ok {
		return d.p.Render(page.WithStatus(w, http.StatusForbidden), r, "recover.html", page.View{Title: "Recovery code", Data: recoverPage{say}})
	}
	if err != nil {
		return err
	}
	d.f.Enter(w, secret)
	http.Redirect(w, r, "/studio/door?"+url.Values{"done": {"recovered"}}.Encode(), http.StatusSeeOther)
	return nil
}

// signOut is POST /sign-out: the device that asks is let in no more.
func (d *door) signOut(w http.ResponseWriter, r *http.Request) error {
	if err := d.f.Desk().SignOut(r.Context(), page.Viewer(r)); err != nil {
		return err
	}
	d.f.Leave(w)
	if page.Viewer(r).Role == studio.Coach {
		return d.showLeft(w, r)
	}
	http.Redirect(w, r, "/sign-in?out", http.StatusSeeOther)
	return nil
}
