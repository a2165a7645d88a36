// Package letter is the letter about a term that parents read: drafted from what was logged, with the places
// it is drawn from, written over by the teacher, then sent as a page and printed.
//
// It adds no fact of its own and no mark, and it sets no child beside another. What may be read, and by whom,
// is package studio's to say.
package letter

import (
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"strconv"
	"strings"
	"time"

	"antiphon/internal/engrave"
	"antiphon/internal/report"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

//go:embed *.html
var files embed.FS

const isoDay = time.DateOnly

type letters struct {
	*page.Pages
	f        *page.Frame
	desk     *studio.Desk
	engraver *engrave.Engraver
}

// Routes registers the pages of letters. The engraver has the type of the printed ones.
func Routes(mux *http.ServeMux, f *page.Frame, e *engrave.Engraver) error {
	ps, err := f.Pages(files)
	if err != nil {
		return err
	}
	p := &letters{ps, f, f.Desk(), e}
	mux.Handle("GET /students/{student}/letters", f.Teacher(p.list))
	mux.Handle("POST /students/{student}/letters", f.Teacher(p.begin))
	mux.Handle("GET /letters/{letter}", f.Known(p.show))
	mux.Handle("POST /letters/{letter}", f.Teacher(p.save))
	mux.Handle("GET /letters/{letter}/paper", f.Known(p.paper))
	return nil
}

// shelf is GET /students/{student}/letters.
type shelf struct {
	ID       studio.StudentID
	Name     string
	Letters  []row
	From, To string
}

type row struct {
	ID   studio.LetterID
	Span string
	Says string
}

func (p *letters) list(w http.ResponseWriter, r *http.Request) error {
	ctx, v, now := r.Context(), page.Viewer(r), p.f.Now()
	sf, err := p.desk.Student(ctx, v, studio.StudentID(r.PathValue("student")))
	if err != nil {
		return err
	}
	all, err := p.desk.Letters(ctx, v, sf.Student.ID)
	if err != nil {
		return err
	}
	s := shelf{ID: sf.Student.ID, Name: sf.Student.Name, From: now.AddDate(0, -3, 0).Format(isoDay), To: now.Format(isoDay)}
	in := tongue.Of(tongue.English)
	for _, l := range all {
		one := row{l.ID, span(l, in, now), "A draft, last changed " + page.Day(l.Saved, now) + ". Only you see it."}
		if !l.Sent.IsZero() {
			one.Says = "Sent " + page.Day(l.Sent, now)
		}
		s.Letters = append(s.Letters, one)
	}
	return p.Render(w, r, "list.html", page.View{Title: "Letters about " + s.Name, Here: "students", Data: s})
}

// begin drafts a letter from what was logged and keeps the draft.
func (p *letters) begin(w http.ResponseWriter, r *http.Request) error {
	ctx, v := r.Context(), page.Viewer(r)
	l, err := p.desk.DraftLetter(ctx, v, studio.StudentID(r.PathValue("student")), r.PostFormValue("from"), r.PostFormValue("to"))
	if err == nil {
		l, err = p.desk.SaveLetter(ctx, v, l)
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/letters/"+string(l.ID), http.StatusSeeOther)
	return nil
}

// sheet is a letter as it is read, and as it is written.
type sheet struct {
	*tongue.Tongue
	Here    string // path of the page
	ID      studio.LetterID
	Student studio.StudentID
	Name    string
	Version int
	Title   string
	Span    string
	Studio  string
	Parts   []part
	Draft   bool
	Teacher bool
	Said    string
	Problem string // why it was not kept
	Other   bool   // another window has other words
}

type part struct {
	N       int
	Heading string
	Text    string
	Paras   []string
	Facts   []fact
	Nth     int // as it is counted, from 1
	Chart   template.HTML
	Drawn   string // what the chart is of
	Shown   string // the chart in words
}

type fact struct {
	N   int
	Day string
	Say string
	Way string // to where it was logged; "" for a family's page of a lesson that is none
}

func (p *letters) show(w http.ResponseWriter, r *http.Request) error { // GET /letters/{letter}
	v := page.Viewer(r)
	l, err := p.desk.Letter(r.Context(), v, studio.LetterID(r.PathValue("letter")))
	if err != nil {
		return err
	}
	s, err := p.sheet(r, l)
	if err != nil {
		return err
	}
	if s.Teacher && s.Draft {
		s.Said = map[string]string{"kept": "Kept."}[r.FormValue("done")]
		return p.Render(w, r, "write.html", page.View{Title: s.Title, Here: "students", Data: s})
	}
	here := "students"
	if !s.Teacher {
		here = "week"
	}
	return p.Render(w, r, "read.html", page.View{Title: s.Title, Here: here, Lang: s.Code, Data: s})
}

// sheet lays a letter out in the language of the family; each adult of it may read another one.
func (p *letters) sheet(r *http.Request, l studio.Letter) (sheet, error) {
	ctx, v, now := r.Context(), page.Viewer(r), p.f.Now()
	st, err := p.desk.OwnStudio(ctx, v)
	if err != nil {
		return sheet{}, err
	}
	in, err := p.f.Tongue(r)
	if v.Role == studio.Teacher && err == nil {
		var code string
		code, err = p.desk.FamilyLanguage(ctx, v, l.Family)
		in = tongue.Of(code)
	}
	if err != nil {
		return sheet{}, err
	}
	name, err := p.name(r, l.Student)
	if err != nil {
		return sheet{}, err
	}
	s := sheet{Tongue: in, Here: r.URL.Path, ID: l.ID, Student: l.Student, Name: name, Version: l.Version, Studio: st.Name, Span: span(l, in, now),
		Draft: l.Sent.IsZero(), Teacher: v.Role == studio.Teacher}
	if s.Title, err = in.Say("letter.title", name); err != nil {
		return sheet{}, err
	}
	for i, one := range l.Parts {
		x := part{N: i, Nth: i + 1, Heading: one.Heading, Text: one.Text}
		for para := range strings.SplitSeq(one.Text, "\n\n") {
			if strings.TrimSpace(para) != "" {
				x.Paras = append(x.Paras, para)
			}
		}
		for j, f := range one.Facts {
			x.Facts = append(x.Facts, fact{j, dayOf(f.Day, in, now), f.Say, wayTo(f, s.Teacher)})
		}
		if c, ok := chartOf(one.Chart); ok {
			x.Chart, x.Drawn, x.Shown = template.HTML(c.SVG(in.Code)), c.Title, c.Words(in.Code) // drawn by us; report escapes its words
		}
		s.Parts = append(s.Parts, x)
	}
	return s, nil
}

// name of a student, for whoever may know it.
func (p *letters) name(r *http.Request, id studio.StudentID) (string, error) {
	all, err := p.desk.Students(r.Context(), page.Viewer(r))
	if err != nil {
		return "", err
	}
	for _, one := range all {
		if one.ID == id {
			return one.Name, nil
		}
	}
	return "", &studio.Problem{Kind: studio.NotFound, Say: "There is no page at this address."}
}

func span(l studio.Letter, in *tongue.Tongue, now time.Time) string {
	from, to := dayOf(l.From, in, now), dayOf(l.To, in, now)
	if from == to {
		return from
	}
	return from + " – " + to
}

// dayOf says a day, 2026-11-25, as a date that lasts. What is no day stays as it was written.
func dayOf(day string, in *tongue.Tongue, now time.Time) string {
	t, err := time.ParseInLocation(isoDay, day, now.Location())
	if err != nil {
		return day
	}
	return in.Date(t, now)
}

// wayTo leads to where a fact was logged.
func wayTo(f studio.Fact, teacher bool) string {
	switch {
	case f.Take != "" && teacher:
		return "/takes/" + string(f.Take)
	case f.Take != "":
		return "/week/takes/" + string(f.Take)
	case f.Lesson != "":
		return "/lessons/" + string(f.Lesson)
	}
	return ""
}

// chartOf reads a chart that a letter holds.
func chartOf(doc json.RawMessage) (report.Chart, bool) {
	var c report.Chart
	if len(doc) == 0 || json.Unmarshal(doc, &c) != nil {
		return c, false
	}
	return c, len(c.Points) > 0
}

// save keeps what was written, and sends it or throws it away where that was pressed. POST /letters/{letter}
func (p *letters) save(w http.ResponseWriter, r *http.Request) error {
	ctx, v := r.Context(), page.Viewer(r)
	l, err := p.desk.Letter(ctx, v, studio.LetterID(r.PathValue("letter")))
	if err != nil {
		return err
	}
	home := "/students/" + string(l.Student) + "/letters"
	if r.PostFormValue("act") == "drop" {
		if err := p.desk.DropLetter(ctx, v, l.ID); err != nil {
			return err
		}
		http.Redirect(w, r, home, http.StatusSeeOther)
		return nil
	}
	if l.Version, err = strconv.Atoi(r.PostFormValue("version")); err != nil {
		return &studio.Problem{Kind: studio.Invalid, Say: "The page sent something that makes no sense. Load it again.", Err: err}
	}
	l.Parts = written(l.Parts, r)
	kept, err := p.desk.SaveLetter(ctx, v, l)
	if err != nil {
		return p.again(w, r, l, err)
	}
	l = kept
	to := "/letters/" + string(l.ID)
	switch r.PostFormValue("act") {
	case "send":
		err = p.desk.SendLetter(ctx, v, l.ID, l.Version)
	default:
		to += "?done=kept"
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// again shows the form with everything that was typed, and why it was not kept. Whoever presses again has read it.
func (p *letters) again(w http.ResponseWriter, r *http.Request, typed studio.Letter, why error) error {
	problem, ok := errors.AsType[*studio.Problem](why)
	if !ok || problem.Kind != studio.Invalid && problem.Kind != studio.Conflict {
		return why
	}
	now, err := p.desk.Letter(r.Context(), page.Viewer(r), typed.ID)
	if err != nil {
		return err
	}
	s, err := p.sheet(r, typed)
	if err != nil {
		return err
	}
	s.Version, s.Draft, s.Problem = now.Version, true, problem.Say
	status := http.StatusUnprocessableEntity
	if problem.Kind == studio.Conflict {
		status = http.StatusConflict
		s.Problem = "This letter was changed in another window. What you wrote stands below and is not kept yet: look at the other writing first, then keep the draft."
		if s.Other = true; !now.Sent.IsZero() {
			s.Problem = "This letter was sent from another window and is not changed any more. What you wrote stands below, so that you can copy it into another one."
		}
	}
	return p.Render(page.WithStatus(w, status), r, "write.html", page.View{Title: s.Title, Here: "students", Data: s})
}

// written are the parts as the form has them: headings and texts as they stand there, without the facts and
// charts that were left out. A part with nothing in it goes.
func written(parts []studio.LetterPart, r *http.Request) (kept []studio.LetterPart) {
	for i, one := range parts {
		at := func(name string) string { return fmt.Sprintf("%s%d", name, i) }
		one.Heading, one.Text = r.PostFormValue(at("heading")), strings.ReplaceAll(r.PostFormValue(at("text")), "\r\n", "\n")
		var facts []studio.Fact
		for j, f := range one.Facts {
			if r.PostFormValue(at("fact")+"-"+strconv.Itoa(j)) != "" {
				facts = append(facts, f)
			}
		}
		one.Facts = facts
		if r.PostFormValue(at("chart")) == "" {
			one.Chart = nil
		}
		if strings.TrimSpace(one.Text) != "" || len(one.Facts) > 0 || one.Chart != nil {
			kept = append(kept, one)
		}
	}
	if text := strings.TrimSpace(r.PostFormValue("more")); text != "" {
		kept = append(kept, studio.LetterPart{Heading: r.PostFormValue("more-heading"), Text: text})
	}
	return kept
}
