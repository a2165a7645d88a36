package studio

import (
	"context"
	"slices"

	"antiphon/internal/plan"
)

// AskPassage puts a passage that is remembered into the student's draft, or into a new one of today, behind what stands
// there: only these bars, at the tempo that was last asked for them. What is asked there already is not asked twice.
func (d *Desk) AskPassage(ctx context.Context, v Viewer, id StudentID, w WorkID, from, to string) (Lesson, error) {
	if err := v.must(itsThePlan, Teacher); err != nil {
		return Lesson{}, err
	}
	p, it, ps, err := d.passageOf(ctx, d.store, v, id, w, from, to)
	if err != nil {
		return Lesson{}, problemOf(err)
	}
	pl, err := p.planner()
	if err != nil {
		return Lesson{}, problemOf(err)
	}
	if pl.HandsRest(p.state.Student(string(id))) {
		return Lesson{}, &Problem{Kind: Conflict, Say: "Something hurt lately, so the hands rest. Say on the plan's page when they may play again."}
	}
	l, err := d.draftOf(ctx, v, id)
	if err != nil {
		return Lesson{}, err
	}
	if slices.ContainsFunc(l.Assignments, func(a Assignment) bool { return a.Work == w && a.FromBar == from && a.ToBar == to }) {
		return l, nil
	}
	code, err := spokenIn(ctx, d.store, OneFamily(p.students[id].Studio, p.students[id].Family), "")
	if err != nil {
		return Lesson{}, problemOf(err)
	}
	a := Assignment{Work: w, FromBar: from, ToBar: to, Do: linesIn(code).bars}
	if a.Goals.TempoBpm = ps.GoalBpm; a.Goals.TempoBpm == 0 {
		a.Goals.TempoBpm = it.GoalBpm
	}
	l.Assignments = append(l.Assignments, a)
	return d.SaveDraft(ctx, v, l)
}

// passageOf finds a passage that is remembered of a work of a student, named by its bars.
func (d *Desk) passageOf(ctx context.Context, r Records, v Viewer, id StudentID, w WorkID, from, to string) (*planning, *plan.Item, *plan.Passage, error) {
	p, err := d.planning(ctx, r, v.scope(), id)
	if err != nil {
		return nil, nil, nil, err
	}
	st := p.state.Student(string(id))
	for i := range st.Items {
		it := &st.Items[i]
		k := slices.IndexFunc(it.Passages, func(ps plan.Passage) bool { return ps.From == from && ps.To == to })
		if it.Work == string(w) && k >= 0 {
			return p, it, &it.Passages[k], nil
		}
	}
	return nil, nil, nil, &Problem{Kind: NotFound, Say: "These bars are not remembered by themselves any more. Look at the page again."}
}
