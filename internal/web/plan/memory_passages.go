package plan

import (
	"cmp"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"antiphon/internal/compare"
	plans "antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// passageView is a passage of a work.
type passageView struct {
	ID, Title string
	Of        string // as the search for remarks names it
	Named     string
	State     string
	Tell      string // what is weak, one sentence
	Says      string
	Strip     template.HTML
	Curves    []curve
	Rows      []heardRow
	Older     int  // recordings that have no row
	Stopped   bool // in some of them
	Ask       bool // it may be asked again from here
	Work      string
	From, To  string
	Said      []saidThere
	Remarks   string
	Well      bool // nothing is to be seen to: it was not asked lately, and went right when it was last heard
}

// saidThere is a remark about a passage.
type saidThere struct{ Text, Day string }

// saidOfPassage remarks stand with it; the search has all.
const saidOfPassage = 3

// lately is for how long a passage that was asked stands open on the page.
const lately = 28

func passageOf(it studio.Remembered, i int, rest bool, today calendar.Day) passageView {
	ps := it.Passages[i]
	x := passageView{ID: fmt.Sprintf("p-%s-%d", it.Work.ID, i+1), Title: capital(ps.Name()),
		Of: aboutPassage(it.Work.ID, ps), Named: ps.Named, Tell: ps.Says, Says: passageSays(ps, today)}
	asked := calendar.Day(0)
	if n := len(ps.Asked); n > 0 {
		asked = ps.Asked[n-1]
	}
	x.Well = ps.Says == "" && ps.Wrong == 0 && today-asked > lately
	x.Ask, x.Work, x.From, x.To = ps.Says != "" && !rest, string(it.Work.ID), ps.From, ps.To
	if it.Stage == plans.Kept && ps.Left >= 0 && ps.Wrong == 0 { // of what last went wrong, that is what is to be said
		x.State = studio.Held(ps.Left)
	}
	if n := len(ps.Remarks); n > 0 {
		x.Remarks = plural(n, "remark")
		for i := n - 1; i >= max(n-saidOfPassage, 0); i-- {
			r := ps.Remarks[i]
			x.Said = append(x.Said, saidThere{cmp.Or(r.Text, "Said aloud"), dayIn(r.Day, today)})
		}
	}
	var points []compare.Point
	var marks []mark
	var rows []dated
	well := 0
	for _, h := range ps.Heard {
		points = append(points, compare.Point{Day: h.At, Bpm: h.Bpm, RightShare: h.Share()})
		row := rowOf(h.Take, h.At, h.Bpm, h.Share())
		if row.Right = fmt.Sprintf("%d of %d", h.Right, h.Notes); h.Stops > 0 {
			row.Stops, x.Stopped = plural(h.Stops, "time"), true
		}
		rows = append(rows, dated{calendar.Of(h.At), row})
		marks = append(marks, mark{day: calendar.Of(h.At), well: h.Rating >= memory.Steady})
	}
	for _, r := range ps.Rated {
		rows = append(rows, ratedRow(r))
		marks = append(marks, mark{day: r.Day, well: memory.Rating(r.Rating) >= memory.Steady})
	}
	slices.SortStableFunc(marks, func(a, b mark) int { return cmp.Compare(a.day, b.day) })
	for _, m := range marks {
		if m.well {
			well++
		}
	}
	x.Rows = inDays(rows)
	goal := ps.GoalBpm
	if goal == 0 {
		goal = it.GoalBpm
	}
	x.Curves = curves(newestOf(points, marksDrawn), goal)
	x.Older, x.Rows = max(len(x.Rows)-rowsShown, 0), newestOf(x.Rows, rowsShown)
	if len(marks) > 0 {
		x.Strip = strip(newestOf(marks, marksDrawn), fmt.Sprintf("Heard %s: %s.", plural(len(marks), "time"), wentRight(well, len(marks))))
	}
	return x
}

// remember puts a passage into the lesson, or keeps how it or a work went by the teacher's own ear.
func (p *pages) remember(w http.ResponseWriter, r *http.Request) error { // POST /students/{student}/memory
	if err := r.ParseForm(); err != nil {
		return err
	}
	ctx, v, id, work := r.Context(), page.Viewer(r), studio.StudentID(r.PathValue("student")), studio.WorkID(r.PostForm.Get("work"))
	from, to := r.PostForm.Get("from"), r.PostForm.Get("to")
	if r.PostForm.Has("rating") {
		var err error
		if rating := number(r.PostForm.Get("rating")); from == "" && to == "" {
			_, err = p.desk.RateItem(ctx, v, id, work, rating)
		} else {
			_, err = p.desk.RatePassage(ctx, v, id, work, from, to, rating)
		}
		if err != nil {
			return err
		}
		at := url.URL{Path: r.URL.Path, RawQuery: "done=rate", Fragment: r.PostForm.Get("at")}
		return back(w, r, at.String())
	}
	l, err := p.desk.AskPassage(ctx, v, id, work, from, to)
	if err != nil {
		return err
	}
	return back(w, r, "/lessons/"+string(l.ID))
}

// wentRight says how often it went right there.
func wentRight(n, all int) string {
	switch {
	case n == all && all == 1:
		return "it went right there"
	case n == all:
		return "it went right there each time"
	case n == 0:
		return "it did not go right there yet"
	}
	return fmt.Sprintf("it went right there %d of %d times", n, all)
}

func passageSays(ps studio.RememberedPassage, today calendar.Day) string {
	var says []string
	switch n := len(ps.Asked); n {
	case 0:
		says = append(says, "It came up again and again, and was not asked by itself.")
	case 1:
		says = append(says, "Asked by itself once, "+agoIn(ps.Asked[0], today)+".")
	default:
		says = append(says, fmt.Sprintf("Asked by itself %d times, last %s.", n, agoIn(ps.Asked[n-1], today)))
	}
	switch {
	case ps.LastDone > 0 && len(ps.Asked) == 0:
		says = append(says, "Last practised, with bars around it, "+agoIn(ps.LastDone, today)+".")
	case ps.LastDone > 0:
		says = append(says, "Last practised apart from the whole "+agoIn(ps.LastDone, today)+".")
	case len(ps.Asked) > 0:
		says = append(says, "No practice apart from the whole was tapped.")
	}
	switch n := len(ps.Heard); n {
	case 0:
		if len(ps.Rated) == 0 {
			says = append(says, "Not heard yet.")
		}
	case 1:
		says = append(says, "Heard in 1 recording, "+agoIn(calendar.Of(ps.Heard[0].At), today)+".")
	default:
		says = append(says, fmt.Sprintf("Heard in %d recordings, the last of them %s.", n, agoIn(calendar.Of(ps.Heard[n-1].At), today)))
	}
	if s := ratedSays(ps.Rated, today); s != "" {
		says = append(says, s)
	}
	return strings.Join(says, " ")
}

// aboutGroup are things that remarks can be about.
type aboutGroup struct {
	Title string
	Of    []choice
}

// How the form names what remarks are to be about: a work, or its bars, or a skill.
const (
	aboutSkill = "skill"
	aboutSplit = "|"
)

func aboutPassage(w studio.WorkID, ps studio.RememberedPassage) string {
	return strings.Join([]string{string(w), ps.From, ps.To}, aboutSplit)
}

// aboutWhat reads it.
func aboutWhat(of string) (studio.SaidQuery, string) {
	part := strings.SplitN(of, aboutSplit, 3)
	switch {
	case part[0] == aboutSkill && len(part) > 1:
		return studio.SaidQuery{Skill: strings.Join(part[1:], aboutSplit)}, of
	case len(part) == 3:
		return studio.SaidQuery{Work: studio.WorkID(part[0]), FromBar: part[1], ToBar: part[2]}, of
	}
	return studio.SaidQuery{Work: studio.WorkID(of)}, of
}

// about lists what remarks can be about.
func about(m studio.Memory, of string) []aboutGroup {
	works, known := aboutGroup{Title: "Works and their passages"}, aboutGroup{Title: "Skills"}
	add := func(g *aboutGroup, value, say string) { g.Of = append(g.Of, choice{value, say, value == of}) }
	for _, it := range m.Items {
		add(&works, string(it.Work.ID), it.Work.Title)
		for _, ps := range it.Passages {
			add(&works, aboutPassage(it.Work.ID, ps), it.Work.Title+", "+ps.Name())
		}
	}
	for _, s := range m.Skills {
		if value := aboutSkill + aboutSplit + s.Name; s.Remarks > 0 || value == of {
			add(&known, value, s.Name)
		}
	}
	var out []aboutGroup
	for _, g := range []aboutGroup{works, known} {
		if len(g.Of) > 0 {
			out = append(out, g)
		}
	}
	return out
}
