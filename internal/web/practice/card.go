package practice

import (
	"encoding/json"
	"html/template"
	"net/url"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/tongue"
)

// Card is one thing that is asked of a child.
type Card struct {
	Student    studio.StudentID
	Assignment studio.AssignmentID
	Work       studio.WorkID // "" is practised with the click alone
	Bpm        float64       // quarter notes a minute; 0 as the score says
	Ladder     studio.Ladder
	Second     studio.Second
	Title      string         // of the piece, for whom the link is read aloud
	In         *tongue.Tongue // nil means English
}

// Address is the page of a card: what another page must keep that shall be there without a network.
func (c Card) Address() string {
	return "/week/practice?" + url.Values{"child": {string(c.Student)}, "of": {string(c.Assignment)}}.Encode()
}

var placed = template.Must(template.New("place").Parse(
	`<a class="button main" href="{{.Address}}" data-keep="{{.Address}}">{{.Words}}{{with .Title}}<span class="vh">: {{.}}</span>{{end}}</a>`))

// Place is the button that leads to playing along. It names its page in data-keep, and that page its sounds.
func Place(c Card) (template.HTML, error) {
	words, err := tongueOf(c.In).Say("practice.place")
	if err != nil {
		return "", err
	}
	var b strings.Builder
	err = placed.Execute(&b, struct{ Address, Words, Title string }{c.Address(), words, c.Title})
	return template.HTML(b.String()), err
}

// Sounds are the addresses of all sounds that the page of a card plays, from the slowest tempo: at each the second
// part where the tool plays one, and then the tune. The last one is the tune as it is asked.
func Sounds(c Card) []string {
	if c.Work == "" {
		return nil
	}
	var all []string
	for _, bpm := range rungs(c.Ladder, c.Bpm) {
		if c.Second.Kind == studio.SecondPart && c.Second.Who != studio.ByParent {
			all = append(all, soundAddress(c.Student, c.Assignment, bpm, true))
		}
		all = append(all, soundAddress(c.Student, c.Assignment, bpm, false))
	}
	return all
}

func tongueOf(t *tongue.Tongue) *tongue.Tongue {
	if t == nil {
		return tongue.Of(tongue.English)
	}
	return t
}

// wordsOf are phrases for a script, as JSON by their names.
func wordsOf(t *tongue.Tongue, prefix string, names []string) (string, error) {
	all := map[string]string{}
	for _, n := range names {
		var err error
		if all[n], err = t.Say(prefix + n); err != nil {
			return "", err
		}
	}
	b, err := json.Marshal(all)
	return string(b), err
}
