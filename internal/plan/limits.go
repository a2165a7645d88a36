package plan

import (
	"fmt"
	"math"
	"slices"

	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/week"
)

// How often a family plays on a day that has minutes, as far as its log tells. Our choices.
const (
	usualShare = 0.75 // where nothing is known
	shareDays  = 6    // as many days the usual share counts as
	shareWeeks = 8    // of the log that are looked at
	fewDays    = 2    // that are left before a limit: they are named
	lessOften  = 1.5  // standard deviations of the days played within a limit, when less is played for a while
)

// Limit is how a group with a limit stands for one student: whether all that is kept of it can come round in time.
type Limit struct {
	Group    string `json:"group"`
	Days     int    `json:"limit_days"`    // 0: lifted for this student
	Own      bool   `json:"own,omitempty"` // the student's, in place of the studio's
	Things   int    `json:"things"`        // kept
	Round    int    `json:"round_days"`    // in which all of it comes round at best, as often as the student plays
	LessDays int    `json:"less_days"`     // the same when less is played for a while
	Say      string `json:"say,omitempty"` // where the minutes do not reach, and what would help
}

// Reaches says that the minutes hold the limit even when less is played for a while.
func (l *Limit) Reaches() bool { return l.LessDays <= l.Days }

// turn is one thing under a limit.
type turn struct {
	group   int // by its place among the limits
	minutes int
	strain  bool
	last    int // day on which it came; before the first of them as if it had
	came    bool
}

// playShare is on which share of the days that have minutes a student plays. Weeks without a log tell nothing, and neither do
// those in which the family was hardly there.
func (p *Planner) playShare(st *Student) float64 {
	today, free := p.studio.Today, p.free(st)
	var played [7 * shareWeeks]bool // by days back from yesterday
	for i := range st.Items {
		for _, x := range st.Items[i].Played {
			if back := int(today - 1 - x.Day); x.Heard == nil && back >= 0 && back < len(played) {
				played[back] = true
			}
		}
	}
	on, of := usualShare*shareDays, float64(shareDays)
	for w := range shareWeeks {
		n, all := 0, 0
		for back := 7 * w; back < 7*w+7; back++ {
			day := today - 1 - calendar.Day(back)
			if _, is := free.On(day); is || st.Minutes[monday(day)] == 0 {
				continue
			}
			if all++; played[back] {
				n++
			}
		}
		if n >= 2 && 2*n >= all {
			on, of = on+float64(n), of+float64(all)
		}
	}
	return on / of
}

// goRound lets what is under limits come round, the nearest to its limit first and with nothing beside it, on an even share of
// the days that have minutes, and says for each limit in how many days the slowest comes round.
func goRound(all []turn, minutes [7]int, limits []int, share float64) []int {
	all, order := slices.Clone(all), make([]int, len(all))
	for i := range all { // one behind the other, as they stand when all goes well
		order[i], all[i].last = i, -limits[all[i].group]*(len(all)-i)/(len(all)+1)
	}
	end := 3*slices.Max(limits) + 56
	out := make([]int, len(limits))
	played := 0.0
	for day := range end {
		left, strain := minutes[day%7], week.UsualStrain
		if left == 0 {
			continue
		}
		if played += share; played < 1 {
			continue
		}
		played--
		slices.SortStableFunc(order, func(a, b int) int {
			return all[a].last + limits[all[a].group] - all[b].last - limits[all[b].group]
		})
		for _, i := range order {
			t := &all[i]
			if t.minutes > left || t.strain && t.minutes > strain {
				continue
			}
			if left -= t.minutes; t.strain {
				strain -= t.minutes
			}
			if t.came {
				out[t.group] = max(out[t.group], day-t.last)
			}
			t.last, t.came = day, true
		}
	}
	for _, t := range all { // what waits at the end, but for the days until the next with minutes
		out[t.group] = max(out[t.group], end-t.last-7)
	}
	return out
}

