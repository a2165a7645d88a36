package studio

import (
	"context"
	"slices"
	"time"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
	"antiphon/internal/plan/place"
)

// JobDemands has the worker look at the scores that nobody looked at since they changed.
const JobDemands JobKind = "demands"

// How often the worker looks, and how much at once. Our choices.
const (
	wantAgain     = 10 * time.Minute
	lookEvery     = 20 * time.Hour // once a day, whenever the day's round is made
	forecastEvery = 28             // days between two forecasts of a student that are kept
	demandsAtOnce = 50
	enoughMet     = 30  // steady playings before they say what works really ask
	inTime        = 1.5 // times the usual weeks, within which a work was managed
)

const itsThePlanner = "Plans are looked after by the program itself."

// wantDemands asks the worker to look at scores, unless it was asked just now.
func (d *Desk) wantDemands(ctx context.Context, v Viewer) error {
	if all, err := d.unprofiled(ctx, v, 1); err != nil || len(all) == 0 {
		return err // a page that only looks writes nothing
	}
	return d.store.Within(ctx, func(tx Records) error {
		sp, err := tx.StudioPlan(ctx, v.Studio)
		if err != nil || d.now().Sub(sp.Wanted) < wantAgain {
			return err
		}
		sp.Wanted = d.now()
		if err := tx.PutStudioPlan(ctx, sp); err != nil {
			return err
		}
		return d.jobs.Enqueue(ctx, tx, Job{Kind: JobDemands, Studio: v.Studio})
	})
}

// Unprofiled are some works, with their scores, of which nobody knows what they ask of the hands. One with Own is a work
// as one child takes it.
func (d *Desk) Unprofiled(ctx context.Context, v Viewer) ([]Work, error) {
	if err := v.must(itsThePlanner, Ear); err != nil {
		return nil, err
	}
	l, err := d.unprofiled(ctx, v, demandsAtOnce)
	return l, problemOf(err)
}

func (d *Desk) unprofiled(ctx context.Context, v Viewer, most int) ([]Work, error) {
	l, err := d.store.Unprofiled(ctx, v.Studio, most)
	if err != nil || len(l) >= most {
		return l, err
	}
	own, err := d.store.UnprofiledOwn(ctx, v.Studio, most-len(l))
	for _, f := range own {
		l = append(l, Work{ID: f.Work, Studio: f.Studio, Score: f.Score, Own: f.ID})
	}
	return l, err
}

// KeepDemand keeps what the score of w asks, unless the score changed while it was worked out: then it is worked out again.
func (d *Desk) KeepDemand(ctx context.Context, v Viewer, w Work, dm Demand) error {
	if err := v.must(itsThePlanner, Ear); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		if w.Own != "" {
			if _, err := tx.HoldWork(ctx, v.Studio, w.ID); err != nil {
				return err
			}
			now, err := tx.Fingering(ctx, v.scope(), w.Own)
			if err != nil || now.Score != w.Score {
				return err
			}
			return tx.PutOwnDemand(ctx, OneFamily(now.Studio, now.Family), w.Own, dm)
		}
		now, err := tx.HoldWork(ctx, v.Studio, w.ID)
		if err != nil || now.Score != w.Score {
			return err
		}
		return tx.PutDemand(ctx, v.Studio, w.ID, dm)
	}))
}

// KeepPlans makes the day's round: what all students tell together is found anew, earlier forecasts are closed that came
// true, and new ones are made and kept. It does nothing where that was done within the day.
func (d *Desk) KeepPlans(ctx context.Context, v Viewer) error {
	if err := v.must(itsThePlanner, Ear); err != nil {
		return err
	}
	sp, err := d.store.StudioPlan(ctx, v.Studio)
	if err != nil || d.now().Sub(sp.Looked) < lookEvery {
		return problemOf(err)
	}
	p, err := d.planning(ctx, d.store, v.scope(), "")
	if err != nil {
		return problemOf(err)
	}
	p.state.Found = nil
	pl, err := p.planner()
	if err != nil {
		return problemOf(err)
	}
	found := pl.Found()
	p.state.Found = &found
	loads := p.rated()
	kept, err := d.store.Forecasts(ctx, v.scope(), "")
	if err != nil {
		return problemOf(err)
	}
	fresh, err := d.forecasts(p, pl.Forecast(), kept)
	if err != nil {
		return problemOf(err)
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		sp, err := tx.StudioPlan(ctx, v.Studio) // the teacher may have changed the rest
		if err != nil {
			return err
		}
		sp.Found, sp.Loads, sp.Looked = &found, loads, d.now()
		if err := tx.PutStudioPlan(ctx, sp); err != nil {
			return err
		}
		for _, f := range kept {
			if day := p.came(f); f.Came == "" && day != 0 {
				if err := tx.ForecastCame(ctx, v.scope(), f.ID, day.String()); err != nil {
					return err
				}
			}
		}
		for _, f := range fresh {
			if err := tx.AddForecast(ctx, f); err != nil {
				return err
			}
		}
		return nil
	}))
}

