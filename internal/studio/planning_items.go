package studio

import (
	"cmp"
	"math"
	"slices"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
)

// items of a student, the first asked first. laid are the student's takes bar by bar.
func (p *planning) items(sp StudentPlan, h *History, laid [][]barFact) []plan.Item {
	at := map[WorkID]*gathered{}
	var order []WorkID
	of := func(w WorkID) *gathered {
		if at[w] == nil {
			at[w] = &gathered{Item: plan.Item{Work: string(w)}}
			order = append(order, w)
		}
		return at[w]
	}
	var lessons []string // days with a lesson
	for _, a := range h.Asked {
		if n := len(lessons); n == 0 || lessons[n-1] != a.Day {
			lessons = append(lessons, a.Day)
		}
		if p.gone(string(a.Work)) || a.Ask == AskHeld || a.Ask == AskListen || a.Ask == AskRest {
			continue
		}
		of(a.Work).asked(a)
	}
	for i, x := range h.Heard {
		if x.Summary != nil && !p.gone(string(x.Work)) && p.day(x.At) <= p.today {
			of(x.Work).heard(x, p.day(x.At), p.demands[x.Work], laid[i])
		}
	}
	for _, x := range h.Practised {
		if !p.gone(string(x.Work)) && x.Day <= p.today && x.Done+x.Tries > 0 {
			of(x.Work).practised(x)
		}
	}
	for _, r := range h.Said {
		if g := at[r.Work]; g != nil {
			g.said = append(g.said, r)
			g.Remarks = append(g.Remarks, plan.Remark{Day: p.day(r.At), Key: r.Remedy, Text: r.Text}) // free words may be praise: only the book's count as the same
		}
	}
	for w, says := range sp.Items {
		if !p.gone(string(w)) && (says.Stage != "" || len(says.Rated) > 0) {
			of(w)
		}
	}
	var out []plan.Item
	for _, w := range order {
		g := at[w]
		g.rated = sp.Items[w].Bars
		found := p.passages(w, g, h.Heard)
		for _, ps := range found {
			g.Passages = append(g.Passages, ps.Passage)
		}
		if p.places != nil {
			p.places[w] = found
		}
		out = append(out, g.finish(sp.Items[w], lessons, p.today))
	}
	slices.SortStableFunc(out, func(a, b plan.Item) int { return cmp.Compare(newest(b), newest(a)) })
	out = out[:min(len(out), mostItems)]
	slices.SortStableFunc(out, func(a, b plan.Item) int {
		return cmp.Or(cmp.Compare(a.Begun, b.Begun), cmp.Compare(a.Work, b.Work))
	})
	return out
}

// newest day of an item.
func newest(it plan.Item) calendar.Day {
	last := max(it.Begun, it.Finished)
	for _, a := range it.Asked {
		last = max(last, a)
	}
	for _, x := range it.Played {
		last = max(last, x.Day)
	}
	return last
}

func bpmIn(x float64) float64 {
	if !(x > 0) || x > 400 {
		return 0
	}
	return x
}

// gathered is an item while it is being put together.
type gathered struct {
	plan.Item
	lastDay string // of a lesson that asked for it
	lastAsk Ask

	asks  []AskedOnce
	takes []takenOnce
	taps  []PractisedDay
	said  []SaidOnce
	rated []RatedBars
}

// takenOnce is a take bar by bar.
type takenOnce struct {
	HeardOnce
	day   calendar.Day
	facts []barFact
}

// practised counts a day once, whichever bars of the work were tapped on it.
func (g *gathered) practised(x PractisedDay) {
	g.taps = append(g.taps, x)
	p := plan.Played{Day: x.Day, Right: min(x.Clean, x.Tries), Tries: x.Tries, Bpm: bpmIn(x.TopBpm), Part: x.FromBar != "" || x.ToBar != ""}
	if n := len(g.Played); n > 0 && g.Played[n-1].Heard == nil && g.Played[n-1].Day == x.Day {
		last := &g.Played[n-1]
		last.Right, last.Tries, last.Bpm = last.Right+p.Right, last.Tries+p.Tries, max(last.Bpm, p.Bpm)
		last.Part = last.Part && p.Part
		return
	}
	g.Played = append(g.Played, p)
}

func (g *gathered) asked(a AskedOnce) {
	day, err := calendar.Read(a.Day)
	if err != nil {
		return
	}
	g.Asked, g.asks = append(g.Asked, day), append(g.asks, a)
	g.lastDay, g.lastAsk = a.Day, a.Ask
	if b := bpmIn(a.Bpm); b > 0 {
		g.GoalBpm = b
	}
}

func (g *gathered) heard(x HeardOnce, day calendar.Day, dm *Demand, facts []barFact) {
	g.takes = append(g.takes, takenOnce{x, day, facts})
	s := x.Summary
	to := x.ToBar
	if to == "" && x.FromBar == "" && dm != nil {
		to = dm.LastBar
	}
	share := min(max(s.RightShare, 0), 1)
	if math.IsNaN(share) {
		share = 0
	}
	g.Played = append(g.Played, plan.Played{Day: day, Bpm: bpmIn(s.Bpm),
		Heard: &plan.Heard{RightShare: share, Complete: to == "" || s.ToBar == "" || s.ToBar == to, Stops: s.Restarts, SpreadPct: s.SteadinessPct}})
}

// finish says at which stage an item is: as the teacher says, else by what the last lessons asked.
func (g *gathered) finish(says ItemSays, lessons []string, today calendar.Day) plan.Item {
	it := g.Item
	for _, r := range says.Rated {
		if r.Day <= today && r.Day > 0 {
			it.Played = append(it.Played, r)
		}
	}
	slices.SortStableFunc(it.Played, func(a, b plan.Played) int { return cmp.Compare(a.Day, b.Day) })
	if len(it.Asked) > 0 {
		it.Begun = min(it.Asked[0], today)
	} else if len(it.Played) > 0 {
		it.Begun = it.Played[0].Day
	}
	last := it.Begun
	if n := len(it.Asked); n > 0 {
		last = min(it.Asked[n-1], today)
	}
	since := 0 // lessons after the last one that asked for it
	for i := len(lessons) - 1; i >= 0 && lessons[i] > g.lastDay; i-- {
		since++
	}
	switch {
	case says.Stage != "":
		it.Stage = says.Stage
	case g.lastAsk == AskKeep || g.lastAsk == AskAdd || since >= lessonsWithout || g.lastDay == "" && today-newest(it) > 30:
		it.Stage = plan.Kept
		if today-newest(it) > restedDays {
			it.Stage = plan.Rested
		}
	default:
		it.Stage = plan.Learning
	}
	if it.Stage != plan.Learning {
		it.Finished = max(cmp.Or(says.Finished, last), it.Begun)
	}
	return it
}
