package year

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
	"golang.org/x/sync/errgroup"
)

// Policy chooses what of the kept items is played.
type Policy string

const (
	Planned  Policy = "planned"
	Newest   Policy = "newest-first"
	Rotation Policy = "rotation"
)

// KeptBy is how one student's items were kept by the three policies in the same minutes.
type KeptBy struct {
	Law, Habit string
	Share      map[Policy]float64 // of items and weeks above the target
	// Silence of items in the group with the limit under the plan, in days on which the family was there: holidays and weeks
	// in which it played on fewer than half of the days foreseen are left out.
	LongestDays  int
	CalendarDays int // the same with all days counted
	OverLimit    int // times that it was longer than the limit
	Unsaid       int // of them those of which no plan had said within the limit that the minutes may not reach
	UnsaidDays   int // the longest silence without those that were said
	Said         bool
}

// item of the truth.
type item struct {
	work      plan.Work
	strength  float64
	played    int // day
	there     int // days on which the family was there, at that time
	from      int // day on which it is kept
	technique bool
	plays     []plan.Played
	said      []int // days there on which a plan said that few are left before its limit
}

// keeping is one student under one policy.
type keeping struct {
	s        *Settings
	st       *Student
	policy   Policy
	items    []*item
	ring     int
	there    int
	above, n float64
	out      KeptBy
	seed     uint64
	days     []day
	perDay   [7]int
	studio   memory.Pace
	own      *memory.Pace // found in paceWeek
	said     []int        // days there on which a plan said that the minutes may not reach
	paceWeek int
}

// day of a family: the same for all policies.
type day struct {
	planned bool // minutes are foreseen
	plays   bool
	minutes int
}

// firstDay of the simulation is a Monday.
const firstDay = calendar.Day(20458) // 2026-01-05

// Kept lets students keep what they learnt for the weeks of the settings, once for each policy.
func Kept(s *Settings, seed uint64, students int) ([]KeptBy, error) {
	studio, err := running(s, seed)
	if err != nil {
		return nil, err
	}
	out := make([]KeptBy, students)
	var g errgroup.Group
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i := range out {
		g.Go(func() error {
			out[i].Share = map[Policy]float64{}
			for _, p := range []Policy{Newest, Rotation, Planned} {
				k := keep(s, seed, uint64(i), p)
				k.studio = studio
				if err := k.run(); err != nil {
					return err
				}
				out[i].Share[p] = k.above / max(k.n, 1)
				out[i].Law, out[i].Habit = k.st.Law.Name, k.st.Habit.Name
				if p == Planned {
					share, law, habit := out[i].Share, out[i].Law, out[i].Habit
					out[i] = k.out
					out[i].Share, out[i].Law, out[i].Habit = share, law, habit
				}
			}
			return nil
		})
	}
	err = g.Wait()
	return out, err
}

// pilots are students who were in the studio before those that are looked at.
const pilots = 12

// running is at which pace a studio forgets that has been running for a while with a fixed rotation.
func running(s *Settings, seed uint64) (memory.Pace, error) {
	state := plan.Studio{Schema: plan.Schema}
	for i := range pilots {
		k := keep(s, seed^0xabcdef, uint64(i), Rotation)
		if err := k.run(); err != nil {
			return memory.Pace{}, err
		}
		st := plan.Student{ID: fmt.Sprint(i)}
		for j, it := range k.items {
			id := fmt.Sprint(i, "-", j)
			state.Works = append(state.Works, plan.Work{ID: id})
			st.Items = append(st.Items, plan.Item{Work: id, Stage: plan.Kept, Played: it.plays})
		}
		state.Students = append(state.Students, st)
	}
	p, err := plan.New(&state)
	if err != nil {
		return memory.Pace{}, err
	}
	return p.StudioPace(), nil
}

