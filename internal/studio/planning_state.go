package studio

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
)

// How a history is read. Our choices, no source.
const (
	lessonsWithout = 2   // lessons that no longer ask for a work, after which it counts as learnt
	restedDays     = 365 // without being asked or played, after which it is let rest
	mostItems      = 120 // of one student; the latest
	mostWeeksBack  = 156
	studioBackDays = 400 // for questions about all students at once
	tapsBackDays   = 150 // the same for taps, of which there are most
	mostHeardSkill = 12
	usualMinutes   = 15 // a day from Monday to Saturday, where nobody said how many there are (customary from seven to eleven, no source)
)

// planning is all that plans of some students are made from.
type planning struct {
	state    *plan.Studio
	found    StudioPlan
	works    map[WorkID]Work
	demands  map[WorkID]*Demand
	says     map[WorkID]WorkSays
	students map[StudentID]Student
	plans    map[StudentID]StudentPlan
	bars     map[WorkID]*scoreBars
	uses     map[WorkID][]string    // skills that a work needs, builds, or asks in its score
	places   map[WorkID][]passageOf // of the one student that was asked for; nil where all were
	history  History                // that all this is made from
	unread   int                    // scores that nobody worked out yet
	today    calendar.Day
	zone     *time.Location
}

// planner has read it.
func (p *planning) planner() (*plan.Planner, error) {
	if err := p.state.Check(); err != nil {
		return nil, fmt.Errorf("the state of the studio: %w", err)
	}
	return plan.New(p.state)
}

// east is how many seconds the studio lies east of Greenwich today.
func (d *Desk) east() int {
	_, s := d.now().In(d.o.Zone).Zone()
	return s
}

func (d *Desk) today() calendar.Day { return calendar.Of(d.now().In(d.o.Zone)) }

// planning gathers what is known of one student, or with "" of all.
func (d *Desk) planning(ctx context.Context, r Records, in Scope, who StudentID) (*planning, error) {
	p := &planning{works: map[WorkID]Work{}, demands: map[WorkID]*Demand{}, says: map[WorkID]WorkSays{},
		students: map[StudentID]Student{}, plans: map[StudentID]StudentPlan{}, bars: map[WorkID]*scoreBars{}, uses: map[WorkID][]string{}, today: d.today(), zone: d.o.Zone}
	if who != "" {
		p.places = map[WorkID][]passageOf{}
	}
	var (
		since     time.Time
		tapsSince time.Time
		works     []Work
		workPlans []WorkPlan
		own       []OwnDemand
		shelves   []Collection
		families  []Family
		students  []Student
		forecasts []Forecast
	)
	if who == "" {
		since, tapsSince = d.now().AddDate(0, 0, -studioBackDays), d.now().AddDate(0, 0, -tapsBackDays)
	}
	st := in.Studio()
	for _, ask := range []func() error{
		func() (err error) { p.found, err = r.StudioPlan(ctx, st); return },
		func() (err error) { works, err = r.Works(ctx, st); return },
		func() (err error) { workPlans, err = r.WorkPlans(ctx, st); return },
		func() (err error) {
			if who != "" {
				own, err = r.OwnDemands(ctx, in, who)
			}
			return err
		},
		func() (err error) { shelves, err = r.Collections(ctx, st); return },
		func() (err error) { families, err = r.Families(ctx, in); return },
		func() (err error) {
			if who == "" {
				students, err = r.Students(ctx, in)
				return err
			}
			s, err := r.Student(ctx, in, who)
			students = []Student{s}
			return err
		},
		func() (err error) {
			if who == "" {
				var all []StudentPlan
				all, err = r.StudentPlans(ctx, in)
				for _, sp := range all {
					p.plans[sp.Student] = sp
				}
				return err
			}
			sp, err := r.StudentPlan(ctx, in, who)
			p.plans[who] = sp
			return err
		},
		func() (err error) { p.history, err = r.History(ctx, in, who, since, tapsSince, d.east()); return },
		func() (err error) { forecasts, err = r.Forecasts(ctx, in, ""); return },
	} {
		if err := ask(); err != nil {
			return nil, err
		}
	}
	p.state = &plan.Studio{Schema: plan.Schema, Today: p.today, Holidays: p.found.Holidays, Groups: p.found.Groups, Found: p.found.Found}
	p.shelf(works, workPlans, own, shelves)
	home := map[FamilyID]string{}
	for _, f := range families {
		home[f.ID] = "Family " + f.Name
	}
	of := p.history.apart()
	for _, s := range students {
		p.students[s.ID] = s
		p.state.Students = append(p.state.Students, p.student(s, home[s.Family], of[s.ID], shelves))
	}
	for _, f := range forecasts {
		p.state.Forecasts = append(p.state.Forecasts, p.earlier(f))
	}
	return p, nil
}

