package desk

import (
	"net/http"
	"strings"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// letter is a lesson that was sent, as it is read.
type letter struct {
	ID          studio.LessonID
	Teacher     bool
	Student     studio.StudentID
	Name        string
	Family      string
	Date        string
	Now         string // what has just been done
	Words       []string
	Assignments []todo
	Sent        string
	More        string // who waits next
}

type todo struct {
	Title string
	Place string
	Do    []string
	Goals []goal
}

type goal struct{ Name, Say string }

func (p *pages) readLesson(w http.ResponseWriter, r *http.Request, l studio.Lesson) error {
	ctx, v, now := r.Context(), page.Viewer(r), p.f.Now()
	sf, err := p.desk.Student(ctx, v, l.Student)
	if err != nil {
		return err
	}
	t := letter{ID: l.ID, Teacher: v.Role == studio.Teacher, Student: l.Student, Name: sf.Student.Name, Family: "Family " + sf.Family.Name,
		Date: l.Date, Words: paragraphs(l.Words)}
	if day, err := time.ParseInLocation(isoDay, l.Date, now.Location()); err == nil {
		t.Date = day.Format("2 January 2006")
	}
	for _, a := range l.Assignments {
		work, err := p.desk.Work(ctx, v, a.Work)
		if err != nil {
			return err
		}
		t.Assignments = append(t.Assignments, todo{work.Title, bars(a.FromBar, a.ToBar), paragraphs(a.Do), goalsOf(a.Goals)})
	}
	here := "week"
	if t.Teacher {
		here = "students"
		t.Now = doneWords[r.FormValue("done")]
		at := l.Sent.In(now.Location())
		t.Sent = "Sent " + on(page.Day(at, now)) + " at " + at.Format("15:04") + ". It is not changed any more."
		if t.Now != "" {
			d, err := p.desk.Look(ctx, v)
			if err != nil {
				return err
			}
			if len(d.Waiting) > 0 {
				t.More = d.Waiting[0].Student.Name
			}
		}
	}
	return p.Render(w, r, "sent.html", page.View{Title: t.Name + "’s lesson of " + t.Date, Here: here, Data: t})
}

func paragraphs(s string) (all []string) {
	for line := range strings.SplitSeq(s, "\n") {
		if line = strings.TrimSpace(line); line != "" {
			all = append(all, line)
		}
	}
	return all
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
