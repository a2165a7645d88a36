package week

import (
	"context"
	"encoding/json"
	"io"
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

// Notices are the ways out of the house by which a family can be told that an answer is here. The zero value has none.
type Notices struct {
	PushKey string // what a browser subscribes with (applicationServerKey of VAPID, RFC 8292); "" no push
	// Confirm sends the mail with the link that confirms an address, /notices/confirm/{secret}; nil: no mail. Every later
	// mail leads to /notices/off/{secret}, which stops them.
	Confirm func(ctx context.Context, to, language, secret string) error
}

// noticesPart is how a family can be told, and how it is.
type noticesPart struct {
	*tongue.Tongue
	PushKey   string
	Mails     bool
	Email     string
	Confirmed bool
	Here      studio.PushID // this phone is told; "" it is not
}

// Any tells whether there is any way.
func (n noticesPart) Any() bool { return n.PushKey != "" || n.Mails || n.Email != "" }

func (r *reader) notices(me studio.Person) (noticesPart, error) {
	o := r.w.o.Notices
	n := noticesPart{Tongue: r.Tongue, PushKey: o.PushKey, Mails: o.Confirm != nil, Email: me.Email, Confirmed: !me.EmailAt.IsZero()}
	all, err := r.w.f.Desk().PushOf(r.ctx, r.viewer, me.ID)
	for _, a := range all {
		if a.Device == r.viewer.Device {
			n.Here = a.ID
		}
	}
	return n, err
}

// mostSubscription is more than a browser's own description of where it wants to be told.
const mostSubscription = 8 << 10

// subscribe is POST /week/notices: this phone wants to be told, at the address that its browser gave (JSON).
func (w *week) subscribe(rw http.ResponseWriter, r *http.Request) error {
	doc, err := io.ReadAll(http.MaxBytesReader(rw, r.Body, mostSubscription))
	if err != nil {
		return err
	}
	if _, err := w.f.Desk().AddPush(r.Context(), page.Viewer(r), json.RawMessage(doc)); err != nil {
		return err
	}
	return page.JSON(rw, struct{}{})
}

// unsubscribe is POST /week/notices/off: this phone is told no more.
func (w *week) unsubscribe(rw http.ResponseWriter, r *http.Request) error {
	v, d := page.Viewer(r), w.f.Desk()
	all, err := d.PushOf(r.Context(), v, v.Person)
	if err != nil {
		return err
	}
	for _, a := range all {
		if a.Device != v.Device {
			continue
		}
		if err := d.RemovePush(r.Context(), v, a.ID); err != nil {
			return err
		}
	}
	http.Redirect(rw, r, "/week#notices", http.StatusSeeOther)
	return nil
}

// email is POST /week/email: an address, which is told nothing before it is confirmed; or none any more.
func (w *week) email(rw http.ResponseWriter, r *http.Request) error {
	v, d := page.Viewer(r), w.f.Desk()
	c, err := w.common(r, "/week")
	if err != nil {
		return err
	}
	if r.PostFormValue("off") != "" {
		if err := d.DropEmail(r.Context(), v); err != nil {
			return err
		}
		http.Redirect(rw, r, "/week#notices", http.StatusSeeOther)
		return nil
	}
	if w.o.Notices.Confirm == nil {
		return &studio.Problem{Kind: studio.NotFound, Say: "There is no page at this address."}
	}
	giveBack, ok := w.letters.take(v.Person, w.f.Now())
	if !ok {
		return &studio.Problem{Kind: page.TooMany, Say: "Too many letters to confirm an address were sent today. Try again tomorrow."}
	}
	secret, err := d.AskEmail(r.Context(), v, r.PostFormValue("email"))
	if err != nil {
		giveBack()
		return err
	}
	me, err := d.Self(r.Context(), v)
	if err != nil {
		return err
	}
	// To the address as it is kept: what it was typed as may hold more than can be seen.
	if err := w.o.Notices.Confirm(r.Context(), me.Email, c.Code, secret); err != nil {
		w.f.Log().Error("a mail that confirms an address", "error", err)
		return say(c.Tongue, "notices.mail.unsent")
	}
	http.Redirect(rw, r, "/week?mailed#notices", http.StatusSeeOther)
	return nil
}

// mailPage is where the links in mails lead; its button does what the link is for, since programs open links too.
type mailPage struct {
	common
	Words  string // key of what is said
	Button string // key of the button's words; "" it is done
}

// mail is GET and POST /notices/{does}/{secret}, for anybody who has the link.
func (w *week) mail(rw http.ResponseWriter, r *http.Request) error {
	home, _, err := w.f.Desk().Home(r.Context())
	if err != nil {
		return err
	}
	t, err := w.f.Tongue(r)
	if err != nil {
		return err
	}
	c := common{t, r.URL.Path, home.Name, home.ReplyDays}
	does, secret := r.PathValue("does"), r.PathValue("secret")
	p := mailPage{common: c, Words: "notices." + does, Button: "notices." + does + ".go"}
	if !c.Has(p.Button) {
		return &studio.Problem{Kind: studio.NotFound, Say: "There is no page at this address."}
	}
	if r.Method == http.MethodPost {
		p.Words, p.Button = "notices."+does+".done", ""
		if does == "off" {
			err = w.f.Desk().MailsOff(r.Context(), secret)
		} else {
			_, err = w.f.Desk().ConfirmEmail(r.Context(), secret)
		}
		if err != nil {
			return err
		}
	}
	return w.render(rw, r, "mail.html", "notices.mail.title", c.Tongue, p)
}
