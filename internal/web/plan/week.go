package plan

import (
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"

	plans "antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/week"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// weekPage is a student's plan in words.
type weekPage struct {
	ID, Name, From, To string
	At                 string // address of this page
	Done               string
	Cautions           []string
	Guessed            bool
	Hurts              bool
	Unread             int
	Days               []dayView
	Sum                string
	Limits             []string // where the minutes do not reach
	Lines              []lineView
	LeftOut, More      []outView
	Best               bool
	Slips              []slipView
	Ways               []wayView
	Collection         string
	Ahead              *aheadView
	Notices            []plans.Notice
	Place              []string
	Trial              trialView
	Settings           settingsView
	Wents              any
	News               []string // by how many
}

type dayView struct {
	Date, Short, Name string
	Has, Planned      int
	Free              string
	Bar               template.HTML
	Sittings          []sitting
}

// sitting is one thing on one day.
type sitting struct {
	Work, Title string
	Minutes     int
	Pinned      bool
}

type lineView struct {
	Work, Title, Role, When string
	Why, Next               string
	Pinned, New             bool
	Days                    []dayBox
	Stage                   string
	From, To                string // of some bars only
}

type dayBox struct {
	Date, Short, Name string
	On, Free          bool
}

type outView struct {
	Work, Title, Why string
	Wished           bool // left out by the teacher
	Fixed            bool // no wish puts it in
}

type slipView struct {
	Work, Title, Say, Held string
}

type wayView struct {
	Work, Title, Say string
	Ready            bool
	Steps            []stepView
}

type stepView struct{ Work, Title, Say string }

type aheadView struct {
	Collection     string
	Left           []string
	Half, Most     string
	Finished       bool
	Drawing        template.HTML
	Reasons        []string
	Recital, Score string
	Steps          []string
}

func (p *pages) week(w http.ResponseWriter, r *http.Request) error { // GET /students/{student}/plan
	v, err := p.desk.PlanOf(r.Context(), page.Viewer(r), studio.StudentID(r.PathValue("student")))
	if err != nil {
		return err
	}
	return p.showWeek(w, r, v, doneWords[r.FormValue("done")])
}

var doneWords = map[string]string{
	"pin":    "It is in the week now, and the rest was planned anew around it.",
	"whole":  "All of it is in the week now, and the rest was planned anew around it.",
	"forbid": "It is left out, and the rest was planned anew.",
	"free":   "The plan chooses again.",
	"move":   "Moved, and the rest was planned anew around it.",
	"rate":   "Kept. The plan counts on it.",
	"stage":  "Kept. The plan counts on it.",
	"hands":  "Hands may play again from today on.",
	"kept":   "Kept, and planned anew.",
	"trial":  "Kept. The first plan rests on it.",
}

func (p *pages) showWeek(w http.ResponseWriter, r *http.Request, v studio.PlanView, done string) error {
	d := weekPage{ID: string(v.Student.ID), Name: v.Student.Name, At: "/students/" + string(v.Student.ID) + "/plan", Done: done,
		Cautions: v.Week.Cautions, Hurts: v.Week.HandsRest(), Guessed: v.Guessed, Unread: v.Unread, Best: v.Week.Best, Notices: v.Notices, Wents: wents, News: []string{"none", "one", "two"},
		From: dayIn(v.Week.Days[0].Day, v.Today), To: dayIn(v.Week.Days[6].Day, v.Today)}
	d.Days, d.Sum = daysOf(v)
	for _, l := range v.Week.Limits {
		if l.Say != "" {
			d.Limits = append(d.Limits, l.Say)
		}
	}
	lines := slices.Clone(v.Week.Lines)
	slices.SortStableFunc(lines, func(a, b plans.Line) int { return slices.Index(inWeek, a.Role) - slices.Index(inWeek, b.Role) })
	for _, l := range lines {
		d.Lines = append(d.Lines, lineOf(v, l))
	}
	for _, o := range v.Week.LeftOut {
		x := outView{o.Work, o.Title, o.Why, wished(v, o.Work), slices.Contains(rules, week.Out(o.Not))}
		if len(d.LeftOut) < 8 {
			d.LeftOut = append(d.LeftOut, x)
		} else {
			d.More = append(d.More, x)
		}
	}
	for _, s := range v.Slips {
		d.Slips = append(d.Slips, slipView{s.Work, s.Title, s.Say, studio.Held(s.Left)})
	}
	for _, c := range v.Shelves {
		if c.ID == v.State.Collection {
			d.Collection = c.Title
		}
	}
	for _, to := range v.Ways {
		d.Ways = append(d.Ways, wayOf(v, to))
	}
	d.Ahead = aheadOf(v)
	if v.Place != nil {
		d.Place = v.Place.Words
	}
	works, err := p.desk.Works(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	d.Trial = trialOf(v, works)
	d.Settings = settingsOf(v, works)
	return p.Render(w, r, "plan.html", page.View{Title: "Plan for " + d.Name, Here: "students", Wide: true, Data: d})
}

// rules are what no wish goes around.
var rules = []week.Out{week.NotYet, week.HandsRest, week.NoDay}

// inWeek is the order in which a teacher speaks of a week.
var inWeek = []plans.Role{plans.Advance, plans.Serve, plans.Introduce, plans.BringBack, plans.Mend, plans.Keep, plans.Listen}

func wished(v studio.PlanView, work string) bool {
	return slices.ContainsFunc(v.State.Wishes, func(w plans.Wish) bool { return w.Work == work })
}

func daysOf(v studio.PlanView) (out []dayView, sum string) {
	most, planned, has := 1, 0, 0
	for _, d := range v.Week.Days {
		most, planned, has = max(most, d.Has), planned+d.Planned, has+d.Has
	}
	for _, d := range v.Week.Days {
		x := dayView{Date: d.Day.String(), Short: shortDay(d.Day), Name: d.Day.Weekday().String(), Has: d.Has, Planned: d.Planned, Free: d.Free,
			Bar: minutesBar(d.Planned, d.Has, most)}
		for _, l := range v.Week.Lines {
			if slices.Contains(l.Days, d.Day) {
				x.Sittings = append(x.Sittings, sitting{l.Work, l.Title, l.Minutes, l.Pinned})
			}
		}
		out = append(out, x)
	}
	return out, fmt.Sprintf("%d of the family’s %d minutes are planned.", planned, has)
}

func lineOf(v studio.PlanView, l plans.Line) lineView {
	x := lineView{Work: l.Work, Title: l.Title, Role: roles[l.Role], Why: l.Why, Next: l.Next, Pinned: l.Pinned, New: l.New, From: l.From, To: l.To}
	var names []string
	for _, d := range l.Days {
		names = append(names, d.Weekday().String())
	}
	x.When = fmt.Sprintf("%d minutes on %s", l.Minutes, listed(names))
	if len(names) == 7 {
		x.When = fmt.Sprintf("%d minutes every day", l.Minutes)
	}
	for _, d := range v.Week.Days {
		x.Days = append(x.Days, dayBox{d.Day.String(), shortDay(d.Day), d.Day.Weekday().String(), slices.Contains(l.Days, d.Day), d.Free != "" || d.Has == 0})
	}
	for _, it := range v.State.Items {
		if it.Work == l.Work {
			x.Stage = string(it.Stage)
		}
	}
	return x
}

func wayOf(v studio.PlanView, to studio.WayTo) wayView {
	x := wayView{Work: to.Work, Title: to.Title, Ready: len(to.Missing) == 0}
	if x.Ready {
		x.Say = "All that it needs is there."
		if v.Week.HandsRest() {
			x.Say += " It waits until the hands may play again."
		}
		return x
	}
	x.Say = fmt.Sprintf("Between %s and this stand %s.", v.Student.Name, listed(to.Missing))
	if len(to.Missing) == 1 {
		x.Say = fmt.Sprintf("Between %s and this stands %s.", v.Student.Name, to.Missing[0])
	}
	for _, s := range to.Way.Steps {
		st := stepView{Work: s.Work, Title: v.Titles[s.Work], Say: "comes before it"}
		if len(s.Builds) > 0 {
			st.Say = "would build " + listed(s.Builds)
		}
		x.Steps = append(x.Steps, st)
	}
	if n := to.Way.Nothing; len(n) > 0 {
		x.Say += fmt.Sprintf(" Nothing in the library builds %s yet: an exercise made for it would.", listed(n))
	}
	if len(to.Instead) > 0 {
		x.Say += " In its place these hands can play " + listed(to.Instead) + "."
	}
	return x
}

func aheadOf(v studio.PlanView) *aheadView {
	a := v.Ahead
	if a == nil {
		return nil
	}
	x := &aheadView{Collection: a.Collection, Left: a.Left, Reasons: a.Reasons, Recital: a.StageWords, Score: v.Score}
	if a.Half != nil {
		if x.Finished = len(a.Left) == 0; !x.Finished {
			x.Half, x.Most = between(*a.Half, false, v.Today), between(*a.Most, a.Open, v.Today)
			x.Drawing = rangeDrawing(v.Today, *a.Half, *a.Most, a.Open)
		}
	}
	for _, m := range a.Stages {
		x.Steps = append(x.Steps, m.Say)
	}
	return x
}

// planOf is the address of the plan that a request changes.
func planOf(r *http.Request) string {
	return "/students/" + string(studio.StudentID(r.PathValue("student"))) + "/plan"
}

// change is one button of the page. A script that moves something asks for the page itself.
func (p *pages) change(w http.ResponseWriter, r *http.Request) error { // POST /students/{student}/plan
	ctx, v, id := r.Context(), page.Viewer(r), studio.StudentID(r.PathValue("student"))
	work, do := studio.WorkID(r.PostFormValue("work")), r.PostFormValue("do")
	var view studio.PlanView
	var err error
	switch do {
	case "pin":
		var on []calendar.Day
		for _, text := range r.PostForm["on"] {
			day, err := dayFrom(text)
			if err != nil {
				return err
			}
			on = append(on, day)
		}
		view, err = p.desk.Pin(ctx, v, id, work, on...)
	case "move":
		from, err1 := dayFrom(r.PostFormValue("from"))
		to, err2 := dayFrom(r.PostFormValue("to"))
		if err1 != nil || err2 != nil {
			return &studio.Problem{Kind: studio.Invalid, Say: "Choose the day to move it to."}
		}
		view, err = p.desk.Move(ctx, v, id, work, from, to)
	case "whole":
		view, err = p.desk.PinWhole(ctx, v, id, work)
	case "forbid":
		view, err = p.desk.Forbid(ctx, v, id, work)
	case "free":
		view, err = p.desk.LetPlan(ctx, v, id, work)
	case "rate":
		if from, to := r.PostFormValue("from"), r.PostFormValue("to"); from != "" || to != "" {
			view, err = p.desk.RatePassage(ctx, v, id, work, from, to, number(r.PostFormValue("rating")))
		} else {
			view, err = p.desk.RateItem(ctx, v, id, work, number(r.PostFormValue("rating")))
		}
	case "stage":
		view, err = p.desk.SetStage(ctx, v, id, work, plans.Stage(r.PostFormValue("stage")))
	case "hands":
		view, err = p.desk.HandsMayPlay(ctx, v, id)
	default:
		return &studio.Problem{Kind: studio.Invalid, Say: "The page sent something that makes no sense. Load it again."}
	}
	if err != nil {
		return err
	}
	if strings.Contains(r.Header.Get("Accept"), "application/json") { // from a script
		return p.showWeek(w, r, view, doneWords[do])
	}
	return back(w, r, planOf(r)+"?done="+do)
}

func dayFrom(text string) (calendar.Day, error) {
	d, err := calendar.Read(strings.TrimSpace(text))
	if err != nil {
		return 0, &studio.Problem{Kind: studio.Invalid, Say: "A day is written like 2026-11-30.", Err: err}
	}
	return d, nil
}

func (p *pages) intoLesson(w http.ResponseWriter, r *http.Request) error { // POST /students/{student}/plan/lesson
	if err := r.ParseForm(); err != nil {
		return err
	}
	var works []studio.WorkID
	for _, id := range r.PostForm["work"] {
		works = append(works, studio.WorkID(id))
	}
	if len(works) == 0 {
		return &studio.Problem{Kind: studio.Invalid, Say: "Choose at least one line that is to go into the lesson."}
	}
	l, err := p.desk.TakeIntoLesson(r.Context(), page.Viewer(r), studio.StudentID(r.PathValue("student")), works...)
	if err != nil {
		return err
	}
	return back(w, r, "/lessons/"+string(l.ID))
}
