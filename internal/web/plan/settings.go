package plan

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	plans "antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

var weekdays = [7]string{"Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"}

// settingsView is the form of what the teacher settles for a student.
type settingsView struct {
	Minutes     []minutesField
	MostNew     int
	Collections []choice
	Holidays    []holidayField
	Limits      []limitField
	RecitalDay  string
	Recital     []choice
	Skills      []skillField
}

type minutesField struct {
	Name, Day string
	Minutes   int
}

type choice struct {
	ID, Title string
	On        bool
}

type holidayField struct{ From, To, Name string }

// limitField is the limit of a group for one student.
type limitField struct {
	Name    string
	Usual   int    // days, of the studio
	Days    string // the student's own; "": the studio's
	Without bool   // no limit for this student
}

// skillField says whether a skill is known, done without, or left to what is heard.
type skillField struct{ Name, Is string }

func settingsOf(v studio.PlanView, works []studio.Work) settingsView {
	s := settingsView{MostNew: 1, Holidays: holidayFields(v.Says.Holidays)}
	if v.Says.MostNew != nil {
		s.MostNew = *v.Says.MostNew
	}
	for i, name := range weekdays {
		s.Minutes = append(s.Minutes, minutesField{fmt.Sprintf("minutes%d", i), name, v.State.Minutes[i]})
	}
	for _, c := range v.Shelves {
		s.Collections = append(s.Collections, choice{c.ID, c.Title, c.ID == v.State.Collection})
	}
	for _, g := range v.Studio.Groups {
		f := limitField{Name: g.Name, Usual: g.LimitDays}
		for _, own := range v.State.Limits {
			if own.Group != g.Name {
				continue
			}
			if f.Without = own.Lifted; !own.Lifted {
				f.Days = strconv.Itoa(own.LimitDays)
			}
		}
		s.Limits = append(s.Limits, f)
	}
	var on []string
	if v.Says.Recital != nil {
		s.RecitalDay, on = v.Says.Recital.Day.String(), v.Says.Recital.Works
	}
	for _, w := range inOrder(works) {
		if !w.Exercise {
			s.Recital = append(s.Recital, choice{string(w.ID), w.Title, slices.Contains(on, string(w.ID))})
		}
	}
	names := slices.Clone(v.Skills)
	for _, more := range append(slices.Clone(v.Says.Known), v.Says.Without...) {
		if !slices.Contains(names, more) {
			names = append(names, more)
		}
	}
	for _, n := range names {
		f := skillField{Name: n}
		switch {
		case slices.Contains(v.Says.Without, n):
			f.Is = "without"
		case slices.Contains(v.Says.Known, n):
			f.Is = "known"
		}
		s.Skills = append(s.Skills, f)
	}
	return s
}

func inOrder(works []studio.Work) []studio.Work {
	out := slices.DeleteFunc(slices.Clone(works), func(w studio.Work) bool { return w.Title == "" })
	slices.SortStableFunc(out, func(a, b studio.Work) int { return cmp.Compare(strings.ToLower(a.Title), strings.ToLower(b.Title)) })
	return out
}

// holidayFields are those that are set, and one row to write another.
func holidayFields(all calendar.Free) (out []holidayField) {
	for _, h := range all {
		out = append(out, holidayField{h.From.String(), h.To.String(), h.Name})
	}
	return append(out, holidayField{})
}

// holidaysFrom reads rows of a form; an empty row is none.
func holidaysFrom(r *http.Request) (calendar.Free, error) {
	from, to, name := r.PostForm["from"], r.PostForm["to"], r.PostForm["holiday"]
	var out calendar.Free
	for i := range from {
		if i >= len(to) || i >= len(name) || from[i] == "" && to[i] == "" {
			continue
		}
		a, err := dayFrom(from[i])
		if err != nil {
			return nil, err
		}
		b, err := dayFrom(cmp.Or(to[i], from[i]))
		if err != nil {
			return nil, err
		}
		out = append(out, calendar.Span{From: a, To: b, Name: name[i]})
	}
	return out, nil
}

