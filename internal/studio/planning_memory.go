package studio

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
)

// Memory is all that is remembered of one student: when each thing was asked, practised and heard, how it went, and what
// was said.
type Memory struct {
	Student  Student
	Items    []Remembered // what was met last stands first
	Progress []plan.Collection
	Learnt   map[string]bool // works, by id
	Said     []SaidOnce      // the newest first, those that were looked for
	Lessons  int             // that were sent
	First    string          // day of the first of them
	Today    calendar.Day
}

// Remembered is one work.
type Remembered struct {
	Work      Work
	Stage     plan.Stage
	Asked     []calendar.Day
	Heard     []HeardOnce // with a hearing, the oldest first
	Practised []PractisedDay
	LastAsked calendar.Day // 0 never, as the two below
	LastHeard calendar.Day
	LastDone  calendar.Day
	Left      float64 // chance that it is still there; below 0 where it is being learnt, or let rest
	Remarks   int
	GoalBpm   float64
}

// SaidQuery looks for remarks. The zero value asks for all.
type SaidQuery struct {
	Words string    // all of them, in any order, small or capital
	Work  WorkID    // "" any
	Since time.Time // said then or later
}

// Memory tells what is remembered of a student.
func (d *Desk) Memory(ctx context.Context, v Viewer, id StudentID, q SaidQuery) (Memory, error) {
	if err := v.must(itsThePlan, Teacher); err != nil {
		return Memory{}, err
	}
	p, err := d.planning(ctx, d.store, v.scope(), id)
	if err != nil {
		return Memory{}, problemOf(err)
	}
	pl, err := p.planner()
	if err != nil {
		return Memory{}, problemOf(err)
	}
	h, err := d.store.History(ctx, v.scope(), id, time.Time{}, time.Time{}, d.east())
	if err != nil {
		return Memory{}, problemOf(err)
	}
	m := Memory{Student: p.students[id], Learnt: map[string]bool{}, Today: p.today}
	st := p.state.Student(string(id))
	m.Items = p.remembered(pl, st, h)
	for _, it := range st.Items {
		m.Learnt[it.Work] = it.Stage != plan.Learning
	}
	for _, c := range p.state.Collections {
		if slices.ContainsFunc(c.Works, func(w string) bool { _, met := m.Learnt[w]; return met }) {
			m.Progress = append(m.Progress, c)
		}
	}
	lessons := map[LessonID]bool{}
	for _, a := range h.Asked {
		if m.First == "" {
			m.First = a.Day
		}
		lessons[a.Lesson] = true
	}
	m.Lessons = len(lessons)
	for _, r := range slices.Backward(h.Said) {
		if q.finds(r) {
			m.Said = append(m.Said, r)
		}
	}
	return m, nil
}

// finds says that a remark is one of those looked for.
func (q SaidQuery) finds(r SaidOnce) bool {
	if r.At.Before(q.Since) || q.Work != "" && r.Work != q.Work {
		return false
	}
	text := fold(r.Text)
	for _, w := range strings.Fields(fold(q.Words)) {
		if !strings.Contains(text, w) {
			return false
		}
	}
	return true
}

func (p *planning) remembered(pl *plan.Planner, st *plan.Student, h History) []Remembered {
	at := map[WorkID]*Remembered{}
	var out []Remembered
	for _, it := range st.Items {
		out = append(out, Remembered{Work: p.works[WorkID(it.Work)], Stage: it.Stage, Asked: it.Asked, GoalBpm: it.GoalBpm, Left: -1})
	}
	for i := range out {
		at[out[i].Work.ID] = &out[i]
		if it := st.Items[i]; it.Stage == plan.Kept {
			out[i].Left = pl.Left(st, it.Work)
		}
		for _, a := range out[i].Asked {
			out[i].LastAsked = max(out[i].LastAsked, a)
		}
	}
	for _, x := range h.Heard {
		if r := at[x.Work]; r != nil {
			r.LastHeard = max(r.LastHeard, p.day(x.At))
			if x.Summary != nil {
				r.Heard = append(r.Heard, x)
			}
		}
	}
	for _, x := range h.Practised {
		if r := at[x.Work]; r != nil {
			r.Practised, r.LastDone = append(r.Practised, x), max(r.LastDone, x.Day)
		}
	}
	for _, x := range h.Said {
		if r := at[x.Work]; r != nil {
			r.Remarks++
		}
	}
	slices.SortStableFunc(out, func(a, b Remembered) int {
		return cmp.Compare(max(b.LastAsked, b.LastHeard, b.LastDone), max(a.LastAsked, a.LastHeard, a.LastDone))
	})
	return out
}

// Held says in four steps how likely something is still there, in words of no school: see memory.UsualTarget.
func Held(left float64) string {
	switch {
	case left >= memory.UsualTarget:
		return "likely still there"
	case left >= 0.7:
		return "beginning to slip"
	case left >= 0.5:
		return "slipping"
	}
	return "will need work again"
}
