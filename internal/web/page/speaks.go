package page

import (
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/tongue"
)

// Tongue is the language of who asks: the teacher's pages are English, the others speak what was chosen on
// this browser, else what the family reads, else the studio's language.
func (f *Frame) Tongue(r *http.Request) (*tongue.Tongue, error) {
	v := Viewer(r)
	if v.Role == studio.Teacher || f.o.Desk == nil {
		return tongue.Of(tongue.English), nil
	}
	if t, ok := tongue.Chosen(r); ok {
		return t, nil
	}
	if v.Role == studio.Coach {
		code, err := f.o.Desk.FamilyLanguage(r.Context(), v, v.Family)
		return tongue.Of(code), err
	}
	home, _, err := f.o.Desk.Home(r.Context())
	return tongue.Of(home.Language), err
}

// speaks is Tongue where something else is said to be broken already.
func (f *Frame) speaks(r *http.Request) *tongue.Tongue {
	t, err := f.Tongue(r)
	if err != nil {
		return tongue.Of(tongue.English)
	}
	return t
}

// Told is what a refusal says, in the language of who asks. The studio speaks English; what is not known in
// another language is said by its kind.
func (f *Frame) Told(r *http.Request, p *studio.Problem) string {
	t := f.speaks(r)
	if told, ok := t.Retell(p.Say); ok {
		return told
	}
	told, err := t.Say("refused." + string(p.Kind))
	if err != nil {
		f.o.Log.Error("a refusal in another language", "error", err)
		return p.Say
	}
	return told
}

// headed gives the page of a refusal its heading and the words of its link.
func headed(t *tongue.Tongue, kind studio.Kind) (heading, start string, err error) {
	heading = headings[kind]
	if heading == "" {
		heading = "Our fault"
	}
	if t.Code != tongue.English {
		if heading, err = t.Say("refused.title." + string(kind)); err != nil {
			return "", "", err
		}
	}
	start, err = t.Say("refused.start")
	return heading, start, err
}
