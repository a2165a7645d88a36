package desk

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

// childrenAsked is how many students the form has room for at once; another is added on the family's page.
const childrenAsked = 3

type inviteForm struct {
	Problem  string
	Family   string
	Students []inviteStudent
	What     string
	Who      string
	Keep     string
}

type inviteStudent struct {
	N     int
	Name  string
	Media studio.MediaMode
}

func (p *pages) newFamily(w http.ResponseWriter, r *http.Request) error { // GET /studio/families/new
	st, err := p.desk.OwnStudio(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	what, who := studio.DefaultConsent(st.Language)
	f := inviteForm{What: what, Who: who, Keep: strconv.Itoa(st.KeepDays)}
	for n := range childrenAsked {
		f.Students = append(f.Students, inviteStudent{N: n + 1, Media: studio.SoundOnly})
	}
	return p.showInvite(w, r, f)
}

func (p *pages) showInvite(w http.ResponseWriter, r *http.Request, f inviteForm) error {
	return p.Render(w, r, "newfamily.html", page.View{Title: "Invite a family", Here: "studio", Data: f})
}

func (p *pages) inviteFamily(w http.ResponseWriter, r *http.Request) error { // POST /studio/families
	r.Body = http.MaxBytesReader(w, r.Body, formBytes)
	if err := r.ParseForm(); err != nil {
		return unreadable(err)
	}
	f := inviteForm{Family: r.PostForm.Get("family"), What: r.PostForm.Get("what"), Who: r.PostForm.Get("who"), Keep: r.PostForm.Get("keep")}
	n := studio.NewFamily{Name: f.Family}
	media := r.PostForm["media"]
	for i, name := range r.PostForm["student"] {
		if i == childrenAsked || i >= len(media) {
			break
		}
		m := studio.MediaMode(media[i])
		f.Students = append(f.Students, inviteStudent{i + 1, name, m})
		if strings.TrimSpace(name) != "" {
			n.Students = append(n.Students, studio.NewStudent{Name: name, Media: m})
		}
	}
	ask := studio.Asked{What: strings.TrimSpace(f.What), Who: strings.TrimSpace(f.Who)}
	var err error
	if strings.TrimSpace(f.Keep) != "" {
		ask.KeepDays, err = wholeNumber(f.Keep, "the days a recording is kept")
	}
	var made studio.Family
	var token string
	if err == nil {
		made, token, err = p.desk.InviteFamily(r.Context(), page.Viewer(r), n, ask)
	}
	if say, ok := mendable(err); ok {
		f.Problem = say
		return p.showInvite(page.WithStatus(w, http.StatusUnprocessableEntity), r, f)
	}
	if err != nil {
		return err
	}
	return p.handOver(w, r, made.ID, token)
}

func (p *pages) newLink(w http.ResponseWriter, r *http.Request) error { // POST /studio/families/{family}/link
	id := studio.FamilyID(r.PathValue("family"))
	token, err := p.desk.InviteDevice(r.Context(), page.Viewer(r), id, studio.Asked{})
	if err != nil {
		return err
	}
	return p.handOver(w, r, id, token)
}

// A link is shown on the page after the one that made it. On the way its secret lies in a cookie that only
// that page gets, for a few minutes, so that loading a page again makes no second link.
const (
	linkCookie  = "antiphon-link"
	linkSeconds = 300
)

func (p *pages) handOver(w http.ResponseWriter, r *http.Request, id studio.FamilyID, token string) error {
	p.setLink(w, r, id, token, linkSeconds)
	return p.back(w, r, familyAt(id)+"/link")
}

func (p *pages) setLink(w http.ResponseWriter, r *http.Request, id studio.FamilyID, token string, seconds int) {
	http.SetCookie(w, &http.Cookie{Name: linkCookie, Value: token, Path: familyAt(id) + "/link", MaxAge: seconds,
		HttpOnly: true, Secure: p.f.Secure(), SameSite: http.SameSiteStrictMode})
}

// address is how browsers reach this site.
func (p *pages) address(r *http.Request) string {
	switch {
	case p.o.Address != "":
		return strings.TrimRight(p.o.Address, "/")
	case p.f.Secure():
		return "https://" + r.Host
	}
	return "http://" + r.Host
}

func (p *pages) link(w http.ResponseWriter, r *http.Request) error { // GET /studio/families/{family}/link
	id := studio.FamilyID(r.PathValue("family"))
	if !studio.IsID(id) {
		return notHere()
	}
	c, err := r.Cookie(linkCookie)
	if err != nil || c.Value == "" {
		return p.back(w, r, familyAt(id)+"?done=shown#phones")
	}
	inv, err := p.desk.Invitation(r.Context(), c.Value)
	if err != nil {
		return err
	}
	p.setLink(w, r, id, "", -1)
	var names []string
	for _, s := range inv.Students {
		names = append(names, s.Name)
	}
	slices.Sort(names)
	d := struct {
		ID                                studio.FamilyID
		Family, Link, Letter, Until, Lang string
	}{ID: id, Family: inv.Family, Link: p.address(r) + "/join/" + url.PathEscape(c.Value), Until: inv.Expires.In(p.f.Now().Location()).Format("Monday, 2 January")}
	in := tongue.Of(inv.Language)
	until := in.Date(inv.Expires, p.f.Now())
	d.Lang, d.Letter = in.Code, letterIn(in)(letterBlanks{link: d.Link, family: inv.Family, children: in.And(names), many: len(names) > 1, until: until, teacher: inv.Teacher})
	return p.Render(w, r, "link.html", page.View{Title: "The link", Here: "studio", Data: d})
}

// formBytes is more than any form of the desk holds.
const formBytes = 1 << 20

func unreadable(err error) error {
	if _, tooLarge := errors.AsType[*http.MaxBytesError](err); tooLarge {
		return err
	}
	return &studio.Problem{Kind: studio.Invalid, Say: "The page sent something that makes no sense. Load it again.", Err: err}
}
