package studio

import (
	"context"
	"slices"

	"antiphon/internal/plan"
)

// TakeIntoLesson puts lines of the plan into the student's draft, or into a new one of today, behind what stands there. What
// was taken and what was not is remembered. Without works it takes all lines.
func (d *Desk) TakeIntoLesson(ctx context.Context, v Viewer, id StudentID, works ...WorkID) (Lesson, error) {
	now, err := d.PlanOf(ctx, v, id)
	if err != nil {
		return Lesson{}, err
	}
	l, err := d.draftOf(ctx, v, id)
	if err != nil {
		return Lesson{}, err
	}
	who, err := d.store.Student(ctx, v.scope(), id)
	if err != nil {
		return Lesson{}, problemOf(err)
	}
	code, err := spokenIn(ctx, d.store, OneFamily(who.Studio, who.Family), "")
	if err != nil {
		return Lesson{}, problemOf(err)
	}
	words, took := linesIn(code), map[string]bool{}
	for _, line := range now.Week.Lines {
		if len(works) > 0 && !slices.Contains(works, WorkID(line.Work)) {
			continue
		}
		took[line.Work] = true
		if !slices.ContainsFunc(l.Assignments, func(a Assignment) bool {
			return string(a.Work) == line.Work && (line.From == "" || a.FromBar == line.From && a.ToBar == line.To || a.FromBar == "" && a.ToBar == "")
		}) {
			l.Assignments = append(l.Assignments, now.assignment(line, words))
		}
	}
	if len(took) == 0 {
		return Lesson{}, invalid("Choose what is to go into the lesson.")
	}
	if l, err = d.SaveDraft(ctx, v, l); err != nil {
		return Lesson{}, err
	}
	_, err = d.changePlan(ctx, v, id, func(_ Records, sp *StudentPlan) error {
		for _, line := range now.Week.Lines {
			sp.Choices = append(sp.Choices, plan.Choice{Work: line.Work, Stayed: took[line.Work]})
		}
		return nil
	})
	return l, err
}

// draftOf is the newest lesson of a student that was not sent, or a new one.
func (d *Desk) draftOf(ctx context.Context, v Viewer, id StudentID) (Lesson, error) {
	all, err := d.Lessons(ctx, v, LessonQuery{Student: id, Drafts: true, Limit: shortList})
	if err != nil {
		return Lesson{}, err
	}
	for _, l := range all {
		if l.Sent.IsZero() {
			return l, nil
		}
	}
	return Lesson{Student: id, Date: d.today().String()}, nil
}

// assignment is a line as a lesson asks it, in the family's words. The teacher's reasons stay with the teacher.
func (v *PlanView) assignment(l plan.Line, w lineWords) Assignment {
	a := Assignment{Work: WorkID(l.Work), FromBar: l.From, ToBar: l.To, Minutes: l.Minutes}
	goal := 0.0
	for _, it := range v.State.Items {
		if it.Work != l.Work {
			continue
		}
		goal = it.GoalBpm
		for _, ps := range it.Passages {
			if ps.From == l.From && ps.To == l.To && ps.GoalBpm > 0 {
				goal = ps.GoalBpm
			}
		}
	}
	a.Goals.TempoBpm = goal
	a.Do = w.say(l)
	if n := len(l.Rungs); n > 1 {
		a.Goals.FromBpm = l.Rungs[0]
		a.Ladder = Ladder{FromBpm: l.Rungs[0], ToBpm: l.Rungs[n-1], StepBpm: l.Rungs[1] - l.Rungs[0], Clean: 3}
		a.Goals.CleanRun = 3
	}
	return a
}