// keep draws the family's days and what there is to keep; the policy changes neither.
func keep(s *Settings, seed, n uint64, p Policy) *keeping {
	st := s.Draw(seed, n)
	st.live(s, s.Weeks)
	rng := rand.New(rand.NewPCG(seed^0x51ed2701, n))
	k := &keeping{s: s, st: st, policy: p, seed: seed ^ n<<20}
	per, minutes, skipped := whole(rng, s.Review.DaysAWeek), whole(rng, s.Review.Minutes), between(rng, s.Review.Skipped)
	on := rng.Perm(7)[:per]
	for _, d := range on {
		k.perDay[d] = minutes
	}
	for w := range s.Weeks {
		week := st.weeks[w]
		for d := range 7 {
			x := day{planned: week.teaching && slices.Contains(on, d), minutes: minutes}
			x.plays = x.planned && (week.came || week.minutes > 7) && rng.Float64() >= skipped
			k.days = append(k.days, x)
		}
	}
	add := func(from int) {
		id := fmt.Sprint("w", len(k.items))
		it := &item{work: plan.Work{ID: id, Title: id, Minutes: whole(rng, s.Review.Sitting)}, from: from, played: from,
			technique: rng.Float64() < s.Review.TechniqueShare}
		if it.technique {
			it.work.Kind, it.work.Group = plan.Technique, "technique"
		}
		it.strength = st.Law.StrengthDays * math.Exp(st.Law.Spread*rng.NormFloat64())
		k.items = append(k.items, it)
	}
	for range whole(rng, s.Review.KeptAtFirst) {
		add(0)
	}
	teaching := 0
	for w := range s.Weeks {
		if st.weeks[w].teaching {
			if teaching++; teaching%s.Review.NewItemWeeks == 0 {
				add(w * 7)
			}
		}
	}
	return k
}

// now are the items that are to be kept on a day, the oldest first.
func (k *keeping) now(d int) []*item {
	var out []*item
	for _, it := range k.items {
		if it.from <= d {
			out = append(out, it)
		}
	}
	return out[max(len(out)-k.s.Review.Most, 0):]
}

// warmUp is how many weeks are not counted: no policy has left its mark yet.
const warmUp = 8

func (k *keeping) run() error {
	for w := range k.s.Weeks {
		var asked [7][]*item
		missed := false
		there := k.hereIn(w)
		for d := range 7 {
			at := w*7 + d
			if d == 0 || missed {
				if k.policy == Planned {
					var err error
					if asked, err = k.plan(at, 7*(w+1)-at, d); err != nil {
						return err
					}
				}
				missed = false
			}
			x := k.days[at]
			if there {
				k.there++
			}
			for _, it := range k.items {
				if it.from == at {
					it.there = k.there
				}
			}
			if x.plays {
				for _, it := range k.today(at, asked[d]) {
					k.play(it, at)
				}
			} else if x.planned {
				missed = true
			}
		}
		if w >= warmUp {
			k.count(7*(w+1) - 1)
		}
	}
	if k.policy == Planned {
		end := len(k.days) - 1
		for _, it := range k.now(end) { // what still waits
			if it.technique {
				k.silence(it, end)
			}
		}
	}
	return nil
}

// hereIn says that the family was there in a week: it played on at least half of the days foreseen.
func (k *keeping) hereIn(w int) bool {
	plays, planned := 0, 0
	for _, x := range k.days[7*w : 7*w+7] {
		if x.planned {
			planned++
		}
		if x.plays {
			plays++
		}
	}
	return planned > 0 && 2*plays >= planned
}

// today is what is played on a day, in the minutes that there are.
func (k *keeping) today(d int, asked []*item) []*item {
	left := k.days[d].minutes
	take := func(list []*item) (out []*item) {
		for _, it := range list {
			if it.work.Minutes <= left {
				out, left = append(out, it), left-it.work.Minutes
			}
		}
		return out
	}
	now := k.now(d)
	switch k.policy {
	case Planned:
		return take(asked)
	case Newest:
		slices.Reverse(now)
		return take(now)
	}
	var round []*item
	for i := range now {
		it := now[(k.ring+i)%len(now)]
		if it.work.Minutes > left {
			break
		}
		left -= it.work.Minutes
		round = append(round, it)
	}
	k.ring = (k.ring + len(round)) % max(len(now), 1)
	return round
}

