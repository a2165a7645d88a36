package studio

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
	"antiphon/internal/plan/place"
	"antiphon/internal/plan/skills"
)

const itsThePlan = "Plans are the teacher's."

// PlanView is a student's plan with all that stands beside it.
type PlanView struct {
	Student Student
	Week    *plan.Weekly
	Slips   []plan.Slip
	Ways    []WayTo     // to the next works of the collection
	Ahead   *plan.Ahead // nil where nothing is gone through
	Score   string      // how good earlier forecasts were
	Notices []plan.Notice
	Place   *place.Place // of a new student who was tried
	State   plan.Student // as the plan saw the student
	Says    StudentPlan
	Studio  StudioPlan
	Titles  map[string]string // of works, by id
	Shelves []plan.Collection
	Skills  []string // that works of this library need, sorted
	Unread  int      // scores that were not worked out yet
	Guessed bool     // nobody said how many minutes there are
	Today   calendar.Day
}

// WayTo is a work that comes, and what stands between.
type WayTo struct {
	Work    string
	Title   string
	Missing []string // in words; none: the student is ready
	Way     skills.Way
	Instead []string // titles, where these hands do without something
}

// waysShown are the next works of a collection that are looked at.
const waysShown = 3

// PlanOf proposes the coming week of a student.
func (d *Desk) PlanOf(ctx context.Context, v Viewer, id StudentID) (PlanView, error) {
	if err := v.must(itsThePlan, Teacher); err != nil {
		return PlanView{}, err
	}
	p, err := d.planning(ctx, d.store, v.scope(), id)
	if err != nil {
		return PlanView{}, problemOf(err)
	}
	if p.unread > 0 && d.now().Sub(p.found.Wanted) >= wantAgain {
		if err := d.wantDemands(ctx, v); err != nil {
			return PlanView{}, problemOf(err)
		}
	}
	view, err := p.view(id)
	return view, problemOf(err)
}

func (p *planning) view(id StudentID) (PlanView, error) {
	pl, err := p.planner()
	if err != nil {
		return PlanView{}, err
	}
	st := p.state.Student(string(id))
	v := PlanView{Student: p.students[id], Says: p.plans[id], Studio: p.found, State: *st, Unread: p.unread, Today: p.today,
		Titles: map[string]string{}, Shelves: p.state.Collections}
	v.Guessed = v.Says.Minutes == [7]int{}
	if v.Week, err = pl.Week(st); err != nil {
		return PlanView{}, err
	}
	v.Slips = pl.Slipping(st)
	o := pl.Forecast()
	v.Score = o.Score
	if len(o.Students) > 0 {
		v.Ahead = &o.Students[0]
	}
	v.Notices = pl.Notices()
	if st.Trial != nil {
		at, _ := pl.Place(st)
		v.Place = &at
	}
	needed := map[string]bool{}
	for _, w := range p.state.Works {
		v.Titles[w.ID] = w.Title
		for _, n := range w.Needs {
			needed[n] = true
		}
	}
	for n := range needed {
		v.Skills = append(v.Skills, n)
	}
	slices.Sort(v.Skills)
	v.Ways, err = p.ways(pl, st)
	return v, err
}

// ways to the next works of the collection that nobody began.
func (p *planning) ways(pl *plan.Planner, st *plan.Student) (out []WayTo, err error) {
	i := slices.IndexFunc(p.state.Collections, func(c plan.Collection) bool { return c.ID == st.Collection })
	if i < 0 {
		return nil, nil
	}
	known := pl.Skills(st)
	title := func(id string) string { return p.works[WorkID(id)].Title }
	for _, id := range p.state.Collections[i].Works {
		if len(out) == waysShown || slices.ContainsFunc(st.Items, func(it plan.Item) bool { return it.Work == id }) {
			continue
		}
		w := p.state.Works[slices.IndexFunc(p.state.Works, func(w plan.Work) bool { return w.ID == id })]
		to := WayTo{Work: id, Title: w.Title, Missing: skills.Missing(skills.Work{ID: id, Needs: w.Needs, After: w.After}, known, title)}
		if len(to.Missing) > 0 {
			if to.Way, err = pl.Way(st, id); err != nil {
				return nil, err
			}
		}
		if len(to.Way.Closed) > 0 {
			for _, other := range pl.Instead(st, id) {
				if to.Instead = append(to.Instead, title(other.ID)); len(to.Instead) == 3 {
					break
				}
			}
		}
		out = append(out, to)
	}
	return out, nil
}

