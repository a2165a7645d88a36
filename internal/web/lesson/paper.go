package lesson

import (
	"bytes"
	"net/http"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"antiphon/internal/engrave"
	"antiphon/internal/report"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/tongue"
)

// previewed says of a page that it is not sent.
type previewed struct {
	Lesson studio.LessonID
	Family string
	Code   string // of the language that it reads
	// Language is the name of that, as its speakers write it.
	Language string
}

// preview shows a draft as its family will read it. GET /lessons/{lesson}/preview
func (p *pages) preview(w http.ResponseWriter, r *http.Request) error {
	ctx, v := r.Context(), page.Viewer(r)
	l, err := p.desk.Lesson(ctx, v, studio.LessonID(r.PathValue("lesson")))
	if err != nil {
		return err
	}
	if !l.Sent.IsZero() {
		return p.back(w, r, "/lessons/"+string(l.ID))
	}
	sf, err := p.desk.Student(ctx, v, l.Student)
	if err != nil {
		return err
	}
	works, err := p.worksOf(r, l)
	if err != nil {
		return err
	}
	in, err := p.tongue(r, l.Family)
	if err != nil {
		return err
	}
	t := letter{ID: l.ID, Student: l.Student, Name: sf.Student.Name, Words: paragraphs(l.Words), Preview: &previewed{l.ID, sf.Family.Name, in.Code, in.Name}}
	if err := p.forFamily(in, l, &t, works); err != nil {
		return err
	}
	return p.Render(w, r, "sent.html", page.View{Title: t.From, Here: "students", Lang: in.Code, Data: t})
}

// paper is a lesson to print, with its music and boxes for the days. GET /lessons/{lesson}/paper?size=a4|letter
func (p *pages) paper(w http.ResponseWriter, r *http.Request) error {
	ctx, v := r.Context(), page.Viewer(r)
	l, err := p.desk.Lesson(ctx, v, studio.LessonID(r.PathValue("lesson")))
	if err != nil {
		return err
	}
	if p.o.Engraver == nil {
		return &studio.Problem{Kind: studio.NotFound, Say: "This program was built without the engraving library, so it prints nothing."}
	}
	home, err := p.desk.OwnStudio(ctx, v)
	if err != nil {
		return err
	}
	students, err := p.desk.Students(ctx, v)
	if err != nil {
		return err
	}
	works, err := p.worksOf(r, l)
	if err != nil {
		return err
	}
	in, err := p.tongue(r, l.Family)
	if err != nil {
		return err
	}
	week := report.WeekSheet{Language: in.Code, Studio: home.Name, Date: l.Date, Words: l.Words, Made: p.f.Now()}
	if r.FormValue("size") == "letter" {
		week.Paper = engrave.Letter()
	}
	for _, s := range students {
		if s.ID == l.Student {
			week.Student = s.Name
		}
	}
	if day, err := time.ParseInLocation(time.DateOnly, l.Date, p.f.Now().Location()); err == nil {
		week.Date, week.Begins = in.Date(day, p.f.Now()), day
	}
	for _, a := range l.Assignments {
		it, err := p.paperItem(r, in, l.Student, a, works)
		if err != nil {
			return err
		}
		week.Items = append(week.Items, it)
	}
	var b bytes.Buffer // nothing is sent of a page that failed
	if err := week.PDF(ctx, &b, p.o.Engraver); err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", "application/pdf")
	h.Set("Content-Disposition", `inline; filename="week-`+l.Date+`.pdf"`)
	_, err = b.WriteTo(w)
	return err
}

// paperItem is one task on paper, in the words that the family reads on its page.
func (p *pages) paperItem(r *http.Request, in *tongue.Tongue, by studio.StudentID, a studio.Assignment, works prose.Titles) (report.WeekItem, error) {
	t, err := familyReader{in, works, p.score}.task(a)
	if err != nil {
		return report.WeekItem{}, err
	}
	it := report.WeekItem{Title: t.Title, Where: inLine(t.Place), Minutes: a.Minutes, Do: strings.TrimSpace(t.Kind + "\n" + a.Do),
		Coach: a.Coach, Like: a.Like.Say, Unlike: a.Unlike.Say, Clean: a.Ladder.Clean, Ask: t.Ask, Choices: t.Choices, Held: a.Opens}
	for _, g := range t.Goals {
		it.Goals = append(it.Goals, strings.TrimSuffix(g.Name, ".")+": "+g.Say)
	}
	for _, w := range t.Ways {
		one := report.WeekWay{Say: joined(strings.TrimSuffix(w.Name, "."), w.Say)}
		if a.Ways[0].Own != "" || a.Ways[1].Own != "" {
			work, err := p.desk.WorkIn(r.Context(), page.Viewer(r), by, a.Work, w.own)
			if gone(err) != nil {
				return it, err
			}
			if one.Score, err = p.score(work); err != nil {
				return it, err
			}
		}
		it.Ways = append(it.Ways, one)
	}
	q, err := familyReader{in, works, p.score}.beatQ(a.Work)
	if err != nil {
		return it, err
	}
	for _, bpm := range a.Ladder.Rungs() {
		it.Rungs = append(it.Rungs, bpm/q)
	}
	w, ok := works[a.Work]
	if !ok || a.Ask == studio.AskRest {
		return it, nil
	}
	s, err := p.score(w)
	if err != nil || s == nil {
		return it, err
	}
	from, until, err := sheet.Passage(s, a.FromBar, a.ToBar)
	if err != nil {
		return it, nil // bars that the score has no more: the words are printed without the music
	}
	it.Score, it.From, it.Until = s, from, until
	return it, nil
}

// joined is a name with what is said of it, or the name alone.
func joined(name, say string) string {
	if say == "" {
		return name
	}
	return name + ": " + say
}

// inLine is a sentence of its own as it stands behind a title: "bars 1 to 4".
func inLine(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return ""
	}
	return string(unicode.ToLower(first)) + strings.TrimSuffix(s[n:], ".")
}
