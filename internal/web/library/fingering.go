package library

import (
	"context"
	"html/template"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/sheet"
)

type fingeringView struct {
	Work     studio.Work
	Who      forWhom
	Name     string // of the child that it is for; "" everybody
	Students []option
	Own      []ownView // kept for the child, the newest first
	Holds    bool      // one of them does
	Known    bool      // the choices are what is known of the child's hands
	Saved    bool
	Of       string // the state of the score that was fingered
	Choices  choices
	Switches []toggle
	Guitars  []option
	Tunings  []option
	Asked    bool // choices were made
	Waiting  bool
	Again    string // address of this page, to look again
	Found    *fingered
	Hidden   []hidden // the choices, for the forms that keep one way
	Bars     []string
	Bar      string     // whose notes are listed; "" none
	Notes    []noteWays // of that bar
}

type hidden struct{ Name, Value string }

// fingering offers ways to take a work. GET /library/works/{work}/fingering
func (l *library) fingering(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	who := forWhomOf(q)
	one, err := l.desk().WorkFor(r.Context(), page.Viewer(r), who.Student, workID(r))
	if err != nil {
		return err
	}
	s, err := scoreOf(one)
	if err != nil {
		return err
	}
	c, err := choicesOf(q)
	if err != nil {
		return err
	}
	view := fingeringView{Work: one, Who: who, Of: sum(one.Score), Choices: c, Guitars: guitars(), Tunings: tunings(), Asked: q.Has("ask"), Saved: q.Has("saved")}
	if err := l.forOne(r, &view); err != nil {
		return err
	}
	c = view.Choices
	view.Switches = view.Choices.switches()
	for _, b := range s.Bars {
		view.Bars = append(view.Bars, b.Number)
	}
	for name, values := range who.into(c.values()) {
		for _, v := range values {
			view.Hidden = append(view.Hidden, hidden{name, v})
		}
	}
	if !view.Asked {
		return l.render(w, r, "fingering.html", view.title(), view)
	}
	again := who.into(c.values())
	again.Set("ask", "yes")
	view.Again = workAddress(one.ID) + "/fingering?" + again.Encode()
	found, ready, err := l.fingerings.Get(r.Context(), fingeringKey(one, c), l.o.Patience, func(ctx context.Context) (*fingered, error) {
		return finger(ctx, one, c)
	})
	if err != nil {
		return err
	}
	view.Found, view.Waiting = found, !ready
	if ready {
		view.Bar, view.Notes = found.notesIn(q.Get("bar"), q.Get("note"))
	}
	return l.render(w, r, "fingering.html", view.title(), view)
}

func (v fingeringView) title() string {
	if v.Name == "" {
		return "Finger " + v.Work.Title
	}
	return "Finger " + v.Work.Title + " for " + v.Name
}

// forOne adds whom it may be for, and of a child what was kept and what is known of its hands.
func (l *library) forOne(r *http.Request, v *fingeringView) error {
	all, err := l.students(r)
	if err != nil {
		return err
	}
	for _, s := range all {
		v.Students = append(v.Students, option{string(s.ID), s.Name})
		if s.ID != v.Who.Student {
			continue
		}
		v.Name = s.Name
		if v.Own, err = l.owns(r, s, v.Work); err != nil {
			return err
		}
		v.Holds = v.Work.Own != ""
		if !v.Asked {
			v.Known = true
			v.Choices, err = l.knownHands(r, s.ID, v.Choices)
		}
	}
	return err
}

// Place is the element that shows way k, in bars from to until; what way beside takes otherwise is ringed.
func (v fingeringView) Place(k, beside int, from, until string) (template.HTML, error) {
	q := url.Values{"way": {strconv.Itoa(k)}, "for": {string(v.Who.Student)}, "choice": {v.Choices.values().Encode()}, "strings": {"all"}}
	if beside > 0 {
		q.Set("beside", strconv.Itoa(beside))
	}
	title := v.Work.Title + ", first way"
	if k > 0 {
		title = v.Work.Title + ", another way"
	}
	return sheet.Place(sheet.Placing{Title: title, From: from, Until: until, NoTitle: true, Source: workAddress(v.Work.ID) + "/fingering/picture?" + q.Encode()})
}

// notesIn lists the notes of a bar that can be taken otherwise; a note stands for its bar.
func (f *fingered) notesIn(bar, note string) (string, []noteWays) {
	var out []noteWays
	for _, n := range f.Notes {
		if note != "" && n.ID == note {
			bar = n.Bar
		}
	}
	for _, n := range f.Notes {
		if bar != "" && n.Bar == bar {
			out = append(out, n)
		}
	}
	return bar, out
}

