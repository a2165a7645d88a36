package plan

import (
	"fmt"
	"math"
	"slices"

	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/ladder"
	"antiphon/internal/plan/memory"
	"antiphon/internal/plan/skills"
	"antiphon/internal/plan/week"
)

// What things are worth, in thousandths, before preference. Our choices; teachers bend them by what they choose.
const (
	keepWorth      = 1000.0
	advanceWorth   = 1500.0 // what is being learnt is played on most days
	introduceWorth = 450.0
	serveWorth     = 250.0
	listenWorth    = 40.0
	restWorth      = 400.0 // of listening while hands rest
	recitalTimes   = 1.6
	reachedTimes   = 0.3 // of what is at its goal already
)

// Rules that protect. 1.25 times the last four weeks and breaks after 20 to 25 minutes are common guidance of
// performing-arts medicine (from memory); the rest is our choice.
const (
	loadTimes   = 1.25
	loadWeeks   = 4
	hurtDays    = 7
	breakAfter  = 25
	polishDays  = 21
	safeLate    = 7 // days by which a limit is met early, so that days that are missed break no promise; with 4 of them 30 of 109 tight studies broke one, with 7 only 9
	nextInShelf = 3 // works of a collection that are looked at
)

type builder struct {
	p        *Planner
	st       *Student
	pace     memory.Pace
	known    skills.Student
	problem  week.Problem
	roles    []Role
	days     [week.Days]Day
	next     calendar.Day // the last day before the next week with lessons: holidays after this week belong to it
	cautions []string
	items    map[string]*Item
	wishes   map[string]*Wish
	likes    map[string]float64
	recital  map[string]bool
	firsts   map[string]string // why a first work of a new student
	ladders  map[string]ladder.Ladder
	fewLeft  map[string]int      // days left before their limits, of works where they are few
	passages map[string]*Passage // of works of which only these bars may be asked
}

func (p *Planner) begin(st *Student) *builder {
	b := &builder{p: p, st: st, pace: p.Pace(st), known: p.Skills(st), items: map[string]*Item{}, wishes: map[string]*Wish{}, likes: map[string]float64{}, recital: map[string]bool{}, firsts: map[string]string{}, ladders: map[string]ladder.Ladder{}, passages: map[string]*Passage{}, fewLeft: map[string]int{}}
	for i := range st.Items {
		b.items[st.Items[i].Work] = &st.Items[i]
	}
	for i := range st.Wishes {
		b.wishes[st.Wishes[i].Work] = &st.Wishes[i]
	}
	for _, c := range st.Choices {
		if c.Stayed {
			b.likes[c.Work]++
		} else {
			b.likes[c.Work]--
		}
	}
	today, holidays := p.studio.Today, p.free(st)
	for d := range b.days {
		day := today + calendar.Day(d)
		b.days[d].Day = day
		if free, is := holidays.On(day); is {
			if b.days[d].Free = free.Name; free.Name == "" {
				b.days[d].Free = "holiday"
			}
			continue
		}
		b.days[d].Has = st.Minutes[monday(day)]
		b.problem.Minutes[d] = b.days[d].Has
	}
	b.next = today + week.Days - 1
	for range 60 {
		if _, free := holidays.On(b.next + 1); !free {
			break
		}
		b.next++
	}
	b.problem.MostNew = st.mostNew()
	if r := st.Recital; r != nil && r.Day >= today {
		for _, id := range r.Works {
			b.recital[id] = true
		}
		if r.Day-today <= polishDays && b.problem.MostNew > 0 {
			b.problem.MostNew = 0
			b.caution("The recital is on %s: nothing new until then.", r.Day.Words())
		}
	}
	b.protect()
	return b
}

func (b *builder) caution(format string, args ...any) {
	b.cautions = append(b.cautions, fmt.Sprintf(format, args...))
}

