package take

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"antiphon/internal/findings"
	"antiphon/internal/remedies"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// What is shown at once: the strongest few. Our choice; no source.
const (
	mostFindings = 7
	mostOffers   = 3
	mostAlso     = 6
)

type findingView struct {
	N               int
	Text            string
	FromS, ToS      string
	Bar, IDs, Place string
	Sure            string
	Also            []moment
	Offers          []offerView
	Exercise        string // address where an exercise is made of its bars, with the fingers of who played; "" none
}

type moment struct{ S, At string }

// offerView is an entry of the book with what was said before.
type offerView struct {
	ID, Symptom, Why, Remark string
	Causes                   []remedies.Cause
	Do                       []remedies.Step
	Cautions                 []string
	Warning, Said            string
}

// findings are told the strongest first, each with what the book of remedies offers.
func (p *Pages) findings(r *http.Request, v *view, rv studio.Review, l *listened) error {
	if l == nil {
		v.NoFindings = "What was heard appears here."
		if rv.Take.Work == "" {
			v.NoFindings = "Choose the work first: then what was heard appears here."
		}
		return nil
	}
	book, err := p.ownBook(r)
	if err != nil {
		return err
	}
	said := map[string]offerView{}
	for i, f := range l.findings {
		fv := findingInWords(i, f)
		if f.Kind.Well() {
			v.Well = append(v.Well, fv)
			continue
		}
		if f.Kind == findings.NotThisScore || len(v.Findings) == mostFindings {
			continue
		}
		for _, o := range book.For(f, remedies.Around(f, l.hearing.Score, nil)) {
			if len(fv.Offers) == mostOffers {
				break
			}
			ov := offerView{ID: o.Entry.ID, Symptom: o.Entry.Symptom, Why: o.Why, Remark: o.Entry.Remark, Causes: o.Entry.Causes, Do: o.Entry.Do, Cautions: o.Entry.Cautions}
			if err := p.before(r, rv, &ov, said); err != nil {
				return err
			}
			fv.Offers = append(fv.Offers, ov)
		}
		fv.Exercise = exerciseOf(rv, f)
		v.Findings = append(v.Findings, fv)
	}
	v.NoFindings = "Nothing stands out in what was heard."
	if len(l.hearing.Passes) == 0 {
		v.NoFindings = "There is nothing to tell as long as it is not clear what was played."
	}
	return nil
}

// exerciseOf is where an exercise is made of the bars of a finding.
func exerciseOf(rv studio.Review, f findings.Finding) string {
	if f.FromBar == "" || rv.Work == nil || rv.Take.Model() {
		return ""
	}
	to := f.ToBar
	if to == "" {
		to = f.FromBar
	}
	return "/library/compose?" + url.Values{"work": {string(rv.Work.ID)}, "for": {string(rv.Take.Student)}, "from": {f.FromBar}, "to": {to}}.Encode()
}

// ownBook is the book in the teacher's own words.
func (p *Pages) ownBook(r *http.Request) (*remedies.Book, error) {
	own, err := p.desk.OwnRemedies(r.Context(), page.Viewer(r))
	if err != nil {
		return nil, err
	}
	book, faults := p.book.With(own)
	for _, f := range faults {
		p.f.Log().Warn("a remedy of the studio's own cannot be used", "remedy", f.ID, "why", f.Say)
	}
	return book, nil
}

// before tells when a point was made to this student before, and warns from the third lesson running on.
func (p *Pages) before(r *http.Request, rv studio.Review, o *offerView, known map[string]offerView) error {
	if k, ok := known[o.ID]; ok {
		o.Warning, o.Said = k.Warning, k.Said
		return nil
	}
	if rv.Take.Model() {
		return nil
	}
	said, err := p.desk.SaidBefore(r.Context(), page.Viewer(r), rv.Take.Student, o.ID)
	if err != nil {
		return err
	}
	ago := map[int]bool{}
	for _, s := range said {
		ago[s.Ago] = true
	}
	running := 0
	for ago[running+1] {
		running++
	}
	o.Warning = remedies.Warning(running)
	if len(said) > 0 && o.Warning == "" {
		o.Said = "Said before: " + page.Day(said[0].Made, p.f.Now()) + "."
	}
	known[o.ID] = *o
	return nil
}

func findingInWords(n int, f findings.Finding) findingView {
	// A number and its percent sign stay on one line.
	v := findingView{N: n, Text: strings.ReplaceAll(f.Text, " %", "\u00a0%"), FromS: fmt.Sprintf("%.2f", max(0, f.FromS)), ToS: fmt.Sprintf("%.2f", max(f.FromS, f.ToS)),
		Bar: f.FromBar, IDs: strings.Join(f.Evidence, " "), Place: placeInWords(f), Sure: sureInWords(f.Confidence)}
	var told []string
	for i, s := range f.AtS {
		at := page.Clock(s)
		if i == 0 || s <= f.FromS+0.5 || slices.Contains(told, at) || len(v.Also) == mostAlso {
			continue
		}
		told = append(told, at)
		v.Also = append(v.Also, moment{S: fmt.Sprintf("%.2f", s), At: at})
	}
	return v
}

func placeInWords(f findings.Finding) string {
	switch {
	case f.FromBar == "":
		return "in the whole take"
	case f.FromBar == f.ToBar || f.ToBar == "":
		return "bar " + f.FromBar + " at " + page.Clock(f.FromS)
	}
	return "bars " + f.FromBar + "–" + f.ToBar + " from " + page.Clock(f.FromS)
}

// draft fills the form of a remark from the address, for who has no script: ?remedy=…&at=…&bar=….
func (p *Pages) draft(r *http.Request, v *view) error {
	q := r.URL.Query()
	id := q.Get("remedy")
	if id == "" {
		return nil
	}
	book, err := p.ownBook(r)
	if err != nil {
		return err
	}
	e, ok := book.Entry(id)
	if !ok {
		return nil
	}
	v.Draft = draft{Remedy: e.ID, Text: e.Remark, Bar: short(q.Get("bar"))}
	if s, err := seconds(q.Get("at")); err == nil {
		v.Draft.At = fmt.Sprintf("%.2f", s)
	}
	return nil
}