// apart gives each student's own.
func (h History) apart() map[StudentID]*History {
	out := map[StudentID]*History{}
	of := func(s StudentID) *History {
		if out[s] == nil {
			out[s] = &History{}
		}
		return out[s]
	}
	for _, x := range h.Asked {
		of(x.Student).Asked = append(of(x.Student).Asked, x)
	}
	for _, x := range h.Heard {
		of(x.Student).Heard = append(of(x.Student).Heard, x)
	}
	for _, x := range h.Practised {
		of(x.Student).Practised = append(of(x.Student).Practised, x)
	}
	for _, x := range h.Said {
		of(x.Student).Said = append(of(x.Student).Said, x)
	}
	return out
}

// earlier is a forecast as the planner judges it.
func (p *planning) earlier(f Forecast) plan.Earlier {
	e := plan.Earlier{Student: string(f.Student), Weeks: f.Said.Weeks, Raw: f.Said.Model, Missed: f.Said.Missed}
	day, err := calendar.Read(f.Day)
	if err != nil {
		return e
	}
	e.Since = float64(p.found.Holidays.TeachingWeeks(day, p.today))
	if came, err := calendar.Read(f.Came); err == nil {
		e.Came = max(float64(p.found.Holidays.TeachingWeeks(day, came)), 0.5)
	}
	return e
}

// shelf lists the works with what they need, and the collections. Of the one student that was asked for own says what is
// asked of its hands where it has fingers of its own; until that is known the studio's fingering counts. Where all were
// asked for works are the same for everybody.
func (p *planning) shelf(works []Work, workPlans []WorkPlan, own []OwnDemand, shelves []Collection) {
	for _, w := range workPlans {
		p.demands[w.Work], p.says[w.Work] = w.Demand, w.Says
	}
	var loads, bars []float64
	for _, w := range works {
		p.works[w.ID] = w
		if dm := p.demands[w.ID]; dm != nil && dm.Load > 0 {
			loads, bars = append(loads, dm.Load), append(bars, float64(dm.Bars))
		}
	}
	usualLoad, usualBars := middle(loads), middle(bars)
	for _, o := range own {
		if o.Demand == nil {
			p.unread++
		} else if p.demands[o.Work] != nil {
			p.demands[o.Work] = o.Demand
		}
	}
	groups := map[string]bool{}
	for _, g := range p.found.Groups {
		groups[g.Name] = true
	}
	after := afterEach(shelves, p.works)
	built := p.built(works)
	for _, w := range works {
		if string(w.ID) == string(w.Studio) {
			continue // where assignments of no work stand
		}
		says, dm := p.says[w.ID], p.demands[w.ID]
		x := plan.Work{ID: string(w.ID), Title: w.Title, Kind: says.Kind, Minutes: says.Minutes, Load: says.Load, Joy: says.Joy, Strain: says.Strain}
		if x.Kind == "" && w.Exercise {
			x.Kind = plan.Exercise
		}
		if groups[says.Group] {
			x.Group = says.Group
		}
		if of := p.says[says.For]; says.For != w.ID && of.For == "" {
			if _, there := p.works[says.For]; there {
				x.For = string(says.For)
			}
		}
		if dm != nil {
			if x.Load == 0 && dm.Load > 0 { // how hard and how long, each against the usual of this library
				x.Load = math.Sqrt(dm.Load / usualLoad * max(float64(dm.Bars)/max(usualBars, 1), 0.1))
			}
			if x.Kind == plan.Exercise || x.Kind == plan.Technique {
				x.Builds, x.Strain = dm.Skills, x.Strain || dm.Strain
			} else if x.Kind != plan.Listening {
				x.Needs = slices.DeleteFunc(slices.Clone(dm.Skills), func(n string) bool { return !built[n] })
			}
		} else if w.Exercise || says.Kind != plan.Listening {
			p.unread++
		}
		if turned := p.found.Loads[w.ID]; turned > 0 && says.Load == 0 {
			x.Load = turned
		}
		x.Load = min(x.Load, 20)
		if says.Skills {
			x.Needs, x.Builds = says.Needs, says.Builds
			p.uses[w.ID] = slices.Compact(slices.Sorted(slices.Values(append(slices.Clone(says.Needs), says.Builds...))))
		} else if dm != nil && x.Kind != plan.Listening {
			p.uses[w.ID] = dm.Skills
		}
		for _, a := range after[w.ID] {
			x.After = append(x.After, string(a))
		}
		p.state.Works = append(p.state.Works, x)
	}
	for _, c := range shelves {
		x := plan.Collection{ID: string(c.ID), Title: c.Name}
		for _, it := range c.Items {
			if _, there := p.works[it.Work]; there {
				x.Works = append(x.Works, string(it.Work))
			}
		}
		p.state.Collections = append(p.state.Collections, x)
	}
}

