package lesson

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
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
	Opened      string  // whether the family has
	Regret      *regret // nil once it stays sent
	Film        film
	More        string // who waits next
}

type task struct {
	Title string
	Place string
	Do    []string
	Goals []goal
}

type goal struct{ Name, Say string }

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
	for _, a := range l.Assignments {
		one := task{Title: kindName(a.Ask), Do: paragraphs(a.Do)}
		if a.Work != "" {
			one.Title = works.Name(a.Work)
		}
		t.Assignments = append(t.Assignments, one)
	}
	if v.Role == studio.Teacher {
		if err := p.forTeacher(r, l, &t, works); err != nil {
			return err
		}
		return p.Render(w, r, "sent.html", page.View{Title: t.Heading, Here: "students", Data: t})
	}
	home, err := p.desk.OwnStudio(ctx, v)
	if err != nil {
		return err
	}
	in := tongue.For(r, home.Language)
	if err := p.forFamily(in, l, &t); err != nil {
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
	for i, a := range l.Assignments {
		t.Assignments[i].Place = prose.Capital(prose.Bars(a.FromBar, a.ToBar))
		t.Assignments[i].Goals = goalsOf(a.Goals)
	}
	t.Sent, t.Opened, t.Regret = "Sent "+hourSays(l.Sent, now)+".", openedSays(l, t.Family, now), regretOf(l, now)
	as, err := p.desk.Answers(r.Context(), page.Viewer(r), l.ID)
	if err != nil {
		return err
	}
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

func goalsOf(g studio.Goals) (all []goal) {
	if g.TempoBpm > 0 {
		all = append(all, goal{"Tempo", tempo(g.TempoBpm) + " quarter notes a minute"})
	}
	for _, one := range []goal{{"Tone", g.Tone}, {"Loud and soft", g.Dynamics}, {"Stroke", g.Stroke}, {"Fingering", g.Fingering}, {"Done when", g.DoneWhen}} {
		if one.Say != "" {
			all = append(all, one)
		}
	}
	return all
}

// forFamily says the same to somebody who reads no music.
func (p *pages) forFamily(in *tongue.Tongue, l studio.Lesson, t *letter) error {
	now := p.f.Now()
	day, err := time.ParseInLocation(time.DateOnly, l.Date, now.Location())
	if err != nil {
		day = l.Sent
	}
	t.Heading = t.Name
	if t.From, err = in.Say("week.from", in.Date(day, now)); err != nil {
		return err
	}
	for i, a := range l.Assignments {
		if t.Assignments[i].Goals, err = goalsIn(in, a.Goals); err != nil {
			return err
		}
		if a.FromBar == "" {
			continue
		}
		if t.Assignments[i].Place, err = in.Say("item.bars", a.FromBar, a.ToBar); err != nil {
			return err
		}
	}
	return nil
}

func goalsIn(in *tongue.Tongue, g studio.Goals) (all []goal, err error) {
	pace, err := in.Pace(g.TempoBpm)
	if err != nil {
		return nil, err
	}
	if pace != "" {
		beats, err := in.Say("goal.bpm", tempo(g.TempoBpm))
		if err != nil {
			return nil, err
		}
		pace = fmt.Sprintf("%s %s", pace, beats)
	}
	for _, one := range []goal{{"goal.tempo", pace}, {"goal.tone", g.Tone}, {"goal.dynamics", g.Dynamics}, {"goal.stroke", g.Stroke}, {"goal.fingering", g.Fingering}, {"goal.done", g.DoneWhen}} {
		if one.Say == "" {
			continue
		}
		if one.Name, err = in.Say(one.Name); err != nil {
			return nil, err
		}
		all = append(all, one)
	}
	return all, nil
}

func paragraphs(s string) (all []string) {
	for line := range strings.SplitSeq(s, "\n") {
		if line = strings.TrimSpace(line); line != "" {
			all = append(all, line)
		}
	}
	return all
}
