package plan

import (
	"slices"

	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/forecast"
	"antiphon/internal/plan/warn"
)

// Ahead is what is likely to come for one student.
type Ahead struct {
	Student    string               `json:"student"`
	Name       string               `json:"name"`
	Collection string               `json:"collection,omitempty"`
	Left       []string             `json:"left,omitempty"`  // titles
	Half       *forecast.Range      `json:"half,omitempty"`  // with a chance of one half
	Most       *forecast.Range      `json:"most,omitempty"`  // with a chance of four in five
	Open       bool                 `json:"open,omitempty"`  // the end lies beyond ten years
	Weeks      *[5]float64          `json:"weeks,omitempty"` // teaching weeks at 10, 25, 50, 75 and 90 %: to be kept as an Earlier
	Raw        *[5]float64          `json:"model,omitempty"`
	Missed     float64              `json:"missed,omitempty"`
	Reasons    []string             `json:"reasons,omitempty"`
	Stages     []forecast.Milestone `json:"recital,omitempty"`
	StageWords string               `json:"recital_words,omitempty"`
}

// Outlook is that of a studio.
type Outlook struct {
	Students []Ahead        `json:"students"`
	Earlier  forecast.Score `json:"-"`
	Score    string         `json:"earlier"` // how good earlier forecasts were
}

// seed of the forecasts' chance: the same state has the same forecast.
const seed = 20261128

// past of a student for a forecast.
func (p *Planner) past(st *Student) forecast.Past {
	var out forecast.Past
	for _, w := range st.Weeks {
		out.Came = append(out.Came, w.Came)
	}
	today, holidays := p.studio.Today, p.free(st)
	var done []*Item
	for i := range st.Items {
		it := &st.Items[i]
		w := p.works[it.Work]
		if (w.Kind == Piece || w.Kind == "") && it.Stage != Learning && it.Finished != 0 && it.Begun != 0 && it.Finished <= today {
			done = append(done, it)
		}
	}
	slices.SortStableFunc(done, func(a, b *Item) int { return int(a.Finished - b.Finished) })
	came := p.cameIn(st)
	from := calendar.Day(0)
	for _, it := range done {
		// Works that were learnt side by side share their weeks: each week counts for the first of them.
		weeks, own := came(max(it.Begun, from), it.Finished)
		switch {
		case weeks == 0: // nothing came meanwhile, and yet it was learnt
			own = 0.5
		case own == 0 && it.Begun == it.Finished: // asked once, beside others: nobody knows what it took
			continue
		}
		out.Done = append(out.Done, forecast.Step{Load: p.works[it.Work].load(), Weeks: own, Ago: float64(holidays.TeachingWeeks(it.Finished, today))})
		from = it.Finished
	}
	if now := p.now(st); now != nil && now.Begun != 0 {
		_, own := came(max(now.Begun, from), today)
		out.Now = forecast.Step{Load: p.works[now.Work].load(), Weeks: own}
	}
	return out
}

// now is the piece that is being learnt for longest.
func (p *Planner) now(st *Student) *Item {
	var out *Item
	for i := range st.Items {
		it := &st.Items[i]
		if w := p.works[it.Work]; it.Stage == Learning && (w.Kind == Piece || w.Kind == "") && (out == nil || it.Begun < out.Begun) {
			out = it
		}
	}
	return out
}

// cameIn counts weeks with a recording between two days: all of them, and those that were not counted before. Weeks are known
// for as far back as the list goes; before that every teaching week counts.
func (p *Planner) cameIn(st *Student) func(from, to calendar.Day) (all, fresh float64) {
	holidays := p.free(st)
	var starts []calendar.Day // of the teaching weeks, the newest first, ending today
	for d := p.studio.Today - 7; len(starts) < len(st.Weeks) && d > p.studio.Today-10*366; d -= 7 {
		if holidays.Teaching(d) {
			starts = append(starts, d)
		}
	}
	counted := make([]bool, len(starts))
	return func(from, to calendar.Day) (all, fresh float64) {
		oldest := p.studio.Today
		for i, s := range starts {
			oldest = s
			if st.Weeks[len(st.Weeks)-1-i].Came && s+7 > from && s < to {
				if all++; !counted[i] {
					fresh++
				}
				counted[i] = true
			}
		}
		if from < oldest {
			before := float64(holidays.TeachingWeeks(from, min(oldest, to)))
			all, fresh = all+before, fresh+before
		}
		return all, fresh
	}
}

// records of earlier forecasts.
func (p *Planner) records() []forecast.Record {
	var out []forecast.Record
	for _, f := range p.studio.Forecasts {
		out = append(out, forecast.Record{Low80: f.Weeks[0], Low50: f.Weeks[1], Middle: f.Weeks[2], High50: f.Weeks[3], High80: f.Weeks[4], Since: f.Since, Came: f.Came, Raw: f.Raw, Missed: f.Missed})
	}
	return out
}

// Forecast looks ahead for every student who goes through a collection or has a recital.
func (p *Planner) Forecast() Outlook {
	records, found := p.records(), p.found()
	o := Outlook{Earlier: forecast.Judge(records), Students: []Ahead{}}
	o.Score = o.Earlier.Words
	for i := range p.studio.Students {
		if a, ok := p.ahead(&p.studio.Students[i], found.Forecast, records); ok {
			o.Students = append(o.Students, a)
		}
	}
	return o
}

