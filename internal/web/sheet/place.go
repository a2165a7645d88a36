package sheet

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"html/template"
	"net/url"
	"strconv"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/tongue"
)

// Placing says what music stands somewhere in a page.
type Placing struct {
	Work    studio.WorkID
	For     studio.StudentID   // whose fingers stand in it; "" everybody's
	Own     studio.FingeringID // of that student's, one that is to be tried; "" the one that holds
	Score   string             // the MusicXML that stands there now, in a page that a phone keeps: other music has another address; "" elsewhere
	Title   string             // for whom the picture is read aloud
	From    string             // first bar of a passage, as printed; "" the beginning
	Until   string             // last bar; "" the end
	Names   string             // note names below the notes: "letters", "do-re-mi" or ""
	Tab     string             // "shown", "hidden", or "" as written
	NoTitle bool               // the page says the title itself
	Under   int                // room under each system, in staff spaces
	In      *tongue.Tongue     // what the words round it are said in; nil means English
	Source  string             // another address that answers like /sheets/{work}; then Work is not needed
}

var placed = template.Must(template.New("sheet").Parse(`<div class="sheet" data-island="sheet" data-source="{{.Address}}"` +
	`{{with .Words}} data-words="{{.}}"{{end}}>` +
	`<noscript><img class="still" src="{{.Still}}" alt="{{.Say}}"></noscript><p class="needs-js quiet small">{{.Setting}}</p></div>`))

// Place is the element that shows the music. A script sets it at the width of its place and adds the
// bars in words for a screen reader; without one it is a still picture.
func Place(p Placing) (template.HTML, error) {
	q := url.Values{}
	for name, v := range map[string]string{"for": string(p.For), "own": string(p.Own), "from": p.From, "until": p.Until, "names": p.Names, "tab": p.Tab} {
		if v != "" {
			q.Set(name, v)
		}
	}
	if p.Score != "" {
		sum := sha256.Sum256([]byte(p.Score))
		q.Set("state", hex.EncodeToString(sum[:4]))
	}
	if p.NoTitle {
		q.Set("title", "no")
	}
	if p.In != nil && p.In.Code != tongue.English {
		q.Set("in", p.In.Code)
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
	in := p.In
	if in == nil {
		in = tongue.Of(tongue.English)
	}
	words, err := scriptWords(in)
	if err != nil {
		return "", err
	}
	setting, err := in.Say("sheet.setting")
	if err != nil {
		return "", err
	}
	said, err := say(in, p)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	err = placed.Execute(&b, map[string]string{"Address": address, "Still": still + mark + q.Encode(), "Say": said, "Setting": setting, "Words": words})
	return template.HTML(b.String()), err
}

// scriptWords are what sheet.ts says, as JSON; it knows the English ones itself.
func scriptWords(t *tongue.Tongue) (string, error) {
	if t.Code == tongue.English {
		return "", nil
	}
	words := map[string]string{}
	for name, key := range map[string]string{"words": "sheet.words", "unset": "sheet.unset", "unfetched": "sheet.unfetched"} {
		var err error
		if words[name], err = t.Say(key); err != nil {
			return "", err
		}
	}
	b, err := json.Marshal(words)
	return string(b), err
}

// say is the music's name, for whom the picture is read aloud.
func say(t *tongue.Tongue, p Placing) (string, error) {
	title := p.Title
	if title == "" {
		var err error
		if title, err = t.Say("sheet.music"); err != nil {
			return "", err
		}
	}
	switch {
	case p.From != "" && p.From == p.Until:
		return t.Say("sheet.bar", title, p.From)
	case p.From != "" && p.Until != "":
		return t.Say("sheet.bars", title, p.From, p.Until)
	case p.From != "":
		return t.Say("sheet.from", title, p.From)
	case p.Until != "":
		return t.Say("sheet.until", title, p.Until)
	}
	return title, nil
}
