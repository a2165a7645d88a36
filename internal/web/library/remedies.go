package library

import (
	"context"
	"encoding/json"
	"net/http"
	"slices"
	"strings"

	"antiphon/internal/remedies"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

type bookView struct {
	Typed   string
	Sign    string
	Signs   []option
	Show    string // "own" or "hidden"; "" all
	Entries []remedies.Entry
	All     int
	Own     int
	Put     int      // put aside
	Faults  []string // own words that cannot be used
	Caution string
}

// notMedical stands on every page of the book.
const notMedical = "Where something hurts: stop, rest, and do not play through it. This book is no medical advice. If pain comes back, ask a doctor or another qualified person, and follow what is the rule where you live."

func signs() []option {
	return []option{{"", "heard, seen or told"}, {string(remedies.Heard), "heard"}, {string(remedies.Seen), "seen"}, {string(remedies.Told), "told by the child or the parent"}}
}

// ownBook is the book in this studio's words.
func (l *library) ownBook(ctx context.Context, v studio.Viewer) (*remedies.Book, map[string]json.RawMessage, []*remedies.Fault, error) {
	own, err := l.desk().OwnRemedies(ctx, v)
	if err != nil {
		return nil, nil, nil, err
	}
	b, faults := l.book.With(own)
	return b, own, faults, nil
}

// remedies lists the book. GET /library/remedies
func (l *library) remedies(w http.ResponseWriter, r *http.Request) error {
	b, own, faults, err := l.ownBook(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	q := r.URL.Query()
	view := bookView{Typed: strings.TrimSpace(q.Get("words")), Sign: q.Get("sign"), Show: q.Get("show"), Signs: signs(), Own: len(own), Caution: notMedical}
	for _, f := range faults {
		view.Faults = append(view.Faults, f.Error())
	}
	var aside []remedies.Entry
	for _, e := range b.Entries() {
		view.All++
		if e.Hidden {
			aside = append(aside, e)
		}
	}
	view.Put = len(aside)
	list := b.Look(view.Typed)
	if view.Show == "hidden" {
		list = aside
	}
	for _, e := range list {
		if (view.Sign == "" || string(e.Sign) == view.Sign) && (view.Show != "own" || e.Own) {
			view.Entries = append(view.Entries, e)
		}
	}
	return l.render(w, r, "remedies.html", "Book of remedies", view)
}

type remedyView struct {
	remedies.Entry
	Printed bool // it stands in the printed book
	Saved   bool
	Caution string
	Leads   []string // what leads here, in words
}

func (l *library) entry(r *http.Request) (e remedies.Entry, printed bool, err error) {
	b, _, _, err := l.ownBook(r.Context(), page.Viewer(r))
	if err != nil {
		return e, false, err
	}
	id := r.PathValue("remedy")
	e, ok := b.Entry(id)
	if !ok {
		return e, false, &studio.Problem{Kind: studio.NotFound, Say: "There is no such remedy in the book."}
	}
	_, printed = l.book.Entry(id)
	return e, printed, nil
}

// remedy shows one entry. GET /library/remedies/{remedy}
func (l *library) remedy(w http.ResponseWriter, r *http.Request) error {
	e, printed, err := l.entry(r)
	if err != nil {
		return err
	}
	view := remedyView{Entry: e, Printed: printed, Saved: r.URL.Query().Has("saved"), Caution: notMedical, Leads: leads(e.Applies)}
	if slices.ContainsFunc(e.Cautions, func(c string) bool { return strings.Contains(c, "not medical advice") }) {
		view.Caution = "" // it says so itself
	}
	return l.render(w, r, "remedy.html", e.Symptom, view)
}

// leads says what an entry is offered for.
func leads(a remedies.Applies) (out []string) {
	add := func(what string, list []string) {
		if len(list) > 0 {
			out = append(out, what+" "+strings.Join(list, ", "))
		}
	}
	var kinds, textures, places []string
	for _, f := range a.Findings {
		kinds = append(kinds, findingWords(f))
	}
	for _, t := range a.Textures {
		textures = append(textures, string(t))
	}
	for _, s := range a.Strings {
		places = append(places, string(rune('0'+s%10)))
	}
	add("When the ear reports:", kinds)
	add("In:", textures)
	add("On string:", places)
	add("With finger:", a.Fingers)
	add("Where this is needed:", a.Skills)
	return out
}

func findingWords(f string) string {
	kind, aspect, fine := strings.Cut(strings.ReplaceAll(f, "-", " "), "/")
	if fine {
		return kind + " (" + aspect + ")"
	}
	return kind
}
