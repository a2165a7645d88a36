package sheet

import (
	"html/template"
	"net/url"
	"strconv"
	"strings"

	"antiphon/internal/studio"
)

// Placing says what music stands somewhere in a page.
type Placing struct {
	Work    studio.WorkID
	Title   string // for whom the picture is read aloud
	From    string // first bar of a passage, as printed; "" the beginning
	Until   string // last bar; "" the end
	Names   string // note names below the notes: "letters", "do-re-mi" or ""
	Tab     string // "shown", "hidden", or "" as written
	NoTitle bool   // the page says the title itself
	Under   int    // room under each system, in staff spaces
	Source  string // another address that answers like /sheets/{work}; then Work is not needed
}

var placed = template.Must(template.New("sheet").Parse(`<div class="sheet" data-island="sheet" data-source="{{.Address}}">` +
	`<noscript><img class="still" src="{{.Still}}" alt="{{.Say}}"></noscript><p class="needs-js quiet small">The music is being set …</p></div>`))

// Place is the element that shows the music. A script sets it at the width of its place and adds the
// bars in words for a screen reader; without one it is a still picture.
func Place(p Placing) (template.HTML, error) {
	q := url.Values{}
	for name, v := range map[string]string{"from": p.From, "until": p.Until, "names": p.Names, "tab": p.Tab} {
		if v != "" {
			q.Set(name, v)
		}
	}
	if p.NoTitle {
		q.Set("title", "no")
	}
	still := p.Source
	if still == "" {
		still = "/sheets/" + url.PathEscape(string(p.Work))
	}
	mark := "?"
	if strings.Contains(still, "?") {
		mark = "&"
	}
	address := still + mark + q.Encode()
	if p.Under > 0 {
		q.Set("under", strconv.Itoa(p.Under))
		address = still + mark + q.Encode()
		q.Del("under")
	}
	q.Set("width", "900")
	var b strings.Builder
	err := placed.Execute(&b, map[string]string{"Address": address, "Still": still + mark + q.Encode(), "Say": say(p)})
	return template.HTML(b.String()), err
}

func say(p Placing) string {
	title := p.Title
	if title == "" {
		title = "Music"
	}
	switch {
	case p.From != "" && p.From == p.Until:
		return title + ", bar " + p.From
	case p.From != "" && p.Until != "":
		return title + ", bars " + p.From + " to " + p.Until
	case p.From != "":
		return title + ", from bar " + p.From
	case p.Until != "":
		return title + ", up to bar " + p.Until
	}
	return title
}
