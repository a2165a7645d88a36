package desk

import (
	"context"
	"encoding/json"
	"io"
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// Notices are the ways out of the house by which the teacher can be told what has come. The zero value has none.
type Notices struct {
	PushKey string // what a browser subscribes with (applicationServerKey of VAPID, RFC 8292); "" no push
	// Confirm sends the mail with the link that confirms an address; nil: no mail.
	Confirm func(ctx context.Context, to, language, secret string) error
}

// told is how the teacher is told.
type told struct {
	PushKey   string
	Mails     bool
	Email     string
	Typed     string // an address that cannot be one, as it was typed
	Confirmed bool
	Here      bool // this browser is told
	Others    int  // browsers of the teacher's
	Said      string
	Problem   string
}

// Any tells whether there is any way.
func (t told) Any() bool { return t.PushKey != "" || t.Mails || t.Email != "" }

var toldWords = map[string]string{
	"mailed": "A mail is on its way. It begins once you open the link in it and press the button there.",
	"off":    "Nothing is sent there any more.",
}

func (p *pages) told(w http.ResponseWriter, r *http.Request) error { // GET /studio/told
	return p.showTold(w, r, told{Said: toldWords[r.FormValue("done")]})
}

func (p *pages) showTold(w http.ResponseWriter, r *http.Request, t told) error {
	ctx, v := r.Context(), page.Viewer(r)
	me, err := p.desk.Self(ctx, v)
	if err != nil {
		return err
	}
	all, err := p.desk.PushOf(ctx, v, v.Person)
	if err != nil {
		return err
	}
	for _, a := range all {
		if a.Device == v.Device {
			t.Here = true
		} else {
			t.Others++
		}
	}
	t.PushKey, t.Mails = p.o.Notices.PushKey, p.o.Notices.Confirm != nil
	t.Email, t.Confirmed = me.Email, !me.EmailAt.IsZero()
	return p.Render(w, r, "told.html", page.View{Title: "When to tell you", Here: "studio", Data: t})
}

// toldSays is one line for the page of settings.
func (p *pages) toldSays(ctx context.Context, v studio.Viewer) (string, error) {
	me, err := p.desk.Self(ctx, v)
	if err != nil {
		return "", err
	}
	all, err := p.desk.PushOf(ctx, v, v.Person)
	switch {
	case err != nil:
		return "", err
	case me.EmailAt.IsZero() && len(all) == 0:
		return "You are told nothing: the desk waits until you open it.", nil
	case me.EmailAt.IsZero():
		return "In " + page.Plural(len(all), "browser") + ": what hurt at once, questions and recordings gathered.", nil
	case len(all) == 0:
		return "By e-mail: what hurt at once, questions and recordings gathered.", nil
	}
	return "By e-mail and in " + page.Plural(len(all), "browser") + ": what hurt at once, questions and recordings gathered.", nil
}

// mostSubscription is more than a browser's own description of where it wants to be told.
const mostSubscription = 8 << 10

// tellHere is POST /studio/told: this browser wants to be told, at the address that it gave (JSON).
func (p *pages) tellHere(w http.ResponseWriter, r *http.Request) error {
	doc, err := io.ReadAll(http.MaxBytesReader(w, r.Body, mostSubscription))
	if err != nil {
		return err
	}
	if _, err := p.desk.AddPush(r.Context(), page.Viewer(r), json.RawMessage(doc)); err != nil {
		return err
	}
	return page.JSON(w, struct{}{})
}

// tellNowhere is POST /studio/told/off: this browser, or with all=yes every one of the teacher's, is told no more.
func (p *pages) tellNowhere(w http.ResponseWriter, r *http.Request) error {
	ctx, v := r.Context(), page.Viewer(r)
	all, err := p.desk.PushOf(ctx, v, v.Person)
	if err != nil {
		return err
	}
	for _, a := range all {
		if a.Device != v.Device && r.PostFormValue("all") == "" {
			continue
		}
		if err := p.desk.RemovePush(ctx, v, a.ID); err != nil {
			return err
		}
	}
	return p.back(w, r, "/studio/told?done=off")
}

// tellByMail is POST /studio/email: an address, which is told nothing before it is confirmed; or none any more.
func (p *pages) tellByMail(w http.ResponseWriter, r *http.Request) error {
	ctx, v := r.Context(), page.Viewer(r)
	if r.PostFormValue("off") != "" {
		if err := p.desk.DropEmail(ctx, v); err != nil {
			return err
		}
		return p.back(w, r, "/studio/told?done=off")
	}
	if p.o.Notices.Confirm == nil {
		return &studio.Problem{Kind: studio.NotFound, Say: "No mail leaves this studio yet. How a mail server is named stands in docs/running.md."}
	}
	to := r.PostFormValue("email")
	secret, err := p.desk.AskEmail(ctx, v, to)
	if say, ok := mendable(err); ok {
		return p.showTold(page.WithStatus(w, http.StatusUnprocessableEntity), r, told{Typed: to, Problem: say})
	}
	if err != nil {
		return err
	}
	if err := p.o.Notices.Confirm(ctx, to, studio.DefaultLanguage, secret); err != nil {
		p.f.Log().Error("a mail that confirms an address", "error", err)
		return p.showTold(page.WithStatus(w, http.StatusBadGateway), r, told{Problem: "The mail could not be sent just now. Take the address out and try again later; the program’s log says what the mail server answered."})
	}
	return p.back(w, r, "/studio/told?done=mailed")
}

// toldWorker is GET /studio/told.js: the service worker that shows a notice. It keeps nothing.
func (p *pages) toldWorker(w http.ResponseWriter, _ *http.Request) error {
	script, err := p.f.Asset("told.worker.js")
	if err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", "text/javascript; charset=utf-8")
	h.Set("Cache-Control", "no-cache")
	_, err = w.Write(script)
	return err
}
