package door

import (
	"errors"
	"net/http"
	"slices"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

// joinPage is what an open invitation shows and asks.
type joinPage struct {
	*tongue.Tongue
	studio.Invite
	Here     string // path of the page
	Problem  string
	Missing  string // key of what is not filled in; it says more than Problem
	Children string // their first names
	Until    string // the link is open
	Name     string // of the adult, as it was typed
	Device   string // what to call the phone
	Chosen   map[studio.StudentID]studio.MediaMode
	Over     bool // the link opens nothing any more
	Teacher  bool // the teacher looks at it
	Inside   bool // this phone belongs to a family already
}

// Modes are what a family can choose to send of a child.
func (joinPage) Modes() []studio.MediaMode {
	return []studio.MediaMode{studio.SoundOnly, studio.HandsOnly, studio.FullVideo}
}

// invitation is GET /join/{token}. It reads and never redeems: messengers open links by themselves.
func (d *door) invitation(w http.ResponseWriter, r *http.Request) error {
	return d.showInvitation(w, r, joinPage{})
}

func (d *door) showInvitation(w http.ResponseWriter, r *http.Request, j joinPage) error {
	var err error
	j.Here = r.URL.Path
	j.Teacher, j.Inside = page.Viewer(r).Role == studio.Teacher, page.Viewer(r).Role == studio.Coach
	j.Invite, err = d.f.Desk().Invitation(r.Context(), r.PathValue("token"))
	j.Tongue = tongue.For(r, j.Invite.Language)
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind == studio.Gone {
		j.Over = true
		home, _, err := d.f.Desk().Home(r.Context())
		if err != nil {
			return err
		}
		j.Tongue = tongue.For(r, home.Language)
		return d.show(page.WithStatus(w, http.StatusGone), r, "join.html", "join.over.title", j, j.Tongue)
	}
	if err != nil {
		return err
	}
	slices.SortStableFunc(j.Students, func(a, b studio.Student) int { return strings.Compare(a.Name, b.Name) })
	var names []string
	for _, s := range j.Students {
		names = append(names, s.Name)
	}
	j.Children = j.And(names)
	j.Until = j.Date(j.Expires, d.f.Now())
	if j.Chosen == nil {
		j.Chosen = map[studio.StudentID]studio.MediaMode{}
	}
	for _, s := range j.Students {
		if j.Chosen[s.ID] == "" {
			j.Chosen[s.ID] = s.Media
		}
	}
	if j.Device == "" {
		if j.Device, err = j.Say("device." + strings.ToLower(deviceName(r))); err != nil {
			return err
		}
	}
	if j.Missing != "" {
		if j.Problem, err = j.Say(j.Missing); err != nil {
			return err
		}
	}
	if told, ok := j.Retell(j.Problem); ok && j.Missing == "" {
		j.Problem = told
	}
	if j.Problem != "" {
		return d.show(page.WithStatus(w, http.StatusUnprocessableEntity), r, "join.html", "join.title.short", j, j.Tongue)
	}
	return d.show(w, r, "join.html", "join.title.short", j, j.Tongue)
}

// join is POST /join/{token}: it redeems the link and binds this browser.
func (d *door) join(w http.ResponseWriter, r *http.Request) error {
	if page.Viewer(r).Role == studio.Teacher {
		return &studio.Problem{Kind: studio.NotAllowed,
			Say: "You are signed in as the teacher here. Send the link to the family; it is opened on their phone."}
	}
	if err := r.ParseForm(); err != nil {
		return &studio.Problem{Kind: studio.Invalid, Say: "The page sent something that makes no sense. Load it again.", Err: err}
	}
	chosen := map[studio.StudentID]studio.MediaMode{}
	for name, values := range r.PostForm {
		if id, ok := childField(name); ok && len(values) > 0 {
			chosen[id] = studio.MediaMode(values[0])
		}
	}
	j := joinPage{Name: r.PostFormValue("name"), Device: r.PostFormValue("device"), Chosen: chosen}
	agrees := r.PostFormValue("agrees") == "yes"
	said := studio.Redemption{Name: j.Name, Device: j.Device, Agrees: agrees, Media: chosen}
	if t, ok := tongue.Chosen(r); ok {
		said.Language = t.Code
	}
	_, secret, err := d.f.Desk().Redeem(r.Context(), r.PathValue("token"), said)
	if p, ok := errors.AsType[*studio.Problem](err); ok && (p.Kind == studio.Invalid || p.Kind == studio.Gone) {
		j.Problem = p.Say
		switch {
		case p.Kind != studio.Invalid:
		case strings.TrimSpace(j.Name) == "":
			j.Missing = "join.name.missing"
		case !agrees:
			j.Missing = "join.agree.missing"
		}
		return d.showInvitation(w, r, j)
	}
	if err != nil {
		return err
	}
	d.f.Enter(w, secret)
	http.Redirect(w, r, "/week?new", http.StatusSeeOther)
	return nil
}

// childField is a form's field that says what is sent of a child.
func childField(name string) (studio.StudentID, bool) {
	id, ok := strings.CutPrefix(name, "media-")
	return studio.StudentID(id), ok
}
