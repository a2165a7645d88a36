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
	p, err := d.planning(ctx, d.store, v.scope(), id)
	if err != nil {
		return Lesson{}, problemOf(err)
	}
	pl, err := p.planner()
	if err != nil {
		return Lesson{}, problemOf(err)
	}
	st := p.state.Student(string(id))
	if pl.HandsRest(st) {
		return Lesson{}, &Problem{Kind: Conflict, Say: "Something hurt lately, so the hands rest. Say on the plan's page when they may play again."}
	}
	i := slices.IndexFunc(st.Items, func(it plan.Item) bool { return it.Work == string(w) })
	k := -1
	if i >= 0 {
		k = slices.IndexFunc(st.Items[i].Passages, func(ps plan.Passage) bool { return ps.From == from && ps.To == to })
	}
	if k < 0 {
		return Lesson{}, &Problem{Kind: NotFound, Say: "These bars are not remembered by themselves any more. Look at the page again."}
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
	if a.Goals.TempoBpm = st.Items[i].Passages[k].GoalBpm; a.Goals.TempoBpm == 0 {
		a.Goals.TempoBpm = st.Items[i].GoalBpm
	}
	l.Assignments = append(l.Assignments, a)
	return d.SaveDraft(ctx, v, l)
}
