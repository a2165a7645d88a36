package practice

import (
	"encoding/json"
	"html/template"
	"net/http"
	"strings"

	"antiphon/internal/music"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

// tuning is the six open strings, from the first, as the page offers them.
type tuning struct {
	Key     string           // of its name in the catalogue
	Name    string           `json:"-"`
	Strings []openString     `json:"strings"`
	Midi    [openStrings]int `json:"-"`
}

// openString is one of them.
type openString struct {
	Midi int    `json:"midi"`
	Name string `json:"name"`
}

const openStrings = 6

// tunings are offered on the page, the usual one first. The small ones are how guitars of a quarter and of a
// half are often strung (common practice, no source).
var tunings = [...]struct {
	key  string
	midi [openStrings]int
}{
	{"tune.usual", [...]int{64, 59, 55, 50, 45, 40}},
	{"tune.low-d", [...]int{64, 59, 55, 50, 45, 38}},
	{"tune.small-g", [...]int{67, 62, 58, 53, 48, 43}},
	{"tune.small-a", [...]int{69, 64, 60, 55, 50, 45}},
}

// The names of the twelve notes from C.
var (
	letters = [12]string{"C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "G♯", "A", "B♭", "B"}
	doReMi  = [12]string{"do", "do♯", "re", "mi♭", "mi", "fa", "fa♯", "sol", "sol♯", "la", "si♭", "si"}
)

// namesOf are the names that somebody chose, or those that are usual in the language.
func namesOf(chosen studio.NoteNames, in *tongue.Tongue) [12]string {
	if chosen == studio.DoReMi || chosen == "" && in.Code != tongue.English {
		return doReMi
	}
	return letters
}

// tunerSays are what the island says.
var tunerSays = []string{"string", "play", "refused", "none", "broken", "in", "low", "very-low", "high", "very-high", "other", "far"}

// tunerPage is GET /week/tune; it is the tuner's own data too.
type tunerPage struct {
	*tongue.Tongue
	Here    string
	Back    string // address of the page that it came from
	Tunings []tuning
	Plan    string // for the island, as JSON
	Words   string
}

// tune shows the tuner, with the tuning that a work asks for first. GET /week/tune with child and of ("" none).
func (p *Practice) tune(w http.ResponseWriter, r *http.Request) error {
	ctx, v, d := r.Context(), page.Viewer(r), p.f.Desk()
	in, err := p.f.Tongue(r)
	if err != nil {
		return err
	}
	pg := tunerPage{Tongue: in, Here: "/week/tune", Back: "/week"}
	first := tunings[0].midi
	q := r.URL.Query()
	if of := q.Get("of"); of != "" {
		a, err := p.find(r, studio.StudentID(q.Get("child")), studio.AssignmentID(of))
		if err != nil {
			return err
		}
		pg.Back = Card{Student: a.Student, Assignment: a.ID}.Address()
		if a.Score != nil {
			first = tuningOf(a.Score)
		}
	}
	me, err := d.Self(ctx, v)
	if err != nil {
		return err
	}
	if err := pg.fill(first, namesOf(me.NoteNames, in)); err != nil {
		return err
	}
	title, err := in.Say("tune.title")
	if err != nil {
		return err
	}
	return p.p.Render(w, r, "tune.html", page.View{Title: title, Here: "week", Lang: in.Code, Data: pg})
}

// fill lists the tunings, the one that is asked for first.
func (pg *tunerPage) fill(first [openStrings]int, names [12]string) error {
	add := func(key string, midi [openStrings]int) error {
		name, err := pg.Say(key)
		if err != nil {
			return err
		}
		t := tuning{Key: key, Name: name, Midi: midi}
		for _, m := range midi {
			t.Strings = append(t.Strings, openString{m, names[m%12]})
		}
		pg.Tunings = append(pg.Tunings, t)
		return nil
	}
	asked := "tune.asked"
	for _, t := range tunings {
		if t.midi == first {
			asked = t.key
		}
	}
	if err := add(asked, first); err != nil {
		return err
	}
	for _, t := range tunings {
		if t.midi != first {
			if err := add(t.key, t.midi); err != nil {
				return err
			}
		}
	}
	b, err := json.Marshal(pg.Tunings)
	if err != nil {
		return err
	}
	pg.Plan = string(b)
	pg.Words, err = wordsOf(pg.Tongue, "tune.say.", tunerSays)
	return err
}

var tuner = template.Must(template.ParseFS(files, "_tuner.html"))

// Tuner is the element that hears the open strings, for a page that has a place for it: in the usual tuning
// first. Without a script it says that it needs one.
func Tuner(in *tongue.Tongue) (template.HTML, error) {
	pg := tunerPage{Tongue: tongueOf(in)}
	if err := pg.fill(tunings[0].midi, namesOf("", pg.Tongue)); err != nil {
		return "", err
	}
	var b strings.Builder
	err := tuner.ExecuteTemplate(&b, "tuner", pg)
	return template.HTML(b.String()), err
}

// tuningOf is what a score asks for: the strings that its tablature states, or a sixth string let down where the
// music goes lower than the usual one reaches.
func tuningOf(s *music.Score) [openStrings]int {
	out := tunings[0].midi
	for i := range s.Parts {
		for _, a := range s.Parts[i].Attributes {
			if len(a.Tuning) != openStrings {
				continue
			}
			for k, p := range a.Tuning {
				out[openStrings-1-k] = p.Midi()
			}
			return out
		}
	}
	lowest := out[openStrings-1]
	for _, n := range s.Sounding() {
		lowest = min(lowest, n.Midi)
	}
	if usual := out[openStrings-1]; lowest < usual && lowest >= usual-2 {
		out[openStrings-1] = usual - 2
	}
	return out
}
