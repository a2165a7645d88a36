package week

import (
	"errors"
	"net/http"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

// said is a refusal in the family's own language.
type said struct {
	kind  studio.Kind
	words string
}

func (s said) Error() string { return string(s.kind) + ": " + s.words }

// say refuses what a form brings, with the phrase that has this key.
func say(t *tongue.Tongue, key string, blanks ...any) error {
	words, err := t.Say(key, blanks...)
	if err != nil {
		return err
	}
	return said{studio.Invalid, words}
}

// refusedPage says what was not done, and leads back.
type refusedPage struct {
	common
	Heading string
	Words   string
}

// statusOf are the refusals that a family can understand or mend. What else goes wrong is the frame's.
var statusOf = map[studio.Kind]int{
	studio.Invalid:    http.StatusUnprocessableEntity,
	studio.NotFound:   http.StatusNotFound,
	studio.NotAllowed: http.StatusForbidden,
	studio.Conflict:   http.StatusConflict,
	studio.TooLarge:   http.StatusRequestEntityTooLarge,
	page.TooMany:      http.StatusTooManyRequests,
}

// Guard lets the adults of a family in, for the pages of other packages under /week: it refuses as the week does.
func Guard(f *page.Frame) (func(page.Handler) http.Handler, error) {
	p, err := f.Pages(files)
	if err != nil {
		return nil, err
	}
	return (&week{f: f, p: p}).family, nil
}

// family lets the adults of a family in and refuses in their language. The studio speaks English: where its
// sentence is not known in that language, one for the kind of refusal is shown.
func (w *week) family(h page.Handler) http.Handler {
	return w.f.Open(func(rw http.ResponseWriter, r *http.Request) error {
		if page.Viewer(r).Role != studio.Coach {
			return w.stranger(rw, r)
		}
		err := h(rw, r)
		if err == nil || forScript(r) {
			return err
		}
		own, ok := errors.AsType[said](err)
		if p, is := errors.AsType[*studio.Problem](err); is && !ok {
			own = said{kind: p.Kind, words: p.Say}
		}
		status, known := statusOf[own.kind]
		if !known {
			return err
		}
		c, err := w.common(r, "/week")
		if err != nil {
			return err
		}
		if !ok && c.Code != tongue.English {
			known := false
			if own.words, known = c.Retell(own.words); !known {
				if own.words, err = c.Say("refused." + string(own.kind)); err != nil {
					return err
				}
			}
		}
		heading, err := c.Say("refused.title." + string(own.kind))
		if err != nil {
			return err
		}
		return w.p.Render(page.WithStatus(rw, status), r, "refused.html",
			page.View{Title: heading, Here: "week", Lang: c.Code, Data: refusedPage{c, heading, own.words}})
	})
}

// forScript tells whether a script asks, which the frame answers.
func forScript(r *http.Request) bool {
	return strings.Contains(r.Header.Get("Accept"), "application/json")
}

// stranger tells a phone that belongs to no family how it comes to belong to one.
func (w *week) stranger(rw http.ResponseWriter, r *http.Request) error {
	if page.Viewer(r).Role == studio.Teacher {
		return &studio.Problem{Kind: studio.NotAllowed, Say: "This page belongs to a family; you are signed in as the teacher."}
	}
	if forScript(r) {
		return &studio.Problem{Kind: studio.NotAllowed, Say: "This phone is not connected to a family here."}
	}
	home, _, err := w.f.Desk().Home(r.Context())
	if err != nil {
		return err
	}
	c := common{tongue.For(r, home.Language), "/week", home.Name, home.ReplyDays}
	return w.render(page.WithStatus(rw, http.StatusForbidden), r, "stranger.html", "stranger.title", c.Tongue, c)
}