// protect sets what keeps hands safe.
func (b *builder) protect() {
	today := b.p.studio.Today
	lately := 0
	var newest Hurt
	for _, h := range b.st.Hurts {
		if h.Level > 0 && h.Day > today-hurtDays && h.Day <= today && b.st.FreeFrom < h.Day {
			lately++
			if h.Day >= newest.Day {
				newest = h
			}
		}
	}
	if lately > 0 {
		b.problem.Hurts = true
		where := ""
		if newest.Where != "" {
			where = " (" + newest.Where + ")"
		}
		b.caution("Something hurt on %s%s: hands rest, and the plan is listening, singing and clapping, until you say that they may play again or %d days have passed. This is no medical advice.", newest.Day.Words(), where, hurtDays)
		if lately > 1 {
			b.caution("It hurt %d times within %d days: please ask the family to see a doctor.", lately, hurtDays)
		}
	}
	sum, n, has := 0.0, 0, 0
	for i := max(len(b.st.Weeks)-loadWeeks, 0); i < len(b.st.Weeks); i++ {
		if m := b.st.Weeks[i].Minutes; m != nil {
			sum, n = sum+*m, n+1
		}
	}
	for _, m := range b.problem.Minutes {
		has += m
	}
	if n == loadWeeks && has > 0 {
		mean := sum / loadWeeks
		most := max(int(loadTimes*mean), has/2) // after a long rest half of what there is, not nothing
		if most < has {
			b.problem.MostWeek = most
			if loadTimes*mean < float64(most) {
				b.caution("The last %d weeks had %.0f minutes each, so this plan begins with half of the %d that there are. Stop when something hurts.", loadWeeks, mean, has)
			} else {
				b.caution("The last %d weeks had %.0f minutes each, so this plan stays within %d of the %d that there are: load grows slowly. Stop when something hurts.", loadWeeks, mean, most, has)
			}
		}
	}
	for _, m := range b.problem.Minutes {
		if m > breakAfter {
			b.caution("On days with more than %d minutes, take a short break after 20.", breakAfter)
			break
		}
	}
}

// like is how much a choice of the teacher counts: twice at most, half at least.
func (b *builder) like(work string) float64 {
	return min(max(math.Exp(0.2*b.likes[work]), 0.5), 2)
}

// add puts an item among the candidates.
func (b *builder) add(w *Work, role Role, worth func(n int) float64, it week.Item) {
	if it.ID, it.Title = w.ID, b.p.shelf.Title(w.ID); role == Mend {
		it.Title += ", " + b.passages[w.ID].Name()
	} else {
		it.Minutes = w.minutes()
	}
	it.Hands, it.Strain = w.Kind != Listening, w.Strain
	it.Joy = it.Joy || w.Joy && role != Introduce && role != Mend
	times := b.like(w.ID)
	if b.recital[w.ID] {
		times *= recitalTimes
	}
	for n := 1; n <= week.Days; n++ {
		it.Gain[n] = max(int(worth(n)*times+0.5), it.Gain[n-1])
	}
	if wish := b.wishes[w.ID]; wish != nil {
		it.Forbid, it.Pinned = wish.Forbid, !wish.Forbid
		for _, d := range wish.On {
			it.On |= 1 << (d - b.p.studio.Today)
		}
		if it.Pinned {
			it.Why = "You put it here. " + it.Why
		}
	}
	if it.Joy {
		it.Why += " Easy and liked: each day has one such thing."
	}
	b.problem.Items = append(b.problem.Items, it)
	b.roles = append(b.roles, role)
}

// rising is worth that grows with each day, a little less each time: days help more than repeats (Simmons & Duke 2006).
func rising(worth, each float64) func(int) float64 {
	return func(n int) float64 { return worth * (1 - math.Pow(each, float64(n))) }
}

// candidates lists all that may be asked.
func (b *builder) candidates() {
	for i := range b.st.Items {
		it := &b.st.Items[i]
		w := b.p.works[it.Work]
		switch {
		case it.Stage == Learning && w.For != "" && b.items[w.For] != nil:
			b.serves(w, it)
		case it.Stage == Learning:
			b.advance(w, it)
		case it.Stage == Kept:
			b.keep(w, it)
		}
	}
	offered := map[string]bool{}
	for rank, id := range b.upcoming() {
		w := b.p.works[id]
		if offered[id] {
			continue
		}
		offered[id] = true
		b.introduce(w, rank)
		if rank == 0 && len(skills.Missing(b.asSkill(w), b.known, b.p.shelf.Title)) > 0 {
			b.way(w, offered)
		}
	}
	for i := range b.p.studio.Works {
		w := &b.p.studio.Works[i]
		if b.items[w.ID] != nil || offered[w.ID] {
			continue
		}
		switch {
		case w.Kind == Listening:
			worth := listenWorth
			if b.problem.Hurts {
				worth = restWorth
			}
			b.add(w, Listen, rising(worth, 0.8), week.Item{Why: "It needs no hands, only ears."})
		case w.Kind == Exercise && w.For != "" && b.items[w.For] != nil && b.items[w.For].Stage == Learning:
			b.add(w, Serve, rising(serveWorth, 0.6), week.Item{New: true, Tied: w.For, Missing: b.missing(w),
				Why: fmt.Sprintf("It serves %s, which is being learnt.", b.p.shelf.Title(w.For))})
		case b.wishes[w.ID] != nil:
			b.introduce(w, 1)
		}
	}
}

