package desk

import (
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
)

// looks is one child's access log in words.
type looks struct {
	ID      studio.StudentID
	Name    string
	Days    []lookDay
	Earlier string
}

type lookDay struct {
	Name  string
	Lines []look
}

type look struct{ At, Who, What, Take, Way string }

var lookWords = map[string]string{"looked": "opened", "played": "played", "exported": "took everything away in a file"}

// looksShown is as far back as the log is shown; the family's file has all of it.
const looksShown = 500

func (p *pages) looked(w http.ResponseWriter, r *http.Request) error { // GET /students/{student}/looked
	ctx, v, now := r.Context(), page.Viewer(r), p.f.Now()
	id := studio.StudentID(r.PathValue("student"))
	sf, err := p.desk.Student(ctx, v, id)
	if err != nil {
		return err
	}
	log, err := p.desk.AccessLog(ctx, v, id)
	if err != nil {
		return err
	}
	people, err := p.desk.People(ctx, v)
	if err != nil {
		return err
	}
	names := map[studio.PersonID]string{}
	for _, one := range people {
		names[one.ID] = one.Name
	}
	takes, err := p.desk.TakesBy(ctx, v, studio.TakeQuery{Student: id, Limit: takesCounted})
	if err != nil {
		return err
	}
	works, err := p.works(r)
	if err != nil {
		return err
	}
	title := map[studio.TakeID]string{}
	for _, t := range takes {
		title[t.ID] = works.Of(t) + " of " + t.Announced.In(now.Location()).Format("2 January")
	}
	l := looks{ID: id, Name: sf.Student.Name}
	for _, a := range log {
		at := a.At.In(now.Location())
		if day := prose.Capital(page.Day(at, now)); len(l.Days) == 0 || l.Days[len(l.Days)-1].Name != day {
			l.Days = append(l.Days, lookDay{Name: day})
		}
		one := look{At: at.Format("15:04"), Who: whoLooked(a, v, names), What: lookWords[a.What]}
		if one.What == "" {
			one.What = a.What
		}
		if a.Take != "" {
			one.Take = title[a.Take]
			if one.Take == "" {
				one.Take = "a recording that is deleted by now, or older"
			} else {
				one.Way = "/takes/" + string(a.Take)
			}
		}
		day := &l.Days[len(l.Days)-1]
		day.Lines = append(day.Lines, one)
	}
	if len(log) >= looksShown {
		l.Earlier = "There is more before this. The family’s file in the studio’s settings holds the whole list."
	}
	return p.Render(w, r, "looked.html", page.View{Title: "Who looked", Here: "students", Data: l})
}

func whoLooked(a studio.Access, v studio.Viewer, names map[studio.PersonID]string) string {
	switch {
	case a.By == v.Person:
		return "You"
	case names[a.By] != "":
		return names[a.By]
	case a.Role == studio.Ear:
		return "The program"
	}
	return "Somebody who is not connected any more"
}