// built are the skills that something in the library is there to build. What nothing builds is learnt in the pieces that ask
// for it, and stands before none.
func (p *planning) built(works []Work) map[string]bool {
	out := map[string]bool{}
	for _, w := range works {
		says, dm := p.says[w.ID], p.demands[w.ID]
		switch {
		case says.Skills:
			for _, b := range says.Builds {
				out[b] = true
			}
		case dm != nil && (w.Exercise && says.Kind == "" || says.Kind == plan.Exercise || says.Kind == plan.Technique):
			for _, b := range dm.Skills {
				out[b] = true
			}
		}
	}
	return out
}

func middle(all []float64) float64 {
	if len(all) == 0 {
		return 1
	}
	all = slices.Sorted(slices.Values(all))
	return all[len(all)/2]
}

// afterEach puts together what comes before what in all collections. Where two of them disagree, the first one holds.
func afterEach(shelves []Collection, works map[WorkID]Work) map[WorkID][]WorkID {
	after := map[WorkID][]WorkID{}
	var before func(w, x WorkID) bool // w comes after x, near or far
	before = func(w, x WorkID) bool {
		return slices.ContainsFunc(after[w], func(a WorkID) bool { return a == x || before(a, x) })
	}
	for _, c := range shelves {
		for _, it := range c.Items {
			for _, a := range it.After {
				_, there := works[a]
				if there && a != it.Work && !slices.Contains(after[it.Work], a) && !before(a, it.Work) {
					after[it.Work] = append(after[it.Work], a)
				}
			}
		}
	}
	return after
}