// StudioLook is what the whole studio asks for.
type StudioLook struct {
	Slips    []plan.Slip // the most urgent first
	Notices  []plan.Notice
	Students map[string]Student
	Studio   StudioPlan
	Unread   int
	Today    calendar.Day
}

// SlippingAll looks at all students at once: what is slipping away, and where a word may help. It reads a little over a
// year of history.
func (d *Desk) SlippingAll(ctx context.Context, v Viewer) (StudioLook, error) {
	if err := v.must(itsThePlan, Teacher); err != nil {
		return StudioLook{}, err
	}
	p, err := d.planning(ctx, d.store, v.scope(), "")
	if err != nil {
		return StudioLook{}, problemOf(err)
	}
	pl, err := p.planner()
	if err != nil {
		return StudioLook{}, problemOf(err)
	}
	look := StudioLook{Slips: pl.AllSlipping(), Notices: pl.Notices(), Students: map[string]Student{}, Studio: p.found, Unread: p.unread, Today: p.today}
	for id, s := range p.students {
		look.Students[string(id)] = s
	}
	return look, nil
}

// AllPlans proposes the coming week of every student, and looks ahead: for a terminal.
func (d *Desk) AllPlans(ctx context.Context, v Viewer) (*plan.Studio, error) {
	if err := v.must(itsThePlan, Teacher, Ear); err != nil {
		return nil, err
	}
	p, err := d.planning(ctx, d.store, v.scope(), "")
	if err != nil {
		return nil, problemOf(err)
	}
	return p.state, problemOf(p.state.Check())
}

// Limits of what a teacher may say about plans.
const (
	choicesKept     = 200 // remembered of one student
	mostPlanMinutes = 300
	mostPlanSpans   = 60
	mostGroups      = 30
	leastLimit      = 2
	mostLimit       = 400
	wishDays        = 6 // after today
)

