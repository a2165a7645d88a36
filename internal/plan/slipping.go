package plan

import (
	"cmp"
	"fmt"
	"slices"

	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
)

// Slip is something once learnt that is slipping away, or about to.
type Slip struct {
	Student string       `json:"student"`
	Work    string       `json:"work"`
	Title   string       `json:"title"`
	Last    calendar.Day `json:"last,omitzero"` // last played
	Days    int          `json:"days"`          // since; -1: never, as far as is known
	Left    float64      `json:"left"`          // chance that it is still there
	Limit   int          `json:"limit_days,omitempty"`
	Over    bool         `json:"over_limit,omitempty"`
	Back    int          `json:"days_to_bring_back"` // of playing that it will likely need
	Say     string       `json:"say"`
}

// state of one kept or learnt item today.
type state struct {
	trace memory.Trace
	last  calendar.Day
	since float64
	left  float64
}

func (p *Planner) state(it *Item, pace memory.Pace) state {
	tr, last, _ := memory.Follow(it.playings())
	s := state{trace: tr, last: last}
	if tr.Playings == 0 { // learnt, and never rated: as if it was steady once, on the day it was finished
		s.last = max(it.Finished, it.Begun, lastDay(it.Asked))
		s.trace = memory.Trace{}.After(0, memory.Steady)
	}
	if s.last == 0 {
		s.last = p.studio.Today - 60 // nobody knows when: long ago
	}
	s.since = float64(max(p.studio.Today-s.last, 0))
	s.left = pace.Left(s.since, s.trace)
	return s
}

// Slipping lists what a student kept and is below its target, or beyond the limit of its group, the most urgent first.
func (p *Planner) Slipping(st *Student) []Slip {
	pace := p.Pace(st)
	var out []Slip
	for i := range st.Items {
		it := &st.Items[i]
		if it.Stage != Kept {
			continue
		}
		s, w := p.state(it, pace), p.works[it.Work]
		limit := p.limit(st, w.Group)
		over := limit > 0 && int(s.since) > limit
		if s.left >= it.target() && !over {
			out = append(out, p.slippingPassages(st, it, s.left, pace)...)
			continue
		}
		slip := Slip{Student: st.ID, Work: w.ID, Title: p.shelf.Title(w.ID), Last: s.last, Days: int(s.since), Left: s.left, Limit: limit, Over: over,
			Back: pace.DaysToBringBack(s.since, s.trace, it.target())}
		slip.Say = fmt.Sprintf("%s was last played %s and is likely to need %s.", slip.Title, ago(slip.Days), days(slip.Back))
		if over {
			slip.Say += fmt.Sprintf(" Nothing in %s is to stay unseen for more than %s.", w.Group, days(limit))
		}
		out = append(out, slip)
	}
	slices.SortStableFunc(out, func(a, b Slip) int {
		if a.Over != b.Over {
			if a.Over {
				return -1
			}
			return 1
		}
		return cmp.Compare(a.Left, b.Left)
	})
	return out
}

// AllSlipping is the list over the studio.
func (p *Planner) AllSlipping() []Slip {
	var out []Slip
	for i := range p.studio.Students {
		out = append(out, p.Slipping(&p.studio.Students[i])...)
	}
	slices.SortStableFunc(out, func(a, b Slip) int { return cmp.Compare(a.Left, b.Left) })
	return out
}

func days(n int) string {
	if n == 1 {
		return "one day"
	}
	return fmt.Sprintf("%d days", n)
}

// ago says how long since, in words: "today", "one day ago", "34 days ago".
func ago(n int) string {
	if n <= 0 {
		return "today"
	}
	return days(n) + " ago"
}

// Left is the chance that something is still there today, 0 to 1; 0 for what the student never met.
func (p *Planner) Left(st *Student, work string) float64 {
	if it := itemOf(st, work); it != nil {
		return p.state(it, p.Pace(st)).left
	}
	return 0
}