// student puts together what is known of one.
func (p *planning) student(s Student, family string, h *History, shelves []Collection) plan.Student {
	if h == nil {
		h = &History{}
	}
	sp := p.plans[s.ID]
	st := plan.Student{ID: string(s.ID), Name: s.Name, Family: family, Minutes: sp.Minutes, MostNew: sp.MostNew, Holidays: sp.Holidays,
		FreeFrom: sp.HandsFree, Choices: p.choices(sp), Without: sp.Without, Collection: string(p.collection(sp, h, shelves))}
	if sp.Minutes == [7]int{} {
		st.Minutes = [7]int{usualMinutes, usualMinutes, usualMinutes, usualMinutes, usualMinutes, usualMinutes, 0}
	}
	st.Limits = slices.DeleteFunc(slices.Clone(sp.Limits), func(l plan.OwnLimit) bool { // of groups that there still are
		return !slices.ContainsFunc(p.found.Groups, func(g plan.Group) bool { return g.Name == l.Group })
	})
	laid := p.laid(h)
	st.Items = p.items(sp, h, laid)
	st.Skills = p.skills(sp, h, laid)
	st.Weeks = p.weeks(st.Holidays, h)
	for _, x := range h.Heard {
		if x.Hurt {
			st.Hurts = append(st.Hurts, plan.Hurt{Day: p.day(x.At), Level: 1})
		}
	}
	for _, w := range sp.Wishes {
		if w, ok := p.wish(w); ok {
			st.Wishes = append(st.Wishes, w)
		}
	}
	if sp.Recital != nil && sp.Recital.Day >= p.today {
		r := plan.Recital{Day: sp.Recital.Day, Works: slices.DeleteFunc(slices.Clone(sp.Recital.Works), p.gone)}
		st.Recital = &r
	}
	if t := sp.Trial; t != nil {
		x := *t
		x.Takes = slices.DeleteFunc(slices.Clone(t.Takes), func(y plan.TrialTake) bool { return p.gone(y.Work) })
		st.Trial = &x
	}
	return st
}

func (p *planning) day(t time.Time) calendar.Day { return calendar.Of(t.In(p.zone)) }

func (p *planning) gone(w string) bool {
	_, there := p.works[WorkID(w)]
	return !there
}

func (p *planning) choices(sp StudentPlan) []plan.Choice {
	return slices.DeleteFunc(slices.Clone(sp.Choices), func(c plan.Choice) bool { return p.gone(c.Work) })
}

// wish as it holds today.
func (p *planning) wish(w PlanWish) (plan.Wish, bool) {
	if w.Until < p.today || p.gone(w.Work) {
		return plan.Wish{}, false
	}
	out := w.Wish
	out.On = slices.DeleteFunc(slices.Clone(w.On), func(d calendar.Day) bool { return d < p.today || d >= p.today+7 })
	return out, len(out.On) > 0 || len(w.On) == 0
}

// collection that a student goes through: as the teacher said, else the one of which most was asked.
func (p *planning) collection(sp StudentPlan, h *History, shelves []Collection) CollectionID {
	asked := map[WorkID]bool{}
	for _, a := range h.Asked {
		asked[a.Work] = true
	}
	best, most := CollectionID(""), 0
	for _, c := range shelves {
		if c.ID == sp.Collection {
			return c.ID
		}
		n := 0
		for _, it := range c.Items {
			if asked[it.Work] {
				n++
			}
		}
		if n > most {
			best, most = c.ID, n
		}
	}
	return best
}

// weeks of teaching up to today, the oldest first: whether a recording came, and the minutes where they were counted.
func (p *planning) weeks(own calendar.Free, h *History) []plan.Week {
	free := append(slices.Clip(p.found.Holidays), own...)
	first := p.today // before the first lesson and the first recording nobody waited for anything
	if len(h.Asked) > 0 {
		if day, err := calendar.Read(h.Asked[0].Day); err == nil {
			first = min(first, day)
		}
	}
	came := map[int]bool{} // by week, counted back from today
	back := func(d calendar.Day) int { return int(p.today-1-d) / 7 }
	for _, x := range h.Heard {
		if d := p.day(x.At); d < p.today {
			first = min(first, d)
			came[back(d)] = true
		}
	}
	minutes, counted := map[int]float64{}, -1
	for _, x := range h.Practised {
		if x.Seconds > 0 && x.Day < p.today {
			minutes[back(x.Day)] += x.Seconds / 60
			counted = max(counted, back(x.Day))
		}
	}
	var out []plan.Week
	for k := min(int(p.today-first)/7, mostWeeksBack) - 1; k >= 0; k-- {
		if !free.Teaching(p.today - calendar.Day(7*k+7)) {
			continue
		}
		w := plan.Week{Came: came[k]}
		if k <= counted {
			m := minutes[k]
			w.Minutes = &m
		}
		out = append(out, w)
	}
	return out
}
