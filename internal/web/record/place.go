package record

import (
	"html/template"
	"net/url"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/tongue"
)

// Card is the way to the recorder for one thing that is asked.
type Card struct {
	Student    studio.StudentID
	Assignment studio.AssignmentID // "" for something else
	Title      string              // of the piece, for whom the link is read aloud
	In         *tongue.Tongue      // nil means English
}

// Address is the recorder's page for a card: what a page must keep that shall record without a network.
func (c Card) Address() string {
	q := url.Values{"child": {string(c.Student)}}
	if c.Assignment != "" {
		q.Set("of", string(c.Assignment))
	}
	return "/week/record?" + q.Encode()
}

var placed = template.Must(template.New("place").Parse(
	`<a class="button" href="{{.Address}}" data-keep="{{.Address}}">{{.Words}}{{with .Title}}<span class="vh">: {{.}}</span>{{end}}</a>`))

// Place is the button that leads to the recorder. It names the page in data-keep, so that it is there
// without a network.
func Place(c Card) (template.HTML, error) {
	words, err := tongueOf(c.In).Say("record.place")
	if err != nil {
		return "", err
	}
	return made(placed, struct{ Address, Words, Title string }{c.Address(), words, c.Title})
}

var waiting = template.Must(template.New("pending").Parse(
	`<div class="pending" data-island="pending" data-child="{{.Child}}" data-words="{{.Words}}" aria-live="polite" hidden></div>`))

// Pending is a place that shows, in words, the recordings of a child that are on their way, were not
// finished, or were not sent yet. It sends what is on its way while the page is open, and is hidden where
// there is nothing.
func Pending(child studio.StudentID, in *tongue.Tongue) (template.HTML, error) {
	words, err := wordsOf(tongueOf(in), pendingWords)
	if err != nil {
		return "", err
	}
	return made(waiting, struct {
		Child studio.StudentID
		Words string
	}{child, words})
}

func tongueOf(t *tongue.Tongue) *tongue.Tongue {
	if t == nil {
		return tongue.Of(tongue.English)
	}
	return t
}

func made(t *template.Template, data any) (template.HTML, error) {
	var b strings.Builder
	err := t.Execute(&b, data)
	return template.HTML(b.String()), err
}