// ahead looks ahead for one student; false where there is neither a collection nor a recital.
func (p *Planner) ahead(st *Student, studio forecast.Studio, records []forecast.Record) (Ahead, bool) {
	past := p.past(st)
	q := forecast.Question{Student: past, Studio: studio, From: p.studio.Today, Free: p.free(st), Width: forecast.LearnWidth(records, past.Missed()), Seed: seed}
	a := Ahead{Student: st.ID, Name: st.Name}
	k := slices.IndexFunc(p.studio.Collections, func(c Collection) bool { return c.ID == st.Collection })
	if k >= 0 {
		p.finish(&a, st, q, &p.studio.Collections[k])
	}
	if r := st.Recital; r != nil && r.Day > p.studio.Today {
		p.stage(&a, st, q)
	}
	return a, k >= 0 || a.StageWords != ""
}

// left are the works of a list that are not learnt, the one being learnt first.
func (p *Planner) left(st *Student, works []string) []string {
	stage := map[string]Stage{}
	for i := range st.Items {
		stage[st.Items[i].Work] = st.Items[i].Stage
	}
	var now, then []string
	for _, id := range works {
		switch stage[id] {
		case Learning:
			now = append(now, id)
		case "":
			then = append(then, id)
		}
	}
	return append(now, then...)
}

func (p *Planner) finish(a *Ahead, st *Student, q forecast.Question, c *Collection) {
	if a.Collection = c.Title; a.Collection == "" {
		a.Collection = c.ID
	}
	for _, id := range p.left(st, c.Works) {
		q.Left = append(q.Left, p.works[id].load())
		a.Left = append(a.Left, p.shelf.Title(id))
	}
	p.from(&q, st, c.Works)
	got := forecast.Finish(q)
	a.Half, a.Most, a.Open, a.Reasons = &got.Half, &got.Most, got.Open, got.Reasons
	a.Raw, a.Missed = got.Raw, got.Missed
	r := forecast.RecordOf(got, 0, 0)
	a.Weeks = &[5]float64{r.Low80, r.Low50, r.Middle, r.High50, r.High80}
}

// from drops what is being learnt now where it is none of the works asked about.
func (p *Planner) from(q *forecast.Question, st *Student, works []string) {
	if now := p.now(st); now == nil || !slices.Contains(works, now.Work) {
		q.Student.Now = forecast.Step{}
	}
}

// stage plans backwards from a recital. What is at its goal already needs no more learning for it.
func (p *Planner) stage(a *Ahead, st *Student, q forecast.Question) {
	s := forecast.Stage{Question: q, On: st.Recital.Day}
	s.Left = nil
	var left []string
	for _, id := range p.left(st, st.Recital.Works) {
		it := itemOf(st, id)
		if it != nil && it.atGoal() {
			continue
		}
		if it != nil {
			s.Begun++
		}
		left = append(left, id)
		s.Left, s.Titles = append(s.Left, p.works[id].load()), append(s.Titles, p.shelf.Title(id))
	}
	p.from(&s.Question, st, left)
	b := forecast.Back(s)
	a.Stages, a.StageWords = b.Milestones, b.Words
}

// itemOf is what a student has of a work; nil for nothing.
func itemOf(st *Student, work string) *Item {
	for i := range st.Items {
		if st.Items[i].Work == work {
			return &st.Items[i]
		}
	}
	return nil
}

// Notice is an early word to the teacher.
type Notice struct {
	Student string  `json:"student"`
	Chance  float64 `json:"chance,omitempty"` // that nothing comes in the next three teaching weeks
	Say     string  `json:"say"`
	Try     string  `json:"try"`
}

// Notices lists families that are going quiet, the likeliest first, and then students who are stuck.
func (p *Planner) Notices() []Notice {
	m := p.found().Quiet
	quiet, stuck := []Notice{}, []Notice{}
	for i := range p.studio.Students {
		st := &p.studio.Students[i]
		family := st.Family
		if family == "" {
			family = st.Name + "'s family"
		}
		if n, ok := m.Family(family, weeksOf(st)); ok {
			quiet = append(quiet, Notice{st.ID, n.Chance, n.Say, n.Try})
		}
		for _, n := range warn.Stuck(p.threads(st)) {
			stuck = append(stuck, Notice{st.ID, 0, st.Name + ", " + n.Say, n.Try})
		}
	}
	slices.SortStableFunc(quiet, func(a, b Notice) int {
		switch {
		case a.Chance > b.Chance:
			return -1
		case a.Chance < b.Chance:
			return 1
		}
		return 0
	})
	return append(quiet, stuck...)
}

func weeksOf(st *Student) (out []warn.Week) {
	for _, w := range st.Weeks {
		x := warn.Week{Came: w.Came, Minutes: -1}
		if w.Minutes != nil {
			x.Minutes = *w.Minutes
		}
		out = append(out, x)
	}
	return out
}

// threads of what a student is learning.
func (p *Planner) threads(st *Student) (out []warn.Thread) {
	for i := range st.Items {
		it := &st.Items[i]
		if it.Stage != Learning {
			continue
		}
		t := warn.Thread{Title: p.shelf.Title(it.Work), Asked: it.Asked, Played: len(it.Played), GoalBpm: it.GoalBpm}
		for _, r := range it.Remarks {
			t.Remarks = append(t.Remarks, warn.Remark{Day: r.Day, Key: r.Key, Text: r.Text})
		}
		for _, x := range it.Played {
			t.Practice = t.Practice || x.Heard == nil
			if x.Bpm > 0 {
				t.Heard = append(t.Heard, warn.Heard{Day: x.Day, Bpm: x.Bpm})
			}
		}
		out = append(out, t)
	}
	return out
}
