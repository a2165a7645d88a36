package studio

import (
	"context"
	"slices"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
)

// PlanSettings is what the teacher settles for a student's plans.
type PlanSettings struct {
	Minutes    [7]int
	MostNew    int
	Collection CollectionID
	Holidays   calendar.Free
	Limits     []plan.OwnLimit // of groups, where this student's differ from the studio's
	Recital    *plan.Recital
	Known      []string
	Without    []string
}

// SettlePlan keeps the settings.
func (d *Desk) SettlePlan(ctx context.Context, v Viewer, id StudentID, s PlanSettings) (PlanView, error) {
	for _, m := range s.Minutes {
		if m < 0 || m > mostPlanMinutes {
			return PlanView{}, invalid("A day has 0 to %d minutes.", mostPlanMinutes)
		}
	}
	if s.MostNew < 0 || s.MostNew > 2 {
		return PlanView{}, invalid("New things in a week: none, one or two.")
	}
	if err := spans(s.Holidays); err != nil {
		return PlanView{}, err
	}
	if err := ownLimits(s.Limits); err != nil {
		return PlanView{}, err
	}
	for _, list := range []*[]string{&s.Known, &s.Without} {
		for i, x := range *list {
			(*list)[i] = named(x, longestName)
		}
		if len(*list) > 60 {
			return PlanView{}, invalid("That is more skills than a plan holds.")
		}
	}
	return d.changePlan(ctx, v, id, func(tx Records, sp *StudentPlan) error {
		if s.Recital != nil {
			for _, w := range s.Recital.Works {
				if _, err := tx.Work(ctx, v.Studio, WorkID(w)); err != nil {
					return err
				}
			}
		}
		sp.Minutes, sp.MostNew, sp.Collection, sp.Holidays, sp.Limits = s.Minutes, &s.MostNew, s.Collection, s.Holidays, s.Limits
		sp.Recital, sp.Known, sp.Without = s.Recital, s.Known, s.Without
		return nil
	})
}

func ownLimits(all []plan.OwnLimit) error {
	seen := map[string]bool{}
	for i := range all {
		l := &all[i]
		switch l.Group = named(l.Group, longestName); {
		case l.Group == "" || seen[l.Group] || len(all) > mostGroups:
			return invalid("Each group has one limit.")
		case l.Lifted && l.LimitDays != 0:
			return invalid("Either there is no limit for %s, or one of some days.", l.Group)
		case !l.Lifted && (l.LimitDays < leastLimit || l.LimitDays > mostLimit):
			return invalid("The limit of %s is between %d and %d days.", l.Group, leastLimit, mostLimit)
		}
		seen[l.Group] = true
	}
	return nil
}

func spans(all calendar.Free) error {
	if len(all) > mostPlanSpans {
		return invalid("That is more than %d holidays. Take out those that are over.", mostPlanSpans)
	}
	for i := range all {
		h := &all[i]
		if h.Name = named(h.Name, longestName); h.From == 0 || h.To < h.From || h.To-h.From > 400 {
			return invalid("A holiday has a first and a last day, such as 2026-12-21 and 2027-01-03.")
		}
	}
	return nil
}

// TryOut keeps what a new student showed and said.
func (d *Desk) TryOut(ctx context.Context, v Viewer, id StudentID, t plan.Trial) (PlanView, error) {
	for _, x := range t.Takes {
		if x.Rating < 1 || x.Rating > 4 {
			return PlanView{}, invalid("Say of each work in one of the four ways how it went.")
		}
	}
	if !(t.Years >= 0 && t.Years <= 90) {
		return PlanView{}, invalid("Years of playing are 0 to 90.")
	}
	return d.changePlan(ctx, v, id, func(tx Records, sp *StudentPlan) error {
		for _, x := range t.Takes {
			if _, err := tx.Work(ctx, v.Studio, WorkID(x.Work)); err != nil {
				return err
			}
		}
		sp.Trial = &t
		return nil
	})
}

