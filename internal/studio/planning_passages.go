package studio

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"time"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
)

// passageOf is a passage with the takes in which it was heard.
type passageOf struct {
	plan.Passage
	plan.Stretch
	Heard []HeardThere // the oldest first
}

// HeardThere is what was heard of a passage in one take, of it alone or of the whole work.
type HeardThere struct {
	Take TakeID
	At   time.Time // in the studio's zone
	There
}

// passages of one work that a student met: bars that were asked by themselves, and bars that came up again and again. facts are
// those of g.takes.
func (p *planning) passages(w WorkID, g *gathered, all []HeardOnce) []passageOf {
	asksPart := slices.ContainsFunc(g.asks, func(a AskedOnce) bool { return a.FromBar != "" || a.ToBar != "" })
	if !asksPart && len(g.takes) < 2 && len(g.said) < 2 {
		return nil // nothing can have come up again
	}
	bars := p.barsOf(w, all)
	places := plan.Places(len(bars.names), p.askedBars(bars, g), p.marked(bars, g))
	places = slices.DeleteFunc(places, func(pl plan.Place) bool { return bars.names[pl.From] == "" || bars.names[pl.To] == "" }) // it could not be named
	if len(places) == 0 {
		return nil
	}
	noted := make([]bool, len(bars.names)) // bars with something to play, as far as anybody played them
	for _, x := range g.takes {
		for i, f := range x.facts {
			noted[i] = noted[i] || f.written > 0
		}
	}
	out := make([]passageOf, len(places))
	for i, pl := range places {
		out[i] = p.passage(bars, g, pl, noted)
	}
	return out
}

func (p *planning) askedBars(bars *scoreBars, g *gathered) (out []plan.AskedStretch) {
	for _, a := range g.asks {
		if a.FromBar == "" && a.ToBar == "" {
			continue
		}
		day, err := calendar.Read(a.Day)
		if s, ok := bars.stretch(a.FromBar, a.ToBar); ok && err == nil {
			out = append(out, plan.AskedStretch{Stretch: s, Day: min(day, p.today)})
		}
	}
	return out
}

func (p *planning) marked(bars *scoreBars, g *gathered) (out []plan.Marked) {
	for _, r := range g.said {
		if i, ok := bars.of(r); ok {
			out = append(out, plan.Marked{Bar: i, Day: p.day(r.At), Said: true})
		}
	}
	for _, x := range g.takes {
		for i, f := range x.facts {
			if f.told > 0 {
				out = append(out, plan.Marked{Bar: i, Day: x.day})
			}
		}
	}
	return out
}

// passage gathers what is known of one place.
func (p *planning) passage(bars *scoreBars, g *gathered, pl plan.Place, noted []bool) passageOf {
	out := passageOf{Stretch: pl.Stretch, Passage: plan.Passage{From: bars.names[pl.From], To: bars.names[pl.To], Asked: pl.Asked}}
	meant := func(from, to string) bool {
		if from == "" && to == "" {
			return false
		}
		s, ok := bars.stretch(from, to)
		return ok && (slices.Contains(pl.Alike, s) || s.Has(pl.Stretch))
	}
	for _, a := range g.asks {
		if b := bpmIn(a.Bpm); b > 0 && meant(a.FromBar, a.ToBar) {
			out.GoalBpm = b
		}
	}
	all := 0
	for i := pl.From; i <= pl.To; i++ {
		if noted[i] {
			all++
		}
	}
	for _, x := range g.takes {
		t := there(x.facts, pl.Stretch)
		// Who was asked for fewer bars and played them did not leave the others out; who was asked for all may have broken off.
		asked, ok := bars.stretch(x.FromBar, x.ToBar)
		if t.Notes == 0 || t.Bars < all && (!ok || !asked.Has(pl.Stretch) || 2*t.Bars < all) {
			continue
		}
		out.Heard = append(out.Heard, HeardThere{x.Take, x.At.In(p.zone), t})
		out.Played = append(out.Played, plan.Played{Day: x.day, Bpm: bpmIn(t.Bpm), Heard: &plan.Heard{RightShare: t.Share(), Complete: t.Bars == all, Stops: t.Stops, Notes: t.Notes}})
	}
	for _, x := range g.taps {
		if meant(x.FromBar, x.ToBar) {
			out.Played = append(out.Played, plan.Played{Day: x.Day, Right: min(x.Clean, x.Tries), Tries: x.Tries, Bpm: bpmIn(x.TopBpm)})
		}
	}
	for _, x := range g.rated {
		if x.Day <= p.today && samePlace(bars, x, pl.Stretch) {
			out.Played = append(out.Played, x.Played)
		}
	}
	slices.SortStableFunc(out.Played, func(a, b plan.Played) int { return cmp.Compare(a.Day, b.Day) })
	for _, r := range g.said {
		if i, ok := bars.of(r); ok && pl.Has(plan.Stretch{From: i, To: i}) {
			out.Remarks = append(out.Remarks, plan.Remark{Day: p.day(r.At), Key: r.Remedy, Text: r.Text})
		}
	}
	return out
}

// samePlace says that bars which were rated are the place, also where it was told by other bars at that time: places change
// with what is asked.
func samePlace(bars *scoreBars, x RatedBars, at plan.Stretch) bool {
	s, ok := bars.stretch(x.From, x.To)
	return ok && plan.SamePlace(s, at)
}

// nameWeak adds to the reasons of a proposed lesson the bars that are weak inside a work, once for each work.
func (d *Desk) nameWeak(ctx context.Context, v Viewer, p *proposal) error {
	known, err := d.planning(ctx, d.store, v.scope(), p.lesson.Student)
	if err != nil {
		return err
	}
	pl, err := known.planner()
	if errors.Is(err, plan.ErrState) {
		return nil // the plan's page says what is wrong; a lesson can be written all the same
	}
	if err != nil {
		return err
	}
	st := known.state.Student(string(p.lesson.Student))
	named := map[WorkID]bool{}
	for i := range p.reasons {
		r := &p.reasons[i]
		if r.Line < 0 {
			continue
		}
		a := p.lesson.Assignments[r.Line]
		if named[a.Work] || a.Ask == AskHeld || a.Ask == AskListen || a.Ask == AskRest {
			continue
		}
		if ps, say := pl.WeakPassage(st, string(a.Work)); ps != nil {
			named[a.Work] = true
			r.Say += " " + plan.Sentence(say)
		}
	}
	return nil
}