func (b *builder) asSkill(w *Work) skills.Work {
	return skills.Work{ID: w.ID, Needs: w.Needs, After: w.After}
}

func (b *builder) missing(w *Work) []string {
	return skills.Missing(b.asSkill(w), b.known, b.p.shelf.Title)
}

// placed are the first works of a new student, by what the trial showed.
func (b *builder) placed() []string {
	place, works := b.p.Place(b.st)
	for _, w := range place.Words {
		b.caution("%s", w)
	}
	var out []string
	for _, f := range place.Proposals(works) {
		out = append(out, f.ID)
		b.firsts[f.ID] = f.Why
	}
	return out
}

// upcoming are the works to come: of the recital, then of the collection in its order.
func (b *builder) upcoming() []string {
	var out []string
	if b.st.Recital != nil {
		for _, id := range b.st.Recital.Works {
			if b.recital[id] && b.items[id] == nil {
				out = append(out, id)
			}
		}
	}
	if b.st.Trial != nil && len(b.st.Items) == 0 {
		return append(out, b.placed()...)
	}
	i := slices.IndexFunc(b.p.studio.Collections, func(c Collection) bool { return c.ID == b.st.Collection })
	if i < 0 {
		return out
	}
	n := 0
	for _, id := range b.p.studio.Collections[i].Works {
		if b.items[id] == nil && n < nextInShelf {
			out, n = append(out, id), n+1
		}
	}
	return out
}

func (b *builder) introduce(w *Work, rank int) {
	why := "It comes next, and all that it needs is there."
	if b.recital[w.ID] {
		why = fmt.Sprintf("It is for the recital on %s, and all that it needs is there.", b.st.Recital.Day.Short())
	}
	if first := b.firsts[w.ID]; first != "" {
		why = first
	}
	worth := introduceWorth * math.Pow(0.7, float64(rank)) / math.Sqrt(w.load())
	b.add(w, Introduce, rising(worth, 0.6), week.Item{New: true, Missing: b.missing(w), Why: why,
		Next: "If the first line is steady by the lesson, the next one comes; if not, it stays and gets smaller."})
}

// way offers what would build the skills that a work is waiting for.
func (b *builder) way(to *Work, offered map[string]bool) {
	way, err := b.p.shelf.Between(to.ID, b.known)
	if err != nil {
		return // the shelf was checked; a work without a way has none to offer
	}
	for _, s := range way.Steps {
		w := b.p.works[s.Work]
		if b.items[s.Work] != nil || offered[s.Work] {
			continue
		}
		offered[s.Work] = true
		why := fmt.Sprintf("It comes before %s.", b.p.shelf.Title(to.ID))
		if len(s.Builds) > 0 {
			why = fmt.Sprintf("It builds %s, which still stands between %s and %s.", list(s.Builds), b.st.Name, b.p.shelf.Title(to.ID))
		}
		b.add(w, Introduce, rising(introduceWorth*0.9/math.Sqrt(w.load()), 0.6), week.Item{New: true, Missing: b.missing(w), Why: why})
	}
}

// ladder of an item that has a goal.
func (it *Item) ladder() (ladder.Ladder, bool) {
	if it.GoalBpm <= 0 {
		return ladder.Ladder{}, false
	}
	return ladder.Fit(it.tries(), it.GoalBpm, ladder.Rules{}), true
}

// atGoal says that it was heard clean at its goal.
func (it *Item) atGoal() bool {
	l, ok := it.ladder()
	return ok && len(l.Rungs) == 1
}

func (b *builder) advance(w *Work, it *Item) {
	item := week.Item{Why: "It is being learnt.", Next: "If it is steady to the end at the lesson, it moves to what is kept."}
	if it.Begun != 0 {
		item.Why = fmt.Sprintf("Being learnt since %s.", it.Begun.Short())
	}
	if l, ok := it.ladder(); ok {
		item.Why += " " + l.Why[0]
		item.Next = l.Next()
		b.ladders[w.ID] = l
	}
	if b.recital[w.ID] {
		item.Why += fmt.Sprintf(" It is for the recital on %s.", b.st.Recital.Day.Short())
	}
	worth := advanceWorth
	if l, ok := b.ladders[w.ID]; ok && len(l.Rungs) == 1 { // at its goal: once more, and then it is kept
		worth *= reachedTimes
	}
	if last := lastDay(it.Asked); last != 0 && b.p.studio.Today-last > 14 {
		worth *= 1.2
		item.Why += fmt.Sprintf(" It was last asked %s.", ago(int(b.p.studio.Today-last)))
	}
	b.add(w, Advance, rising(worth, 0.72), item)
}

