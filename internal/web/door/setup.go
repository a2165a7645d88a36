package door

import (
	"errors"
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

// setUpPage is the form that founds the studio.
type setUpPage struct {
	Problem      string
	Studio, Name string
	Passkey      bool
	Language     string // of the families' pages
	Founded      bool   // there is a teacher already
	Keyless      bool   // no passkey can belong to this address
}

func (setUpPage) Languages() []*tongue.Tongue { return tongue.All() }

// codesPage shows recovery codes, once.
type codesPage struct {
	Codes   []string
	Founded string // the new studio's name; "" where the codes are new ones of a studio that is there
	Passkey bool   // one is to be made now
}

// setUpForm is GET /set-up/{secret}. It does not say whether the secret is good.
func (d *door) setUpForm(w http.ResponseWriter, r *http.Request) error {
	_, founded, err := d.f.Desk().Home(r.Context())
	if err != nil {
		return err
	}
	return d.p.Render(w, r, "set-up.html", page.View{Title: "Set the studio up", Data: setUpPage{Founded: founded, Keyless: d.keyless(r)}})
}

// setUp is POST /set-up/{secret}: the studio is founded and its recovery codes are shown.
func (d *door) setUp(w http.ResponseWriter, r *http.Request) error {
	form := setUpPage{Studio: r.PostFormValue("studio"), Name: r.PostFormValue("name"),
		Passkey: r.PostFormValue("way") == "passkey", Language: tongue.Of(r.PostFormValue("language")).Code}
	n := studio.NewTeacher{Studio: form.Studio, Name: form.Name, Password: r.PostFormValue("password"),
		Device: deviceName(r), Language: form.Language}
	if form.Passkey {
		n.Password = ""
	}
	var secret string
	var codes []string
	var err error
	if n.Password == "" && !form.Passkey {
		err = &studio.Problem{Kind: studio.Invalid, Say: "Choose a password, or choose the passkey."}
	} else {
		_, secret, codes, err = d.f.Desk().SetUp(r.Context(), r.PathValue("secret"), n)
	}
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind == studio.Invalid {
		form.Problem, form.Keyless = p.Say, d.keyless(r)
		return d.p.Render(page.WithStatus(w, http.StatusUnprocessableEntity), r, "set-up.html", page.View{Title: "Set the studio up", Data: form})
	}
	if err != nil {
		return err
	}
	d.f.Enter(w, secret)
	return d.p.Render(w, r, "codes.html", page.View{Title: "Recovery codes", Data: codesPage{codes, form.Studio, form.Passkey}})
}
