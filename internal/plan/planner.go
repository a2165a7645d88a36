package plan

import (
	"slices"

	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/forecast"
	"antiphon/internal/plan/memory"
	"antiphon/internal/plan/skills"
	"antiphon/internal/plan/warn"
)

// Planner has read a studio once: how fast it and its students forget, what is there to ask.
type Planner struct {
	studio *Studio
	shelf  *skills.Shelf
	works  map[string]*Work
	limits map[string]int // by group
	pace   memory.Pace    // of the studio
}

// New reads a studio that passed Check.
func New(s *Studio) (*Planner, error) {
	shelf, err := s.Shelf()
	if err != nil {
		return nil, wrong("works: %v", err)
	}
	p := &Planner{studio: s, shelf: shelf, works: map[string]*Work{}, limits: map[string]int{}}
	for i := range s.Works {
		p.works[s.Works[i].ID] = &s.Works[i]
	}
	for _, g := range s.Groups {
		p.limits[g.Name] = g.LimitDays
	}
	switch {
	case s.Pace != nil:
		p.pace = *s.Pace
		return p, nil
	case s.Found != nil:
		p.pace = s.Found.Pace
		return p, nil
	}
	var all []memory.Try
	for i := range s.Students {
		all = append(all, tests(&s.Students[i])...)
	}
	p.pace = memory.Fit(all, memory.UsualPace())
	return p, nil
}

// tests of memory in the history of a student. What goes wrong while something is still being learnt was not
// forgotten: it was not there yet.
func tests(st *Student) (out []memory.Try) {
	for i := range st.Items {
		it := &st.Items[i]
		if it.Stage == Learning {
			continue
		}
		_, _, tries := memory.Follow(it.playings())
		for _, t := range tries {
			if t.Day > it.Finished {
				out = append(out, t)
			}
		}
	}
	return out
}

// Pace at which a student forgets: their own from thirty tests on, held towards the studio's.
func (p *Planner) Pace(st *Student) memory.Pace {
	if st.Pace != nil {
		return *st.Pace
	}
	return memory.Fit(tests(st), p.pace)
}

// StudioPace is that of the studio.
func (p *Planner) StudioPace() memory.Pace { return p.pace }

// Found is what all students of a studio tell together. It takes long to find, changes slowly, and can be kept as
// JSON until it is found again.
type Found struct {
	Pace     memory.Pace     // at which the studio forgets
	Forecast forecast.Studio // how its students get on
	Quiet    warn.Model      // when its families go quiet
}

// Found finds it.
func (p *Planner) Found() Found {
	pasts, weeks := make([]forecast.Past, len(p.studio.Students)), make([][]warn.Week, len(p.studio.Students))
	for i := range p.studio.Students {
		pasts[i], weeks[i] = p.past(&p.studio.Students[i]), weeksOf(&p.studio.Students[i])
	}
	return Found{p.pace, forecast.Learn(pasts), warn.Fit(weeks)}
}

// found is what was found before, else what these students tell.
func (p *Planner) found() Found {
	if p.studio.Found != nil {
		return *p.studio.Found
	}
	return p.Found()
}

// limit is within how many days a student is to play what is in a group: their own, else the studio's; 0 for none.
func (p *Planner) limit(st *Student, group string) int {
	for _, l := range st.Limits {
		if l.Group == group {
			return l.LimitDays
		}
	}
	return p.limits[group]
}

// free are the holidays of a student: the studio's and the family's own.
func (p *Planner) free(st *Student) calendar.Free {
	if len(st.Holidays) == 0 {
		return p.studio.Holidays
	}
	return append(slices.Clip(p.studio.Holidays), st.Holidays...)
}

// Skills of a student: what the teacher says, else what the hearings show.
func (p *Planner) Skills(st *Student) skills.Student {
	out := skills.Student{Chance: map[string]float64{}, Played: map[string]bool{}, Without: map[string]bool{}}
	for _, k := range st.Skills {
		if k.Known {
			out.Chance[k.Name] = 1
		} else {
			out.Chance[k.Name] = memory.UsualSkill().Known(k.Heard)
		}
	}
	for i := range st.Items {
		if it := &st.Items[i]; it.Stage != Learning {
			out.Played[it.Work] = true
			for _, b := range p.works[it.Work].Builds { // what was learnt has built what it is for
				out.Chance[b] = 1
			}
		}
	}
	if st.Trial != nil {
		for _, t := range st.Trial.Takes {
			if memory.Rating(t.Rating) < memory.Steady {
				continue
			}
			out.Played[t.Work] = true
			for _, n := range p.works[t.Work].Needs { // what was played steadily shows what it needs
				out.Chance[n] = 1
			}
		}
	}
	for _, w := range st.Without {
		out.Without[w] = true
	}
	return out
}

// Way to a work, for the student page.
func (p *Planner) Way(st *Student, work string) (skills.Way, error) {
	return p.shelf.Between(work, p.Skills(st))
}

// Instead lists what these hands can play in place of a work.
func (p *Planner) Instead(st *Student, work string) []skills.Work {
	return p.shelf.Instead(work, p.Skills(st))
}
