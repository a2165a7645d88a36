package desk

import (
	"net/http"
	"slices"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

type studentList struct {
	Any      bool // is anybody written down
	Asked    string
	Students []line
}

func (p *pages) students(w http.ResponseWriter, r *http.Request) error { // GET /students?q=NAME
	v := page.Viewer(r)
	all, err := p.desk.Students(r.Context(), v)
	if err != nil {
		return err
	}
	families, err := p.desk.Families(r.Context(), v)
	if err != nil {
		return err
	}
	pulses, err := p.desk.Pulse(r.Context(), v)
	if err != nil {
		return err
	}
	of := map[studio.FamilyID]string{}
	for _, f := range families {
		of[f.ID] = f.Name
	}
	pulse := map[studio.StudentID]studio.Pulse{}
	for _, one := range pulses {
		pulse[one.Student] = one
	}
	l := studentList{Any: len(all) > 0, Asked: strings.TrimSpace(r.FormValue("q"))}
	for _, s := range all {
		if !holds(s.Name+" "+of[s.Family], l.Asked) {
			continue
		}
		one := line{ID: string(s.ID), Name: s.Name, Family: "Family " + of[s.Family], Why: "No recording yet"}
		if t := pulse[s.ID].Heard; !t.IsZero() {
			one.Why = "Last recording " + page.Day(t, p.f.Now())
		}
		l.Students = append(l.Students, one)
	}
	slices.SortStableFunc(l.Students, func(a, b line) int {
		return strings.Compare(strings.ToLower(a.Name+" "+a.Family), strings.ToLower(b.Name+" "+b.Family))
	})
	return p.Render(w, r, "students.html", page.View{Title: "Students", Here: "students", Data: l})
}

// holds says whether text has all words that were asked for, however they are written large or small.
func holds(text, asked string) bool {
	text = strings.ToLower(text)
	for _, word := range strings.Fields(strings.ToLower(asked)) {
		if !strings.Contains(text, word) {
			return false
		}
	}
	return true
}
