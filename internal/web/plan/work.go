package plan

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	plans "antiphon/internal/plan"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// workPage is what plans know of a work, and what the teacher says in its place.
type workPage struct {
	ID, Title string
	Done      string
	Known     string // what was worked out
	Why       string
	Says      studio.WorkSays
	Kinds     []kindChoice
	Load      string
	Minutes   string
	Groups    []choice
	For       []choice
	Exercise  bool
	Skills    []skillChoice
	Own       bool // the teacher's own skills hold
}

type kindChoice struct {
	Kind, Say string
	On        bool
}

type skillChoice struct {
	Name          string
	Needs, Builds bool
}

var kinds = []struct {
	kind plans.Kind
	say  string
}{
	{plans.Piece, "a piece"}, {plans.Exercise, "an exercise"}, {plans.Technique, "a technique to be kept alive, such as scales"},
	{plans.Listening, "something for the ears alone: hands may rest"},
}

func (p *pages) work(w http.ResponseWriter, r *http.Request) error { // GET /plan/works/{work}
	v, err := p.desk.WorkPlan(r.Context(), page.Viewer(r), studio.WorkID(r.PathValue("work")))
	if err != nil {
		return err
	}
	d := workPage{ID: string(v.Work.ID), Title: v.Work.Title, Says: v.Says, Done: doneWords[r.FormValue("done")], Exercise: v.Work.Exercise, Own: v.Says.Skills}
	kind := v.Says.Kind
	if kind == "" {
		kind = plans.Piece
		if v.Work.Exercise {
			kind = plans.Exercise
		}
	}
	for _, k := range kinds {
		d.Kinds = append(d.Kinds, kindChoice{string(k.kind), k.say, k.kind == kind})
	}
	if v.Says.Load > 0 {
		d.Load = strconv.FormatFloat(v.Says.Load, 'f', -1, 64)
	}
	if v.Says.Minutes > 0 {
		d.Minutes = strconv.Itoa(v.Says.Minutes)
	}
	for _, g := range v.Groups {
		d.Groups = append(d.Groups, choice{g.Name, g.Name, g.Name == v.Says.Group})
	}
	for _, x := range inOrder(v.Pieces) {
		d.For = append(d.For, choice{string(x.ID), x.Title, x.ID == v.Says.For})
	}
	needs, builds := v.Says.Needs, v.Says.Builds
	switch {
	case v.Demand == nil && v.Work.Score == "":
		d.Known = "There is no score of it, so nothing was worked out. Say below what it needs."
	case v.Demand == nil:
		d.Known = "The program is working out what it asks of the hands; look again in a minute."
	case v.Demand.Why != "":
		d.Known = v.Demand.Why
	case len(v.Demand.Skills) == 0:
		d.Known = "Worked out from its score: it asks for no skill in particular."
	default:
		d.Known = "Worked out from its score: it asks for " + listed(v.Demand.Skills) + "."
	}
	if v.Demand != nil && !v.Says.Skills {
		if kind == plans.Exercise || kind == plans.Technique {
			builds = v.Demand.Skills
		} else {
			needs = v.Demand.Skills
		}
	}
	for _, s := range v.Skills {
		d.Skills = append(d.Skills, skillChoice{s, slices.Contains(needs, s), slices.Contains(builds, s)})
	}
	return p.Render(w, r, "work.html", page.View{Title: d.Title + " in plans", Here: "library", Data: d})
}

func (p *pages) sayOfWork(w http.ResponseWriter, r *http.Request) error { // POST /plan/works/{work}
	if err := r.ParseForm(); err != nil {
		return err
	}
	s := studio.WorkSays{Kind: plans.Kind(r.PostFormValue("kind")), Group: r.PostFormValue("group"), For: studio.WorkID(r.PostFormValue("for")),
		Joy: r.PostFormValue("joy") == "yes", Strain: r.PostFormValue("strain") == "yes", Skills: r.PostFormValue("own") == "yes"}
	if text := strings.TrimSpace(r.PostFormValue("minutes")); text != "" {
		s.Minutes = number(text)
	}
	if text := strings.Replace(strings.TrimSpace(r.PostFormValue("load")), ",", ".", 1); text != "" {
		load, err := strconv.ParseFloat(text, 64)
		if err != nil || load <= 0 {
			return &studio.Problem{Kind: studio.Invalid, Say: "How much a work asks is a number such as 0.5 or 2, where 1 is the usual."}
		}
		s.Load = load
	}
	if s.Skills {
		s.Needs, s.Builds = with(r.PostForm["needs"], r.PostFormValue("more-needs")), with(r.PostForm["builds"], r.PostFormValue("more-builds"))
	}
	id := studio.WorkID(r.PathValue("work"))
	if err := p.desk.SayOfWork(r.Context(), page.Viewer(r), id, s); err != nil {
		return err
	}
	return back(w, r, "/plan/works/"+string(id)+"?done=kept")
}

// with adds what was written, one after the other with commas between.
func with(list []string, more string) []string {
	for _, x := range strings.Split(more, ",") {
		if x = strings.TrimSpace(x); x != "" && !slices.Contains(list, x) {
			list = append(list, x)
		}
	}
	return list
}
