package lesson

import (
	"errors"
	"html/template"
	"net/http"
	"time"

	"antiphon/internal/music"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/tongue"
)

// letter is a lesson that was sent, as it is read: by the teacher, or by the family in its own language.
type letter struct {
	ID          studio.LessonID
	Teacher     bool
	Student     studio.StudentID
	Name        string
	Family      string
	Heading     string
	From        string // to a family: who wrote it, and when
	Now         string // what has just been done
	Words       []string
	Assignments []task
	Sent        string
	Torn        string  // what came damaged of what was said; "" nothing
	Opened      string  // whether the family has
	Regret      *regret // nil once it stays sent
	Film        film
	Preview     *previewed // nil where it is the real thing
	More        string     // who waits next
}

// doneWords say what has just been done, by its name in the address.
var doneWords = map[string]string{
	"sent":     "Sent. The family sees it now.",
	"back":     "It is a draft again, and the family sees it no more. What was answered with it waits again.",
	"sent-was": "This lesson had been sent already. Nothing was sent twice.",
}

func (p *pages) readLesson(w http.ResponseWriter, r *http.Request, l studio.Lesson) error {
	ctx, v := r.Context(), page.Viewer(r)
	sf, err := p.desk.Student(ctx, v, l.Student)
	if err != nil {
		return err
	}
	t := letter{ID: l.ID, Student: l.Student, Name: sf.Student.Name, Family: "Family " + sf.Family.Name, Words: paragraphs(l.Words)}
	works, err := p.worksOf(r, l)
	if err != nil {
		return err
	}
	if v.Role == studio.Teacher {
		if err := p.forTeacher(r, l, &t, works); err != nil {
			return err
		}
		return p.Render(w, r, "sent.html", page.View{Title: t.Heading, Here: "students", Data: t})
	}
	in, err := p.f.Tongue(r)
	if err != nil {
		return err
	}
	if err := p.forFamily(in, l, &t, works); err != nil {
		return err
	}
	return p.Render(w, r, "sent.html", page.View{Title: t.From, Here: "week", Lang: in.Code, Data: t})
}

func (p *pages) forTeacher(r *http.Request, l studio.Lesson, t *letter, works prose.Titles) error {
	now := p.f.Now()
	day := l.Date
	if at, err := time.ParseInLocation(time.DateOnly, l.Date, now.Location()); err == nil {
		day = at.Format("2 January 2006")
	}
	t.Teacher, t.Heading, t.Now = true, t.Name+"’s lesson of "+day, doneWords[r.FormValue("done")]
	for _, a := range l.Assignments {
		one := taskForTeacher(a, works)
		if err := p.scored(tongue.Of(tongue.English), l.Student, a, &one, works); err != nil {
			return err
		}
		t.Assignments = append(t.Assignments, one)
	}
	t.Sent, t.Opened, t.Regret = "Sent "+hourSays(l.Sent, now)+".", openedSays(l, t.Family, now), regretOf(l, now)
	as, err := p.desk.Answers(r.Context(), page.Viewer(r), l.ID)
	if err != nil {
		return err
	}
	torn, err := p.desk.Torn(r.Context(), page.Viewer(r), l.ID)
	if err != nil {
		return err
	}
	t.Torn = tornSays(l, torn, works)
	if t.Film, err = p.filmOf(r, l, as, works); err != nil {
		return err
	}
	if t.Now == "" {
		return nil
	}
	d, err := p.desk.Look(r.Context(), page.Viewer(r))
	if err == nil && len(d.Waiting) > 0 {
		t.More = d.Waiting[0].Student.Name
	}
	return err
}

// forFamily says the same to somebody who reads no music.
func (p *pages) forFamily(in *tongue.Tongue, l studio.Lesson, t *letter, works prose.Titles) error {
	now := p.f.Now()
	day, err := time.ParseInLocation(time.DateOnly, l.Date, now.Location())
	if err != nil {
		day = l.Sent
	}
	t.Heading = t.Name
	if t.From, err = in.Say("week.from", in.Date(day, now)); err != nil {
		return err
	}
	reader := familyReader{in, works, p.score}
	for _, a := range l.Assignments {
		one, err := reader.task(a)
		if err != nil {
			return err
		}
		if err := p.scored(in, l.Student, a, &one, works); err != nil {
			return err
		}
		t.Assignments = append(t.Assignments, one)
	}
	return nil
}

// score is the music of a work, nil where there is none that can be read.
func (p *pages) score(w studio.Work) (*music.Score, error) {
	if p.o.Sheets == nil || w.Score == "" {
		return nil, nil
	}
	s, err := p.o.Sheets.Score(w.Score)
	if x, ok := errors.AsType[*studio.Problem](err); ok && x.Kind != studio.Internal {
		return nil, nil
	}
	return s, err
}

// scored puts the music into a task: once, or with each of two ways where one of them has fingers of its own.
func (p *pages) scored(in *tongue.Tongue, s studio.StudentID, a studio.Assignment, t *task, works prose.Titles) (err error) {
	if a.Ways[0].Own == "" && a.Ways[1].Own == "" {
		t.Music, err = p.placed(in, s, a, "", works)
		return err
	}
	for i := range t.Ways {
		if err == nil {
			t.Ways[i].Music, err = p.placed(in, s, a, t.Ways[i].own, works)
		}
	}
	return err
}

// placed is the music of a task with the fingers of the student, or with those of one that is to be tried; "" where
// there is none to show.
func (p *pages) placed(in *tongue.Tongue, s studio.StudentID, a studio.Assignment, own studio.FingeringID, works prose.Titles) (template.HTML, error) {
	w, ok := works[a.Work]
	if !ok || w.Score == "" || a.Ask == studio.AskRest {
		return "", nil
	}
	return sheet.Place(sheet.Placing{Work: w.ID, For: s, Own: own, Title: w.Title, From: a.FromBar, Until: a.ToBar, NoTitle: true, In: in})
}