// SettleStudio keeps the studio's holidays and the groups with a limit.
func (d *Desk) SettleStudio(ctx context.Context, v Viewer, holidays calendar.Free, groups []plan.Group) error {
	if err := v.must(itsThePlan, Teacher); err != nil {
		return err
	}
	if err := spans(holidays); err != nil {
		return err
	}
	if len(groups) > mostGroups {
		return invalid("That is more than %d groups.", mostGroups)
	}
	seen := map[string]bool{}
	for i := range groups {
		g := &groups[i]
		g.Name = named(g.Name, longestName)
		switch {
		case g.Name == "" || seen[g.Name]:
			return invalid("Each group needs a name of its own, such as scales.")
		case g.LimitDays < leastLimit || g.LimitDays > mostLimit:
			return invalid("The limit of %s is between %d and %d days.", g.Name, leastLimit, mostLimit)
		}
		seen[g.Name] = true
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		sp, err := tx.StudioPlan(ctx, v.Studio)
		if err != nil {
			return err
		}
		sp.Holidays, sp.Groups = holidays, groups
		return tx.PutStudioPlan(ctx, sp)
	}))
}

// WorkInPlans is what plans know of a work.
type WorkInPlans struct {
	Work   Work
	Demand *Demand
	Says   WorkSays
	Groups []plan.Group
	Pieces []Work   // that it may serve
	Skills []string // of this library
}

// WorkPlan shows what plans know of a work.
func (d *Desk) WorkPlan(ctx context.Context, v Viewer, id WorkID) (WorkInPlans, error) {
	if err := v.must(itsThePlan, Teacher); err != nil {
		return WorkInPlans{}, err
	}
	w, err := d.store.Work(ctx, v.Studio, id)
	if err != nil {
		return WorkInPlans{}, problemOf(err)
	}
	out := WorkInPlans{Work: w}
	sp, err := d.store.StudioPlan(ctx, v.Studio)
	if err != nil {
		return out, problemOf(err)
	}
	out.Groups = sp.Groups
	all, err := d.store.WorkPlans(ctx, v.Studio)
	if err != nil {
		return out, problemOf(err)
	}
	of := map[WorkID]WorkPlan{}
	names := map[string]bool{}
	for _, x := range all {
		of[x.Work] = x
		if x.Demand != nil {
			for _, s := range x.Demand.Skills {
				names[s] = true
			}
		}
		for _, s := range append(slices.Clone(x.Says.Needs), x.Says.Builds...) {
			names[s] = true
		}
	}
	for s := range names {
		out.Skills = append(out.Skills, s)
	}
	slices.Sort(out.Skills)
	out.Demand, out.Says = of[id].Demand, of[id].Says
	works, err := d.store.Works(ctx, v.Studio)
	if err != nil {
		return out, problemOf(err)
	}
	for _, x := range works {
		if x.ID != id && !x.Exercise && of[x.ID].Says.For == "" && string(x.ID) != string(v.Studio) {
			out.Pieces = append(out.Pieces, x)
		}
	}
	return out, nil
}

// SayOfWork keeps what the teacher says of a work in plans.
func (d *Desk) SayOfWork(ctx context.Context, v Viewer, id WorkID, s WorkSays) error {
	if err := v.must(itsThePlan, Teacher); err != nil {
		return err
	}
	switch {
	case s.Kind != "" && !slices.Contains([]plan.Kind{plan.Piece, plan.Exercise, plan.Technique, plan.Listening}, s.Kind):
		return invalid("A work is a piece, an exercise, a technique or something to listen to.")
	case s.Minutes < 0 || s.Minutes > 120:
		return invalid("One sitting has 1 to 120 minutes.")
	case !(s.Load >= 0 && s.Load <= 20):
		return invalid("How much a work asks is a number such as 0.5 or 2, where 1 is the usual.")
	case len(s.Needs) > 30 || len(s.Builds) > 30:
		return invalid("That is more skills than one work has.")
	}
	for _, list := range []*[]string{&s.Needs, &s.Builds} {
		for i := range *list {
			(*list)[i] = named((*list)[i], longestName)
		}
		*list = slices.DeleteFunc(*list, func(name string) bool { return name == "" })
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		for _, w := range []WorkID{id, s.For} {
			if w == "" {
				continue
			}
			if _, err := tx.Work(ctx, v.Studio, w); err != nil {
				return err
			}
		}
		return tx.PutWorkSays(ctx, v.Studio, id, s)
	}))
}