// Fixed is the address of this page with one more note as it was wished.
func (v fingeringView) Fixed(fix string) string {
	return fixedWith(v.Choices, v.Who, fix) + "&bar=" + url.QueryEscape(v.Bar) + "#notes"
}

func fingeringKey(one studio.Work, c choices) string {
	return string(one.ID) + " " + sum(one.Score+"\n"+one.Title) + " " + c.values().Encode()
}

// useFingering keeps one of the ways, in the work or in a new one beside it.
// POST /library/works/{work}/fingering
func (l *library) useFingering(w http.ResponseWriter, r *http.Request) error {
	if err := form(w, r); err != nil {
		return err
	}
	ctx, v := r.Context(), page.Viewer(r)
	who := forWhomOf(r.PostForm)
	one, err := l.desk().WorkFor(ctx, v, who.Student, workID(r))
	if err != nil {
		return err
	}
	c, err := choicesOf(r.PostForm)
	if err != nil {
		return err
	}
	k, err := strconv.Atoi(r.PostForm.Get("way"))
	if err != nil || k < 0 || k >= mostWays {
		return invalid("The page sent something that makes no sense. Load it again.")
	}
	switch sum(one.Score) {
	case r.PostForm.Get("of"):
	case r.PostForm.Get("gives"): // the second of two equal posts
		if who.Student != "" {
			return see(w, r, who.back(one.ID))
		}
		return see(w, r, workAddress(one.ID)+"?saved=fingering")
	default:
		return &studio.Problem{Kind: studio.Conflict, Say: "The score of " + one.Title + " was changed in the meantime. Finger it again, so that the fingering fits what stands there now."}
	}
	found, ready, err := l.fingerings.Get(ctx, fingeringKey(one, c), soundPatience, func(ctx context.Context) (*fingered, error) {
		return finger(ctx, one, c)
	})
	if err != nil {
		return err
	}
	if !ready {
		return &studio.Problem{Kind: page.TooMany, Say: "The fingering is still being worked out. Open the page again in a minute."}
	}
	if k >= len(found.Ways) {
		return invalid("There are only %d ways. Load the page again.", len(found.Ways))
	}
	if who.Student != "" && r.PostForm.Get("beside") == "" {
		return l.useForOne(w, r, who, one.ID, c, found.Ways[k].xml)
	}
	was := one.Score
	one.Score, one.Own = found.Ways[k].xml, ""
	if r.PostForm.Get("beside") != "" {
		one.Title = clipped(one.Title, mostTitle-20) + " (other fingering)"
		kept, _, err := l.keep(ctx, v, one)
		if err != nil {
			return err
		}
		return see(w, r, workAddress(kept.ID)+"?saved=fingering")
	}
	if err := l.desk().RefingerWork(ctx, v, one.ID, one.Score, was); err != nil {
		return err
	}
	return see(w, r, workAddress(one.ID)+"?saved=fingering")
}

// fingeringPicture draws one of the ways, as the sheet of a page asks for it: way is its number, choice
// what was asked of it. GET /library/works/{work}/fingering/picture
func (l *library) fingeringPicture(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	look, err := sheet.LookOf(q)
	if err != nil {
		return err
	}
	one, err := l.desk().WorkFor(r.Context(), page.Viewer(r), forWhomOf(q).Student, workID(r))
	if err != nil {
		return err
	}
	asked, err := url.ParseQuery(q.Get("choice"))
	if err != nil {
		return invalid("The page sent something that makes no sense. Load it again.")
	}
	c, err := choicesOf(asked)
	if err != nil {
		return err
	}
	found, ready, err := l.fingerings.Get(r.Context(), fingeringKey(one, c), soundPatience, func(ctx context.Context) (*fingered, error) {
		return finger(ctx, one, c)
	})
	if err != nil {
		return err
	}
	k, err := strconv.Atoi(q.Get("way"))
	if err != nil || !ready || k < 0 || k >= len(found.Ways) {
		return &studio.Problem{Kind: studio.NotFound, Say: "There is no such way. Load the page again."}
	}
	if b, err := strconv.Atoi(q.Get("beside")); err == nil && b > 0 && b < len(found.Ways) {
		look.Overlay = found.Ways[b].rings
	}
	return l.o.Sheets.Serve(w, r, found.Ways[k].xml, look)
}

// fixedWith is the address of the page with one more note fixed.
func fixedWith(c choices, who forWhom, fix string) string {
	q := who.into(c.values())
	note, _, _ := strings.Cut(fix, ":")
	kept := []string{fix}
	for _, f := range q["fix"] {
		if !strings.HasPrefix(f, note+":") {
			kept = append(kept, f)
		}
	}
	q["fix"] = kept
	q.Set("ask", "yes")
	return "?" + q.Encode()
}