// limitsFrom reads the limits of one student; an empty field leaves the studio's.
func limitsFrom(r *http.Request) (out []plans.OwnLimit, err error) {
	for key, values := range r.PostForm {
		group, ok := strings.CutPrefix(key, "limit:")
		if !ok {
			continue
		}
		own := plans.OwnLimit{Group: group, Lifted: r.PostForm.Has("nolimit:" + group)}
		if text := strings.TrimSpace(values[0]); text != "" {
			if own.LimitDays = number(text); own.LimitDays < 0 {
				return nil, &studio.Problem{Kind: studio.Invalid, Say: "The days at most of " + group + " are a whole number such as 14, or nothing."}
			}
		} else if !own.Lifted {
			continue
		}
		out = append(out, own)
	}
	slices.SortFunc(out, func(a, b plans.OwnLimit) int { return cmp.Compare(a.Group, b.Group) })
	return out, nil
}

func number(text string) int {
	n, err := strconv.Atoi(strings.TrimSpace(text))
	if err != nil {
		return -1
	}
	return n
}

func (p *pages) settle(w http.ResponseWriter, r *http.Request) error { // POST /students/{student}/plan/settings
	if err := r.ParseForm(); err != nil {
		return err
	}
	s := studio.PlanSettings{MostNew: number(r.PostFormValue("new")), Collection: studio.CollectionID(r.PostFormValue("collection"))}
	for i, name := range weekdays {
		text := strings.TrimSpace(r.PostFormValue(fmt.Sprintf("minutes%d", i)))
		if text == "" {
			continue
		}
		if s.Minutes[i] = number(text); s.Minutes[i] < 0 {
			return &studio.Problem{Kind: studio.Invalid, Say: "The minutes of " + name + " are a whole number such as 15."}
		}
	}
	var err error
	if s.Holidays, err = holidaysFrom(r); err != nil {
		return err
	}
	if text := r.PostFormValue("recital"); text != "" {
		day, err := dayFrom(text)
		if err != nil {
			return err
		}
		s.Recital = &plans.Recital{Day: day, Works: r.PostForm["played"]}
	}
	if s.Limits, err = limitsFrom(r); err != nil {
		return err
	}
	for key, values := range r.PostForm {
		name, ok := strings.CutPrefix(key, "skill:")
		if !ok {
			continue
		}
		switch values[0] {
		case "known":
			s.Known = append(s.Known, name)
		case "without":
			s.Without = append(s.Without, name)
		}
	}
	slices.Sort(s.Known)
	slices.Sort(s.Without)
	if _, err := p.desk.SettlePlan(r.Context(), page.Viewer(r), studio.StudentID(r.PathValue("student")), s); err != nil {
		return err
	}
	return back(w, r, planOf(r)+"?done=kept")
}

// trialView is the form of what a new student showed.
type trialView struct {
	Shown bool // there is little else to go on
	Rows  []trialRow
	Works []studio.Work
	Years string
	Reads bool
}

type trialRow struct {
	N      int
	Work   string
	Rating int
}

// trialRows is how many works are asked for: two or three show enough.
const trialRows = 3

func trialOf(v studio.PlanView, works []studio.Work) trialView {
	t := trialView{Shown: len(v.State.Items) == 0 || v.Says.Trial != nil, Works: inOrder(works)}
	said := v.Says.Trial
	if said == nil {
		said = &plans.Trial{}
	} else {
		t.Years, t.Reads = strconv.FormatFloat(said.Years, 'f', -1, 64), said.ReadsMusic
	}
	for i := range max(trialRows, len(said.Takes)) {
		row := trialRow{N: i + 1, Rating: int(memory.Steady)}
		if i < len(said.Takes) {
			row.Work, row.Rating = said.Takes[i].Work, said.Takes[i].Rating
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func (p *pages) trial(w http.ResponseWriter, r *http.Request) error { // POST /students/{student}/plan/trial
	if err := r.ParseForm(); err != nil {
		return err
	}
	t := plans.Trial{ReadsMusic: r.PostFormValue("reads") == "yes"}
	if text := strings.Replace(strings.TrimSpace(r.PostFormValue("years")), ",", ".", 1); text != "" {
		years, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return &studio.Problem{Kind: studio.Invalid, Say: "Years of playing are a number such as 0.5 or 2."}
		}
		t.Years = years
	}
	works, went := r.PostForm["tried"], r.PostForm["went"]
	for i, id := range works {
		if id == "" || i >= len(went) {
			continue
		}
		t.Takes = append(t.Takes, plans.TrialTake{Work: id, Rating: number(went[i])})
	}
	if _, err := p.desk.TryOut(r.Context(), page.Viewer(r), studio.StudentID(r.PathValue("student")), t); err != nil {
		return err
	}
	return back(w, r, planOf(r)+"?done=trial")
}