// Limits of a student, in the order of the studio's groups, and then those that are lifted; groups of which nothing is kept
// are left out. What is longer than any day is not counted: a plan says so beside it.
func (p *Planner) Limits(st *Student) []Limit {
	var out, lifted []Limit
	var all []turn
	var limits []int
	for _, g := range p.studio.Groups {
		days := p.limit(st, g.Name)
		if days == 0 {
			lifted = append(lifted, Limit{Group: g.Name, Own: true})
			continue
		}
		l := Limit{Group: g.Name, Days: days, Own: slices.ContainsFunc(st.Limits, func(o OwnLimit) bool { return o.Group == g.Name })}
		for i := range st.Items {
			w := p.works[st.Items[i].Work]
			if st.Items[i].Stage == Kept && w.Group == g.Name && w.minutes() <= slices.Max(st.Minutes[:]) && (!w.Strain || w.minutes() <= week.UsualStrain) {
				all = append(all, turn{group: len(out), minutes: w.minutes(), strain: w.Strain})
				l.Things++
			}
		}
		if l.Things > 0 {
			out, limits = append(out, l), append(limits, days)
		}
	}
	if len(out) == 0 {
		return lifted
	}
	a := around{all, st.Minutes, limits, p.playShare(st)}
	usual, less := a.usual(), a.less()
	for i := range out {
		l := &out[i]
		if l.Round, l.LessDays = usual[i], max(less[i], usual[i]); !l.Reaches() {
			l.Say = l.words(st.Name) + " " + a.help(i)
		}
	}
	return append(out, lifted...)
}

// around is all that is under a limit, and the minutes in which it comes round.
type around struct {
	all     []turn
	minutes [7]int
	limits  []int
	share   float64
}

func (a around) usual() []int { return goRound(a.all, a.minutes, a.limits, a.share) }

// less is how it comes round when less is played than usual, for as long as the shortest limit.
func (a around) less() []int {
	days := 0.0
	for _, m := range a.minutes {
		if m > 0 {
			days += float64(slices.Min(a.limits)) / 7
		}
	}
	return goRound(a.all, a.minutes, a.limits, max(a.share-lessOften*math.Sqrt(a.share*(1-a.share)/days), 0.05))
}

func (l *Limit) words(name string) string {
	things := fmt.Sprintf("In %s one thing is under a limit of %s", l.Group, days(l.Days))
	if l.Things > 1 {
		things = fmt.Sprintf("In %s %d things are under a limit of %s", l.Group, l.Things, days(l.Days))
	}
	if l.Round > l.Days {
		return fmt.Sprintf("%s, and these minutes do not reach: as often as %s plays, all of it comes round in about %s, even with nothing beside it.", things, name, days(l.Round))
	}
	return fmt.Sprintf("%s, and these minutes only just reach: as often as %s plays, all of it comes round in %s, and in about %s when less is played for a while.", things, name, days(l.Round), days(l.LessDays))
}

// help says what would make a limit hold: more minutes on each day, or a longer limit.
func (a around) help(i int) string {
	most, longest := 15, 3*a.limits[i]
	more := 0
	for k := 1; k <= most && more == 0; k++ {
		b := a
		for d := range b.minutes {
			if b.minutes[d] > 0 {
				b.minutes[d] += k
			}
		}
		if b.less()[i] <= b.limits[i] {
			more = k
		}
	}
	longer := 0
	for days := a.limits[i]/7*7 + 7; days <= longest && longer == 0; days += 7 {
		b := a
		b.limits = slices.Clone(a.limits)
		b.limits[i] = days
		if b.less()[i] <= days {
			longer = days
		}
	}
	minutes := "one more minute"
	if more > 1 {
		minutes = fmt.Sprintf("%d more minutes", more)
	}
	switch {
	case more > 0 && longer > 0:
		return fmt.Sprintf("With %s on each day it would hold, or with a limit of %s, or if something of it may rest.", minutes, days(longer))
	case more > 0:
		return fmt.Sprintf("With %s on each day it would hold, or if something of it may rest.", minutes)
	case longer > 0:
		return fmt.Sprintf("With a limit of %s it would hold, or if something of it may rest.", days(longer))
	}
	return "It would hold if some of it may rest."
}

// daysFor are the days of the coming week up to another that have the minutes for a work; none where its limit lies beyond the
// week, so that more of them may come.
func (b *builder) daysFor(w *Work, until calendar.Day) (out []string) {
	if until >= b.p.studio.Today+week.Days {
		return nil
	}
	for d, has := range b.problem.Minutes {
		if day := b.days[d].Day; day <= until && has >= w.minutes() {
			out = append(out, day.Weekday().String())
		}
	}
	return out
}

func isOrAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}
