package plan

import (
	"fmt"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strings"
	"time"

	"antiphon/internal/compare"
	plans "antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// memoryPage is what is remembered of a student.
type memoryPage struct {
	ID, Name     string
	Says         string
	Done         string   // what was just kept
	Look         []lookAt // what stands out
	Key          bool     // there are rows of dots
	Parts        []part   // works, then exercises
	Skills       []skillView
	Unmet        []skillView // that only stand before something
	Ways         []progressView
	Words, Since string
	About        []aboutGroup
	Asked        bool // something was looked for
	Found        string
	None         string // where nothing was found
	Said         []saidView
	More         int
}

// lookAt leads to what stands out.
type lookAt struct{ At, Title, Say string }

// standsOut gathers what is weak inside works, and skills that nothing needed for long.
func standsOut(ps []part, skills []skillView) (out []lookAt) {
	for _, p := range ps {
		for _, it := range p.Items {
			for _, x := range it.Passages {
				if x.Tell != "" {
					out = append(out, lookAt{x.ID, it.Title, x.Tell})
				}
			}
		}
	}
	for _, s := range skills {
		if s.Silent != "" {
			out = append(out, lookAt{s.ID, s.Name, s.Silent})
		}
	}
	return out
}

// dotted says that a passage or a skill was heard, so that it has a row of dots.
func dotted(ps []part, skills []skillView) bool {
	return slices.ContainsFunc(skills, func(s skillView) bool { return s.Strip != "" }) || slices.ContainsFunc(ps, func(p part) bool {
		return slices.ContainsFunc(slices.Concat(p.Items, p.Rested), func(it rememberedView) bool {
			return slices.ContainsFunc(slices.Concat(it.Passages, it.Well), func(x passageView) bool { return x.Strip != "" })
		})
	})
}

// part is one kind of things that are played.
type part struct {
	ID, Title string
	Items     []rememberedView
	Rested    []rememberedView
}

type rememberedView struct {
	Work, Title string
	Stage       string
	Says        string
	Curves      []curve
	Rows        []heardRow
	Recordings  string
	Older       int // recordings that have no row
	Remarks     string
	Passages    []passageView
	Well        []passageView // those to which nothing is to be seen
}

type curve struct {
	Title string
	SVG   template.HTML
}

// heardRow is one take in numbers, or with Said one day as the teacher heard it.
type heardRow struct{ Take, Day, Bpm, Steady, Right, Stops, Said string }

type progressView struct {
	Title, Says string
	Steps       []choice // On: learnt
}

type saidView struct{ Take, Remark, Text, Where, Title, Day string }

// saidShown at once.
const saidShown = 40

func (p *pages) memory(w http.ResponseWriter, r *http.Request) error { // GET /students/{student}/memory?words=…&since=DAY&of=WORK
	q, of := aboutWhat(r.FormValue("of"))
	q.Words = strings.TrimSpace(r.FormValue("words"))
	d := memoryPage{Done: doneWords[r.FormValue("done")], Words: q.Words, Since: strings.TrimSpace(r.FormValue("since"))}
	now := p.f.Now()
	if d.Since != "" {
		t, err := time.ParseInLocation(time.DateOnly, d.Since, now.Location())
		if err != nil {
			return &studio.Problem{Kind: studio.Invalid, Say: "A day is written like 2026-03-01.", Err: err}
		}
		q.Since = t
	}
	m, err := p.desk.Memory(r.Context(), page.Viewer(r), studio.StudentID(r.PathValue("student")), q)
	if err != nil {
		return err
	}
	d.ID, d.Name, d.Asked = string(m.Student.ID), m.Student.Name, q != studio.SaidQuery{}
	if first, err := calendar.Read(m.First); err == nil {
		d.Says = fmt.Sprintf("%s since %s.", plural(m.Lessons, "lesson"), dayIn(first, m.Today))
	}
	titles := map[studio.WorkID]string{}
	for _, it := range m.Items {
		titles[it.Work.ID] = it.Work.Title
	}
	d.Parts = parts(m)
	d.About = about(m, of)
	d.Skills, d.Unmet = skillsOf(m, titles)
	d.Look, d.Key = standsOut(d.Parts, d.Skills), dotted(d.Parts, d.Skills)
	for _, c := range m.Progress {
		x := progressView{Title: c.Title}
		learnt := 0
		for _, w := range c.Works {
			if m.Learnt[w] {
				learnt++
			}
			x.Steps = append(x.Steps, choice{w, titles[studio.WorkID(w)], m.Learnt[w]})
		}
		x.Says = fmt.Sprintf("%d of %d learnt", learnt, len(c.Works))
		d.Ways = append(d.Ways, x)
	}
	if err := p.nameSteps(r, d.Ways); err != nil {
		return err
	}
	d.Found, d.None = plural(len(m.Said), "remark"), "Nothing was said about it in that time."
	if q.Words != "" {
		d.None = "No remark has all of these words in that time."
	}
	for i, s := range m.Said {
		if i == saidShown {
			d.More = len(m.Said) - saidShown
			break
		}
		d.Said = append(d.Said, saidOf(s, titles, now))
	}
	return p.Render(w, r, "memory.html", page.View{Title: "All about " + d.Name, Here: "students", Wide: true, Data: d})
}

// parts sets exercises apart from works: they are many, short, and looked at for another reason.
func parts(m studio.Memory) []part {
	out := []part{{ID: "items", Title: "Works"}, {ID: "exercises", Title: "Exercises"}}
	for _, it := range m.Items {
		at := &out[0]
		if it.Kind == plans.Exercise || it.Kind == plans.Technique {
			at = &out[1]
		}
		if x := remembered(it, m.Rest, m.Today); it.Stage == plans.Rested {
			at.Rested = append(at.Rested, x)
		} else {
			at.Items = append(at.Items, x)
		}
	}
	if len(out[1].Items)+len(out[1].Rested) == 0 {
		return out[:1]
	}
	return out
}

// nameSteps gives works that the student never met their titles.
func (p *pages) nameSteps(r *http.Request, ways []progressView) error {
	if len(ways) == 0 {
		return nil
	}
	works, err := p.desk.Works(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	title := map[string]string{}
	for _, w := range works {
		title[string(w.ID)] = w.Title
	}
	for _, way := range ways {
		for i := range way.Steps {
			way.Steps[i].Title = title[way.Steps[i].ID]
		}
	}
	return nil
}

func saidOf(s studio.SaidOnce, titles map[studio.WorkID]string, now time.Time) saidView {
	x := saidView{Take: string(s.Take), Remark: string(s.Remark), Text: s.Text, Title: titles[s.Work], Day: page.Day(s.At, now)}
	if x.Text == "" {
		x.Text = "Said aloud"
	}
	if s.Bar != "" {
		x.Where = "bar " + s.Bar
	}
	return x
}

func remembered(it studio.Remembered, rest bool, today calendar.Day) rememberedView {
	x := rememberedView{Work: string(it.Work.ID), Title: it.Work.Title, Stage: stages[it.Stage]}
	if it.Stage == plans.Kept {
		x.Stage += ", " + studio.Held(it.Left)
	}
	says := []string{"asked " + agoIn(it.LastAsked, today), "practised " + agoIn(it.LastDone, today), "heard " + agoIn(it.LastHeard, today)}
	if it.LastDone == 0 {
		says[1] = "no practice tapped"
	}
	if it.LastHeard == 0 {
		says[2] = "no recording"
	}
	if it.LastAsked == 0 {
		says[0] = "never asked in a lesson"
	}
	x.Says = "Last " + strings.Join(says, ", ") + "."
	if it.LastAsked == 0 {
		x.Says = capital(strings.Join(says, ", ")) + "."
	}
	if it.Remarks > 0 {
		x.Remarks = plural(it.Remarks, "remark")
	}
	for i := range it.Passages {
		if ps := passageOf(it, i, rest, today); ps.Well {
			x.Well = append(x.Well, ps)
		} else {
			x.Passages = append(x.Passages, ps)
		}
	}
	var points []compare.Point
	var rows []dated
	for _, h := range it.Heard {
		share := -1.0
		if h.Summary.Notes > 0 {
			share = h.Summary.RightShare
		}
		points = append(points, compare.Point{Day: h.At, Bpm: h.Summary.Bpm, SteadinessPct: h.Summary.SteadinessPct, RightShare: share})
		row := rowOf(h.Take, h.At, h.Summary.Bpm, share)
		if h.Summary.SteadinessPct > 0 {
			row.Steady = fmt.Sprintf("within %.0f %%", h.Summary.SteadinessPct)
		}
		if row.Bpm == "" && share < 0 {
			row.Right = "nothing heard of it"
		}
		rows = append(rows, dated{calendar.Of(h.At), row})
	}
	for _, r := range it.Rated {
		rows = append(rows, ratedRow(r))
	}
	if s := ratedSays(it.Rated, today); s != "" {
		x.Says += " " + s
	}
	x.Rows = inDays(rows)
	x.Recordings, x.Curves = "How it went", curves(points, it.GoalBpm)
	if n := len(it.Heard); n > 0 {
		x.Recordings = plural(n, "recording") + " in numbers"
	}
	x.Older, x.Rows = max(len(x.Rows)-rowsShown, 0), newestOf(x.Rows, rowsShown)
	return x
}

// How much of many years is shown at once, the newest of it.
const (
	rowsShown  = 40
	marksDrawn = 60
)

func newestOf[T any](all []T, most int) []T { return all[max(len(all)-most, 0):] }

// rowOf is one take in numbers; share of the notes below 0: not known.
func rowOf(take studio.TakeID, at time.Time, bpm, share float64) heardRow {
	row := heardRow{Take: string(take), Day: at.Format("2 Jan 2006")}
	if bpm > 0 {
		row.Bpm = fmt.Sprintf("%.0f", bpm)
	}
	if share >= 0 {
		row.Right = fmt.Sprintf("%.0f %%", math.Floor(100*share+1e-9))
	}
	return row
}

// curves of tempo and of notes as written, where there is more than one take.
func curves(points []compare.Point, goal float64) (out []curve) {
	for _, one := range []struct {
		measure compare.Measure
		title   string
	}{{compare.TempoPlot, "Tempo, quarter notes a minute"}, {compare.RightPlot, "Notes as written, percent"}} {
		if plot := compare.Series(one.measure, points, goal); plot.SVG != "" {
			out = append(out, curve{one.title, template.HTML(plot.SVG)}) // drawn by us; compare escapes its words
		}
	}
	return out
}
