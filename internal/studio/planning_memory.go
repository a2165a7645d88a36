package studio

import (
	"cmp"
	"context"
	"slices"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
)

// Memory is all that is remembered of one student: when each thing was asked, practised and heard, how it went, and what
// was said. Things are works with their passages, and skills.
type Memory struct {
	Student  Student
	Items    []Remembered // what was met last stands first
	Skills   []RememberedSkill
	Progress []plan.Collection
	Learnt   map[string]bool // works, by id
	Said     []SaidOnce      // the newest first, those that were looked for
	Lessons  int             // that were sent
	First    string          // day of the first of them
	Today    calendar.Day
	Rest     bool // something hurts: nothing is to be asked of the hands
}

// Remembered is one work.
type Remembered struct {
	Work      Work
	Kind      plan.Kind
	Stage     plan.Stage
	Asked     []calendar.Day
	Heard     []HeardOnce   // with a hearing, the oldest first, at the studio's time
	Rated     []plan.Played // by the teacher's own ear, the oldest first
	Practised []PractisedDay
	LastAsked calendar.Day // 0 never, as the two below
	LastHeard calendar.Day
	LastDone  calendar.Day
	Left      float64 // chance that it is still there; below 0 where it is being learnt, or let rest
	Remarks   int
	GoalBpm   float64
	Passages  []RememberedPassage // in the order of the score
}

// RememberedPassage is a stretch of a work with a memory of its own.
type RememberedPassage struct {
	plan.Passage
	plan.PassageState
	Named    string        // by the teacher, in the library; "" not
	Heard    []WentThere   // the oldest first
	Rated    []plan.Played // by the teacher's own ear, the oldest first
	LastDone calendar.Day
	Says     string // how it stands, one sentence; "" where there is nothing to say
}

// WentThere is a hearing of a passage, and how it went.
type WentThere struct {
	HeardThere
	Rating memory.Rating
}

// Memory tells what is remembered of a student.
func (d *Desk) Memory(ctx context.Context, v Viewer, id StudentID, q SaidQuery) (Memory, error) {
	if err := v.must(itsThePlan, Teacher); err != nil {
		return Memory{}, err
	}
	m, err := d.memory(ctx, v, id, q)
	return m, problemOf(err)
}

func (d *Desk) memory(ctx context.Context, v Viewer, id StudentID, q SaidQuery) (Memory, error) {
	p, err := d.planning(ctx, d.store, v.scope(), id)
	if err != nil {
		return Memory{}, err
	}
	pl, err := p.planner()
	if err != nil {
		return Memory{}, err
	}
	m := Memory{Student: p.students[id], Learnt: map[string]bool{}, Today: p.today}
	st, h := p.state.Student(string(id)), &p.history
	m.Rest = pl.HandsRest(st)
	m.Items = p.remembered(pl, st, h)
	if err := d.nameThem(ctx, v, p, m.Items); err != nil {
		return Memory{}, err
	}
	meant, err := d.meant(ctx, v)
	if err != nil {
		return Memory{}, err
	}
	m.Skills = p.rememberedSkills(pl, st, h, meant)
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
		if p.finds(q, r, h, meant) {
			m.Said = append(m.Said, r)
		}
	}
	return m, nil
}

func (p *planning) remembered(pl *plan.Planner, st *plan.Student, h *History) []Remembered {
	at := map[WorkID]*Remembered{}
	pace := pl.Pace(st)
	kind := map[string]plan.Kind{}
	for _, w := range p.state.Works {
		kind[w.ID] = cmp.Or(w.Kind, plan.Piece)
	}
	out := make([]Remembered, len(st.Items))
	for i := range st.Items {
		it := &st.Items[i]
		r := &out[i]
		*r = Remembered{Work: p.works[WorkID(it.Work)], Kind: kind[it.Work], Stage: it.Stage, Asked: it.Asked, GoalBpm: it.GoalBpm, Left: -1}
		at[r.Work.ID] = r
		if it.Stage == plan.Kept {
			r.Left = pl.Left(st, it.Work)
		}
		for _, x := range it.Played {
			if x.Rating > 0 {
				r.Rated = append(r.Rated, x)
			}
		}
		for _, a := range it.Asked {
			r.LastAsked = max(r.LastAsked, a)
		}
		r.Passages = p.rememberedPassages(pl, it, pace)
	}
	for _, x := range h.Heard {
		if r := at[x.Work]; r != nil {
			r.LastHeard = max(r.LastHeard, p.day(x.At))
			if x.At = x.At.In(p.zone); x.Summary != nil {
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

func (p *planning) rememberedPassages(pl *plan.Planner, it *plan.Item, pace memory.Pace) []RememberedPassage {
	var out []RememberedPassage
	found := p.places[WorkID(it.Work)]
	for i := range it.Passages {
		ps := &it.Passages[i]
		r := RememberedPassage{Passage: *ps, PassageState: pl.PassageState(it, ps, pace)}
		r.Says = pl.PassageWords(it, ps, r.PassageState)
		heard := 0
		for _, x := range ps.Played {
			switch {
			case x.Rating > 0:
				r.Rated = append(r.Rated, x)
				continue
			case x.Heard == nil:
				r.LastDone = max(r.LastDone, x.Day)
				continue
			}
			r.Heard = append(r.Heard, WentThere{found[i].Heard[heard], it.Went(ps, x)})
			heard++
		}
		out = append(out, r)
	}
	return out
}

// nameThem gives passages the names that the teacher gave them in the library.
func (d *Desk) nameThem(ctx context.Context, v Viewer, p *planning, items []Remembered) error {
	for i := range items {
		it := &items[i]
		if len(it.Passages) == 0 {
			continue
		}
		named, err := d.store.Passages(ctx, v.Studio, it.Work.ID)
		if err != nil {
			return err
		}
		bars := p.barsOf(it.Work.ID, p.history.Heard)
		for k := range it.Passages {
			ps := &it.Passages[k]
			mine, _ := bars.stretch(ps.From, ps.To)
			for _, n := range named {
				if s, ok := bars.stretch(n.FromBar, n.ToBar); ok && plan.SamePlace(s, mine) {
					ps.Named = n.Name
				}
			}
		}
	}
	return nil
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