// play an item: what is left is tried, and what was tried becomes stronger, most so when it had begun to slip.
func (k *keeping) play(it *item, d int) {
	days := float64(d - it.played)
	left := k.st.Law.left(days, it.strength)
	rng := rand.New(rand.NewPCG(k.seed, uint64(d)<<16|uint64(len(it.work.ID))<<8|uint64(it.work.ID[len(it.work.ID)-1])))
	held := rng.Float64() < left
	if held {
		it.strength *= 1 + k.st.growth*(1-left) + 0.02
	} else {
		it.strength = max(it.strength*0.8, 1.5) * (1 + 0.1*k.st.growth)
	}
	it.strength = min(it.strength, 400)
	if rng.Float64() < k.s.Review.Misrated {
		held = !held
	}
	r := 2
	switch x := rng.Float64(); {
	case held && x < 0.25:
		r = 4
	case held:
		r = 3
	case x < 0.5:
		r = 1
	}
	if it.technique && k.policy == Planned {
		k.silence(it, d)
	}
	it.plays = append(it.plays, plan.Played{Day: firstDay + calendar.Day(d), Rating: r})
	it.played, it.there = d, k.there
}

// silence of an item up to a day, since it was played or learnt.
func (k *keeping) silence(it *item, d int) {
	days, limit := k.there-it.there, k.s.Review.LimitDays
	during := func(there int) bool { return it.there <= there && there <= it.there+limit }
	said := slices.ContainsFunc(k.said, during) || slices.ContainsFunc(it.said, during)
	k.out.Said = len(k.said) > 0
	k.out.CalendarDays = max(k.out.CalendarDays, d-it.played)
	k.out.LongestDays = max(k.out.LongestDays, days)
	if days > limit {
		k.out.OverLimit++
		if said {
			return
		}
		k.out.Unsaid++
	}
	k.out.UnsaidDays = max(k.out.UnsaidDays, days)
}

func (k *keeping) count(d int) {
	for _, it := range k.now(d) {
		k.n++
		if k.st.Law.left(float64(d-it.played), it.strength) >= k.s.Review.Target {
			k.above++
		}
	}
}

// plan asks the planner, with what a teacher knows.
func (k *keeping) plan(d, days, weekday int) ([7][]*item, error) {
	var asked [7][]*item
	state := &plan.Studio{Schema: plan.Schema, Today: firstDay + calendar.Day(d), Groups: []plan.Group{{Name: "technique", LimitDays: k.s.Review.LimitDays}}}
	st := plan.Student{ID: "s", Name: "S", Minutes: k.perDay}
	by := map[string]*item{}
	for _, it := range k.now(d) {
		state.Works = append(state.Works, it.work)
		by[it.work.ID] = it
		st.Items = append(st.Items, plan.Item{Work: it.work.ID, Stage: plan.Kept, Finished: firstDay + calendar.Day(it.from), Target: k.s.Review.Target, Played: it.plays})
	}
	if !k.days[d-weekday].planned && !slices.ContainsFunc(k.days[d:d+days], func(x day) bool { return x.planned }) {
		return asked, nil // a holiday week
	}
	state.Holidays = k.s.free()
	if week := d / 7; k.own == nil || week >= k.paceWeek+4 {
		k.paceWeek = week
	} else {
		st.Pace = k.own
	}
	state.Pace, state.Students = &k.studio, []plan.Student{st}
	p, err := plan.New(state)
	if err != nil {
		return asked, err
	}
	if st.Pace == nil {
		pace := p.Pace(&state.Students[0])
		k.own, state.Students[0].Pace = &pace, &pace
	}
	w, err := p.Week(&state.Students[0])
	if err != nil {
		return asked, err
	}
	if slices.ContainsFunc(w.Limits, func(l plan.Limit) bool { return !l.Reaches() }) {
		k.said = append(k.said, k.there)
	}
	for _, l := range w.Lines {
		if it := by[l.Work]; l.Few > 0 {
			it.said = append(it.said, k.there)
		}
		for _, on := range l.Days {
			if i := int(on-firstDay) - d; i < days {
				asked[weekday+i] = append(asked[weekday+i], by[l.Work])
			}
		}
	}
	return asked, nil
}

// free are the holidays as dates.
func (s *Settings) free() (f calendar.Free) {
	for w := 0; w < s.Weeks; w++ {
		if s.holiday(w) {
			from := firstDay + calendar.Day(7*w)
			f = append(f, calendar.Span{From: from, To: from + 6, Name: "holidays"})
		}
	}
	return f
}
