package plan

import (
	"net/http"
	"strings"

	plans "antiphon/internal/plan"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// studioPage is the whole studio at a glance.
type studioPage struct {
	Done     string
	Slips    []studentSlips
	Quiet    []notice
	Stuck    []notice
	Unread   int
	Holidays []holidayField
	Groups   []groupField
	Few      string // how many students have nothing slipping
}

// studentSlips are those of one student.
type studentSlips struct {
	ID, Name string
	Slips    []slipView
	More     int
}

type notice struct{ ID, Name, Say, Try string }

type groupField struct {
	Name string
	Days int
}

// slipsShown of one student; the rest stands on the student's own page.
const slipsShown = 3

func (p *pages) studio(w http.ResponseWriter, r *http.Request) error { // GET /plan
	look, err := p.desk.SlippingAll(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	d := studioPage{Unread: look.Unread, Holidays: holidayFields(look.Studio.Holidays), Done: doneWords[r.FormValue("done")]}
	at := map[string]int{}
	for _, s := range look.Slips {
		i, there := at[s.Student]
		if !there {
			i = len(d.Slips)
			at[s.Student] = i
			d.Slips = append(d.Slips, studentSlips{ID: s.Student, Name: look.Students[s.Student].Name})
		}
		if one := &d.Slips[i]; len(one.Slips) < slipsShown {
			one.Slips = append(one.Slips, slipView{s.Work, s.Title, s.Say, studio.Held(s.Left)})
		} else {
			one.More++
		}
	}
	if n := len(look.Students) - len(d.Slips); n > 0 && len(d.Slips) > 0 {
		d.Few = plural(n, "other student") + " have nothing that slips, as far as is known."
		if n == 1 {
			d.Few = "1 other student has nothing that slips, as far as is known."
		}
	}
	for _, n := range look.Notices {
		x := notice{n.Student, look.Students[n.Student].Name, n.Say, n.Try}
		if n.Chance > 0 {
			d.Quiet = append(d.Quiet, x)
		} else {
			d.Stuck = append(d.Stuck, x)
		}
	}
	for _, g := range look.Studio.Groups {
		d.Groups = append(d.Groups, groupField{g.Name, g.LimitDays})
	}
	d.Groups = append(d.Groups, groupField{})
	return p.Render(w, r, "studio.html", page.View{Title: "Plans", Here: "students", Wide: true, Data: d})
}

func (p *pages) settleStudio(w http.ResponseWriter, r *http.Request) error { // POST /plan
	if err := r.ParseForm(); err != nil {
		return err
	}
	holidays, err := holidaysFrom(r)
	if err != nil {
		return err
	}
	var groups []plans.Group
	names, days := r.PostForm["group"], r.PostForm["days"]
	for i, name := range names {
		if i < len(days) && strings.TrimSpace(name) != "" {
			groups = append(groups, plans.Group{Name: name, LimitDays: number(days[i])})
		}
	}
	if err := p.desk.SettleStudio(r.Context(), page.Viewer(r), holidays, groups); err != nil {
		return err
	}
	return back(w, r, "/plan?done=kept#settings")
}