// changePlan changes what is said about a student's plan and solves it again.
func (d *Desk) changePlan(ctx context.Context, v Viewer, id StudentID, change func(tx Records, sp *StudentPlan) error) (PlanView, error) {
	if err := v.must(itsThePlan, Teacher); err != nil {
		return PlanView{}, err
	}
	var view PlanView
	err := d.store.Within(ctx, func(tx Records) error {
		sp, err := tx.StudentPlan(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		if err := change(tx, &sp); err != nil {
			return err
		}
		sp.Wishes = slices.DeleteFunc(sp.Wishes, func(w PlanWish) bool { return w.Until < d.today() })
		sp.Choices = sp.Choices[max(len(sp.Choices)-choicesKept, 0):]
		if err := tx.PutStudentPlan(ctx, sp); err != nil {
			return err
		}
		p, err := d.planning(ctx, tx, v.scope(), id)
		if err != nil {
			return err
		}
		view, err = p.view(id)
		return err
	})
	if errors.Is(err, plan.ErrState) {
		return PlanView{}, &Problem{Invalid, "This cannot be planned: " + err.Error() + ".", err}
	}
	return view, problemOf(err)
}

// wish keeps a wish in place of an older one for the same work, and what it says about what the teacher prefers.
func (d *Desk) wish(ctx context.Context, v Viewer, id StudentID, w WorkID, wish plan.Wish, stayed bool) (PlanView, error) {
	return d.changePlan(ctx, v, id, func(tx Records, sp *StudentPlan) error {
		if _, err := tx.Work(ctx, v.Studio, w); err != nil {
			return err
		}
		wish.Work = string(w)
		until := d.today() + wishDays
		for _, on := range wish.On {
			if on < d.today() || on > until {
				return invalid("A plan is for the seven days from today on.")
			}
		}
		sp.Wishes = slices.DeleteFunc(sp.Wishes, func(x PlanWish) bool { return x.Work == wish.Work })
		sp.Wishes = append(sp.Wishes, PlanWish{wish, until})
		sp.Choices = append(sp.Choices, plan.Choice{Work: wish.Work, Stayed: stayed})
		return nil
	})
}

// Pin wants a work in the coming week: on these days, or with none wherever the plan likes.
func (d *Desk) Pin(ctx context.Context, v Viewer, id StudentID, w WorkID, on ...calendar.Day) (PlanView, error) {
	return d.wish(ctx, v, id, w, plan.Wish{On: on}, true)
}

// Forbid leaves a work out of the coming week.
func (d *Desk) Forbid(ctx context.Context, v Viewer, id StudentID, w WorkID) (PlanView, error) {
	return d.wish(ctx, v, id, w, plan.Wish{Forbid: true}, false)
}

// Move puts a work from one day on another, and leaves its other days as they are.
func (d *Desk) Move(ctx context.Context, v Viewer, id StudentID, w WorkID, from, to calendar.Day) (PlanView, error) {
	now, err := d.PlanOf(ctx, v, id)
	if err != nil {
		return PlanView{}, err
	}
	i := slices.IndexFunc(now.Week.Lines, func(l plan.Line) bool { return l.Work == string(w) })
	if i < 0 || !slices.Contains(now.Week.Lines[i].Days, from) {
		return PlanView{}, &Problem{Kind: Conflict, Say: "The plan has changed meanwhile. Look at it again."}
	}
	var on []calendar.Day
	for _, x := range now.Week.Lines[i].Days {
		if x == from {
			x = to
		}
		if !slices.Contains(on, x) {
			on = append(on, x)
		}
	}
	slices.Sort(on)
	return d.Pin(ctx, v, id, w, on...)
}

// LetPlan takes a wish back: the plan decides again.
func (d *Desk) LetPlan(ctx context.Context, v Viewer, id StudentID, w WorkID) (PlanView, error) {
	return d.changePlan(ctx, v, id, func(_ Records, sp *StudentPlan) error {
		sp.Wishes = slices.DeleteFunc(sp.Wishes, func(x PlanWish) bool { return x.Work == string(w) })
		return nil
	})
}

// SetStage says whether a work is being learnt, kept, or let rest; "" leaves it to what was asked and heard.
func (d *Desk) SetStage(ctx context.Context, v Viewer, id StudentID, w WorkID, stage plan.Stage) (PlanView, error) {
	if stage != "" && !slices.Contains([]plan.Stage{plan.Learning, plan.Kept, plan.Rested}, stage) {
		return PlanView{}, invalid("A work is learnt, kept or let rest.")
	}
	return d.changePlan(ctx, v, id, func(tx Records, sp *StudentPlan) error {
		if _, err := tx.Work(ctx, v.Studio, w); err != nil {
			return err
		}
		says := sp.Items[w]
		if stage != plan.Learning && says.Stage != stage {
			says.Finished = d.today()
		}
		if says.Stage = stage; stage == plan.Learning || stage == "" {
			says.Finished = 0
		}
		sp.keep(w, says)
		return nil
	})
}

func (sp *StudentPlan) keep(w WorkID, says ItemSays) {
	if sp.Items == nil {
		sp.Items = map[WorkID]ItemSays{}
	}
	sp.Items[w] = says
}

// RateItem is the teacher's own ear: how a work went today, 1 broke down to 4 steady at its tempo.
func (d *Desk) RateItem(ctx context.Context, v Viewer, id StudentID, w WorkID, rating int) (PlanView, error) {
	if rating < int(memory.BrokeDown) || rating > int(memory.AtTempo) {
		return PlanView{}, invalid("Say in one of the four ways how it went.")
	}
	return d.changePlan(ctx, v, id, func(tx Records, sp *StudentPlan) error {
		if _, err := tx.Work(ctx, v.Studio, w); err != nil {
			return err
		}
		says := sp.Items[w]
		says.Rated = slices.DeleteFunc(says.Rated, func(x plan.Played) bool { return x.Day == d.today() })
		says.Rated = append(says.Rated, plan.Played{Day: d.today(), Rating: rating})
		sp.keep(w, says)
		return nil
	})
}

// HandsMayPlay says that hands which hurt may play again from today on.
func (d *Desk) HandsMayPlay(ctx context.Context, v Viewer, id StudentID) (PlanView, error) {
	return d.changePlan(ctx, v, id, func(_ Records, sp *StudentPlan) error { sp.HandsFree = d.today(); return nil })
}

// PlanSettings is what the teacher settles for a student's plans.
type PlanSettings struct {
	Minutes    [7]int
	MostNew    int
	Collection CollectionID
	Holidays   calendar.Free
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
		sp.Minutes, sp.MostNew, sp.Collection, sp.Holidays, sp.Recital, sp.Known, sp.Without = s.Minutes, &s.MostNew, s.Collection, s.Holidays, s.Recital, s.Known, s.Without
		return nil
	})
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
	for _, list := range [][]string{s.Needs, s.Builds} {
		for i := range list {
			list[i] = named(list[i], longestName)
		}
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
	took := map[string]bool{}
	for _, line := range now.Week.Lines {
		if len(works) > 0 && !slices.Contains(works, WorkID(line.Work)) {
			continue
		}
		took[line.Work] = true
		if !slices.ContainsFunc(l.Assignments, func(a Assignment) bool { return string(a.Work) == line.Work }) {
			l.Assignments = append(l.Assignments, now.assignment(line))
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

// assignment is a line as a lesson asks it. The teacher's reasons stay with the teacher.
func (v *PlanView) assignment(l plan.Line) Assignment {
	a := Assignment{Work: WorkID(l.Work), Minutes: l.Minutes}
	goal := 0.0
	for _, it := range v.State.Items {
		if it.Work == l.Work {
			goal = it.GoalBpm
		}
	}
	a.Goals.TempoBpm = goal
	when := dayNames(l.Days)
	switch l.Role {
	case plan.Keep, plan.Serve:
		a.Do = fmt.Sprintf("Once through on %s.", when)
		if l.Joy {
			a.Do = fmt.Sprintf("For joy, on %s.", when)
		}
	case plan.BringBack:
		a.Do = fmt.Sprintf("Bring it back: slowly at first, on %s.", when)
	case plan.Introduce:
		a.Do = fmt.Sprintf("New: the first line only, slowly, on %s.", when)
	case plan.Listen:
		a.Do = fmt.Sprintf("Only listen, on %s.", when)
	default:
		a.Do = fmt.Sprintf("On %s.", when)
	}
	if n := len(l.Rungs); n > 1 {
		a.Goals.FromBpm = l.Rungs[0]
		a.Ladder = Ladder{FromBpm: l.Rungs[0], ToBpm: l.Rungs[n-1], StepBpm: l.Rungs[1] - l.Rungs[0], Clean: 3}
		a.Goals.CleanRun = 3
	}
	return a
}

// dayNames are "Monday, Wednesday and Friday".
func dayNames(days []calendar.Day) string {
	out := ""
	for i, x := range days {
		switch {
		case i == 0:
		case i == len(days)-1:
			out += " and "
		default:
			out += ", "
		}
		out += x.Weekday().String()
	}
	if len(days) == 7 {
		return "every day"
	}
	return out
}