// came is the day on which the last of what a forecast was about was learnt; 0 not yet.
func (p *planning) came(f Forecast) calendar.Day {
	st := p.state.Student(string(f.Student))
	if st == nil {
		return 0
	}
	last := calendar.Day(0)
	for _, w := range f.Said.Left {
		if p.gone(string(w)) {
			continue
		}
		i := slices.IndexFunc(st.Items, func(it plan.Item) bool { return it.Work == string(w) })
		if i < 0 || st.Items[i].Stage == plan.Learning {
			return 0
		}
		last = max(last, st.Items[i].Finished)
	}
	return last
}

// forecasts that are to be kept: of students of whom none was kept lately.
func (d *Desk) forecasts(p *planning, o plan.Outlook, kept []Forecast) ([]Forecast, error) {
	last := map[StudentID]string{}
	for _, f := range kept {
		last[f.Student] = max(last[f.Student], f.Day)
	}
	var out []Forecast
	for _, a := range o.Students {
		s := p.students[StudentID(a.Student)]
		before, err := calendar.Read(last[s.ID])
		if a.Weeks == nil || len(a.Left) == 0 || err == nil && p.today-before < forecastEvery {
			continue
		}
		id, err := NewID[ForecastID](d.o.Rand)
		if err != nil {
			return nil, err
		}
		st := p.state.Student(a.Student)
		f := Forecast{ID: id, Studio: s.Studio, Family: s.Family, Student: s.ID, Day: p.today.String(),
			Said: ForecastSaid{Collection: CollectionID(st.Collection), Weeks: *a.Weeks, Model: a.Raw, Missed: a.Missed}}
		done := map[string]bool{}
		for _, it := range st.Items {
			done[it.Work] = it.Stage != plan.Learning
		}
		i := slices.IndexFunc(p.state.Collections, func(c plan.Collection) bool { return c.ID == st.Collection })
		for _, w := range p.state.Collections[i].Works {
			if !done[w] {
				f.Said.Left = append(f.Said.Left, WorkID(w))
			}
		}
		out = append(out, f)
	}
	return out, nil
}

// rated is what works turned out to ask: those that many students did not manage in the usual time ask more than was worked
// out from their scores, and the other way. nil where too little is known.
func (p *planning) rated() map[WorkID]float64 {
	loads := map[string]float64{}
	for _, w := range p.state.Works {
		if w.Load > 0 && (w.Kind == "" || w.Kind == plan.Piece) {
			loads[w.ID] = w.Load
		}
	}
	type meeting struct {
		day   calendar.Day
		weeks float64
		met   place.Met
	}
	var all []meeting
	var usual []float64
	for _, st := range p.state.Students {
		for _, it := range st.Items {
			if loads[it.Work] == 0 || it.Begun == 0 {
				continue
			}
			if day := firstSteady(it); day != 0 {
				m := meeting{day, float64(day-it.Begun) / 7, place.Met{Student: st.ID, Work: it.Work}}
				all, usual = append(all, m), append(usual, m.weeks/loads[it.Work])
			}
		}
	}
	if len(all) < enoughMet {
		return nil
	}
	slices.SortStableFunc(all, func(a, b meeting) int { return int(a.day - b.day) })
	per := max(middle(usual), 0.5)
	var met []place.Met
	for _, m := range all {
		m.met.Managed = m.weeks <= inTime*per*loads[m.met.Work]
		met = append(met, m.met)
	}
	out := map[WorkID]float64{}
	for id, l := range place.Rated(loads, met) {
		out[WorkID(id)] = l
	}
	return out
}

// firstSteady is the first day on which an item was heard steady to its end; 0 never.
func firstSteady(it plan.Item) calendar.Day {
	for _, x := range it.Played {
		r := memory.Rating(x.Rating)
		if x.Heard != nil && r == 0 {
			r = memory.Rate(memory.Heard{RightShare: x.Heard.RightShare, Complete: x.Heard.Complete, Stops: x.Heard.Stops, SpreadPct: x.Heard.SpreadPct})
		}
		if r >= memory.Steady && x.Day >= it.Begun {
			return x.Day
		}
	}
	return 0
}
