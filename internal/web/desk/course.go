package desk

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
)

// takesCounted is how far back the curves of a student's works go.
const takesCounted = 500

// course is one work as the student goes through it.
type course struct {
	ID     studio.WorkID
	Title  string
	Says   string
	Own    bool // the student plays it with own fingers
	Curves []curve
	Rows   []measure
}

// measure is one take of a work in numbers.
type measure struct {
	ID     studio.TakeID
	Day    string
	Bars   string
	Bpm    string
	Steady string
	Right  string
}

// courses are the works that the student was asked or has sent, the latest first.
func (p *pages) courses(r *http.Request, id studio.StudentID, works prose.Titles) ([]course, error) {
	ctx, v, now := r.Context(), page.Viewer(r), p.f.Now()
	lines, err := p.desk.Course(ctx, v, id)
	if err != nil {
		return nil, err
	}
	takes, err := p.desk.TakesBy(ctx, v, studio.TakeQuery{Student: id, Limit: takesCounted})
	if err != nil {
		return nil, err
	}
	of := map[studio.WorkID][]studio.Take{}
	for _, t := range slices.Backward(takes) { // the oldest first
		if t.Work != "" && t.Summary != nil {
			of[t.Work] = append(of[t.Work], t)
		}
	}
	latest := func(l studio.CourseLine) string {
		if l.Heard.IsZero() {
			return l.Last
		}
		return max(l.Last, dayOf(l.Heard, now))
	}
	slices.SortStableFunc(lines, func(a, b studio.CourseLine) int { return strings.Compare(latest(b), latest(a)) })
	kept, err := p.desk.Fingerings(ctx, v, id, "")
	if err != nil {
		return nil, err
	}
	own := map[studio.WorkID]bool{}
	for _, k := range kept {
		own[k.Work] = own[k.Work] || k.Holds()
	}
	var all []course
	for _, l := range lines {
		c := course{ID: l.Work, Own: own[l.Work], Title: works.Name(l.Work), Says: courseSays(l, now)}
		if heard := of[l.Work]; len(heard) > 1 {
			c.Curves = curves(heard)
			for _, t := range slices.Backward(heard) {
				c.Rows = append(c.Rows, measured(t, now))
			}
		}
		all = append(all, c)
	}
	return all, nil
}

func courseSays(l studio.CourseLine, now time.Time) string {
	var parts []string
	if l.Asked > 0 {
		say := "Asked in " + prose.Number(l.Asked, "lesson", "lessons")
		if day, err := time.ParseInLocation(isoDay, l.Last, now.Location()); err == nil {
			say += ", last " + prose.On(page.Day(day, now))
		}
		parts = append(parts, say)
	} else {
		parts = append(parts, "Never asked in a lesson")
	}
	if l.Takes == 0 {
		parts = append(parts, "no recording kept")
	} else {
		say := prose.Number(l.Takes, "recording", "recordings") + ", the newest " + prose.On(page.Day(l.Heard, now))
		if l.Summary != nil {
			if all := prose.Heard(*l.Summary); len(all) > 0 {
				say += ": " + strings.Join(all, " · ")
			}
		}
		parts = append(parts, say)
	}
	return strings.Join(parts, "; ") + "."
}

func measured(t studio.Take, now time.Time) measure {
	s := t.Summary
	m := measure{ID: t.ID, Day: page.Day(t.Announced, now), Bars: "all"}
	if s.FromBar != "" {
		m.Bars = strings.TrimPrefix(strings.TrimPrefix(prose.Bars(s.FromBar, s.ToBar), "bars "), "bar ")
	}
	m.Bpm = strings.TrimSpace(strings.TrimPrefix(prose.AtBpm(s.Bpm), " at"))
	if s.SteadinessPct > 0 {
		m.Steady = fmt.Sprintf("%.0f %%", s.SteadinessPct)
	}
	if s.Notes > 0 {
		right := max(s.Notes-s.Wrong-s.Missed, 0)
		m.Right = fmt.Sprintf("%d of %d notes", right, s.Notes)
	}
	return m
}