func (b *builder) serves(w *Work, it *Item) {
	item := week.Item{Tied: w.For, Why: fmt.Sprintf("It serves %s.", b.p.shelf.Title(w.For))}
	if l, ok := it.ladder(); ok {
		item.Why += " " + l.Why[0]
		item.Next = l.Next()
		b.ladders[w.ID] = l
	}
	if of := b.items[w.For]; of.Stage == Rested {
		item.Tied = ""
	}
	b.add(w, Serve, rising(serveWorth, 0.6), item)
}

func (b *builder) keep(w *Work, it *Item) {
	s := b.p.state(it, b.pace)
	target := it.target()
	horizon := float64(memory.Horizon)
	if b.recital[w.ID] {
		target, horizon = max(target, 0.9), float64(b.st.Recital.Day-b.p.studio.Today)
	}
	gains := b.pace.Gains(s.trace, s.since, target)
	back := b.pace.DaysToBringBack(s.since, s.trace, target)
	item := week.Item{MostDays: int(math.Ceil(7 / memory.GapDays(horizon)))}
	role, due := Keep, min(int(b.pace.DueDays(s.trace, target)), memory.LatestDays)-int(s.since)
	if s.left < target {
		role = BringBack
		item.MostDays = max(item.MostDays, min(back, 4))
		item.Why = fmt.Sprintf("Last played %s; it is likely to need %s.", ago(int(s.since)), days(back))
	} else if s.since >= memory.LatestDays {
		item.Why = fmt.Sprintf("Last played %s; while lessons go on, nothing that is kept is to wait longer than %s.", ago(int(s.since)), days(memory.LatestDays))
	} else {
		item.Why = fmt.Sprintf("Last played %s; to be asked again within %s.", ago(int(s.since)), days(max(due, 1)))
	}
	if s.since >= memory.LatestDays { // the curve was not fitted to hands, so it is not trusted beyond a month
		for n := 1; n < len(gains); n++ {
			gains[n] = max(gains[n], min(0.15+0.1*s.since/memory.LatestDays, 0.6))
		}
	}
	limit := b.p.limit(b.st, w.Group)
	at := s.last + calendar.Day(limit)
	item.Must = limit > 0 && b.next+safeLate >= at
	if x := b.p.weakGains(it, b.pace, target); x.gains[1] > gains[1] {
		if due > week.Days && !item.Must && !w.Joy && !b.recital[w.ID] && !b.whole(w) {
			b.passage(w, it, x, due)
			return
		}
		for n := range gains {
			gains[n] = max(gains[n], x.gains[n])
		}
		item.MostDays = max(item.MostDays, x.most)
		if role == Keep {
			item.Why += " A few bars of it need it sooner."
		}
	}
	if b.recital[w.ID] {
		item.Why += fmt.Sprintf(" It is for the recital on %s.", b.st.Recital.Day.Short())
	}
	if item.Must {
		item.Late = int(b.next + safeLate - at) // the nearest limit goes first
		item.ByDay = min(max(int(at-b.p.studio.Today), 0), week.Days-1)
		item.Why = fmt.Sprintf("Nothing in %s is to stay unseen for more than %s, and the last time was %s.", w.Group, days(limit), s.last.Short())
		if left := b.daysFor(w, at); len(left) > 0 && len(left) <= fewDays {
			b.fewLeft[w.ID] = len(left)
			item.Why += fmt.Sprintf(" Until then only %s %s left for it.", list(left), isOrAre(len(left)))
		}
	}
	then := b.pace.DueIn(s.trace.After(s.since, memory.Steady), target)
	item.Next = fmt.Sprintf("If it is steady, it can wait about %s; if not, once more on the next day.", days(then))
	b.add(w, role, func(n int) float64 { return keepWorth * gains[n] }, item)
	if w.Joy {
		last := &b.problem.Items[len(b.problem.Items)-1]
		last.MostDays = 0
	}
}
