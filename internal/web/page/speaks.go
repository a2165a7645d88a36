package page

import (
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/tongue"
)

// speaks is the language of who asks: the teacher's pages are English, the others speak what was chosen on
// this browser, or the studio's language.
func (f *Frame) speaks(r *http.Request) *tongue.Tongue {
	if Viewer(r).Role == studio.Teacher || f.o.Desk == nil {
		return tongue.Of(tongue.English)
	}
	home, _, err := f.o.Desk.Home(r.Context())
	if err != nil { // something else is said to be broken already
		home.Language = tongue.English
	}
	return tongue.For(r, home.Language)
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
