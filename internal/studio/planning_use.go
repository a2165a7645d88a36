package studio

import (
	"context"
	"errors"
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

// AllPlans is all that the plans of every student are made from, checked: a terminal makes them of it.
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
	barsRated       = 200 // remembered of one work of a student
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
		return d.wishIn(ctx, tx, v, sp, w, wish, stayed)
	})
}

func (d *Desk) wishIn(ctx context.Context, tx Records, v Viewer, sp *StudentPlan, w WorkID, wish plan.Wish, stayed bool) error {
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
}

// Pin wants a work in the coming week: on these days, or with none wherever the plan likes. What is asked of it, all of it or
// some bars, stays as it is.
func (d *Desk) Pin(ctx context.Context, v Viewer, id StudentID, w WorkID, on ...calendar.Day) (PlanView, error) {
	return d.changePlan(ctx, v, id, func(tx Records, sp *StudentPlan) error {
		return d.wishIn(ctx, tx, v, sp, w, plan.Wish{On: on, Whole: sp.wantsWhole(w)}, true)
	})
}

// PinWhole wants all of a work in the coming week, where the plan would ask for some bars of it only.
func (d *Desk) PinWhole(ctx context.Context, v Viewer, id StudentID, w WorkID) (PlanView, error) {
	return d.wish(ctx, v, id, w, plan.Wish{Whole: true}, true)
}

func (sp *StudentPlan) wantsWhole(w WorkID) bool {
	return slices.ContainsFunc(sp.Wishes, func(x PlanWish) bool { return x.Work == string(w) && x.Whole })
}

// Forbid leaves a work out of the coming week.
func (d *Desk) Forbid(ctx context.Context, v Viewer, id StudentID, w WorkID) (PlanView, error) {
	return d.wish(ctx, v, id, w, plan.Wish{Forbid: true}, false)
}

// Move puts a work from one day on another, and leaves its other days as they are.
func (d *Desk) Move(ctx context.Context, v Viewer, id StudentID, w WorkID, from, to calendar.Day) (PlanView, error) {
	return d.changePlan(ctx, v, id, func(tx Records, sp *StudentPlan) error {
		p, err := d.planning(ctx, tx, v.scope(), id) // as it is now, whatever another window has moved
		if err != nil {
			return err
		}
		now, err := p.view(id)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(now.Week.Lines, func(l plan.Line) bool { return l.Work == string(w) })
		if i < 0 || !slices.Contains(now.Week.Lines[i].Days, from) {
			return &Problem{Kind: Conflict, Say: "The plan has changed meanwhile. Look at it again."}
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
		return d.wishIn(ctx, tx, v, sp, w, plan.Wish{On: on, Whole: sp.wantsWhole(w)}, true)
	})
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
	return d.rate(ctx, v, id, w, rating, func(_ Records, says *ItemSays, p plan.Played) error {
		says.Rated = slices.DeleteFunc(says.Rated, func(x plan.Played) bool { return x.Day == p.Day })
		says.Rated = append(says.Rated, p)
		return nil
	})
}

// RatePassage is the same of bars that are remembered by themselves.
func (d *Desk) RatePassage(ctx context.Context, v Viewer, id StudentID, w WorkID, from, to string, rating int) (PlanView, error) {
	return d.rate(ctx, v, id, w, rating, func(tx Records, says *ItemSays, p plan.Played) error {
		if _, _, _, err := d.passageOf(ctx, tx, v, id, w, from, to); err != nil {
			return err
		}
		says.Bars = slices.DeleteFunc(says.Bars, func(x RatedBars) bool { return x.Day == p.Day && x.From == from && x.To == to })
		says.Bars = append(says.Bars, RatedBars{from, to, p})
		says.Bars = says.Bars[max(len(says.Bars)-barsRated, 0):]
		return nil
	})
}

func (d *Desk) rate(ctx context.Context, v Viewer, id StudentID, w WorkID, rating int, put func(Records, *ItemSays, plan.Played) error) (PlanView, error) {
	if rating < int(memory.BrokeDown) || rating > int(memory.AtTempo) {
		return PlanView{}, invalid("Say in one of the four ways how it went.")
	}
	return d.changePlan(ctx, v, id, func(tx Records, sp *StudentPlan) error {
		if _, err := tx.Work(ctx, v.Studio, w); err != nil {
			return err
		}
		says := sp.Items[w]
		if err := put(tx, &says, plan.Played{Day: d.today(), Rating: rating}); err != nil {
			return err
		}
		sp.keep(w, says)
		return nil
	})
}

// HandsMayPlay says that hands which hurt may play again from today on.
func (d *Desk) HandsMayPlay(ctx context.Context, v Viewer, id StudentID) (PlanView, error) {
	return d.changePlan(ctx, v, id, func(_ Records, sp *StudentPlan) error { sp.HandsFree = d.today(); return nil })
}
