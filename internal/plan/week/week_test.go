package week

import (
	"errors"
	"fmt"
	"math/bits"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
)

// drawn makes a random week of up to n items.
func drawn(rng *rand.Rand, n, longest int) Problem {
	p := Problem{MostNew: rng.IntN(3), Hurts: rng.IntN(12) == 0, StrainMin: 3 + rng.IntN(4)}
	for d := range p.Minutes {
		if rng.IntN(4) > 0 {
			p.Minutes[d] = rng.IntN(longest + 1)
		}
	}
	if rng.IntN(3) == 0 {
		p.MostWeek = 1 + rng.IntN(4*longest)
	}
	for i := range 1 + rng.IntN(n) {
		it := Item{ID: fmt.Sprint(i), Title: fmt.Sprint("item ", i), Minutes: 1 + rng.IntN(9), Hands: rng.IntN(6) > 0,
			New: rng.IntN(4) == 0, Joy: rng.IntN(4) == 0, Strain: rng.IntN(6) == 0, Forbid: rng.IntN(15) == 0, MostDays: rng.IntN(8)}
		g, step := 0, rng.IntN(900)
		for n := 1; n <= Days; n++ {
			g += step
			step = step * (40 + rng.IntN(50)) / 100
			it.Gain[n] = g
		}
		if rng.IntN(8) == 0 {
			it.Must, it.ByDay, it.Late = true, rng.IntN(Days), rng.IntN(3)
		}
		if rng.IntN(15) == 0 {
			it.Pinned = true
			if rng.IntN(2) == 0 {
				it.On = uint8(rng.IntN(1 << Days))
			}
		}
		if rng.IntN(10) == 0 {
			it.Missing = []string{"small barre"}
		}
		if i > 0 && rng.IntN(5) == 0 {
			if to := rng.IntN(i); p.Items[to].Tied == "" {
				it.Tied = p.Items[to].ID
			}
		}
		p.Items = append(p.Items, it)
	}
	return p
}

// broken says which rule a plan breaks, by the rules themselves and not by the solver's tables.
func broken(p Problem, plan Plan) string {
	asked := map[string]bool{}
	for _, l := range plan.Lines {
		asked[p.Items[l.Item].ID] = true
	}
	var spent, strain [Days]int
	fresh, week := 0, 0
	for _, l := range plan.Lines {
		it := p.Items[l.Item]
		switch {
		case l.On == 0:
			return it.ID + " is asked on no day"
		case it.Forbid:
			return it.ID + " is forbidden"
		case len(it.Missing) > 0:
			return it.ID + " comes before what must be known"
		case p.Hurts && it.Hands:
			return it.ID + " loads hands that hurt"
		case it.Tied != "" && !asked[it.Tied]:
			return it.ID + " serves what is not asked"
		case it.MostDays > 0 && l.Count() > it.MostDays && !(it.Pinned && it.On != 0):
			return it.ID + " is asked too often"
		case it.Pinned && it.On != 0 && l.On != it.On:
			return it.ID + " is not where the teacher put it"
		}
		if it.New {
			fresh++
		}
		for d := range Days {
			if l.Has(d) {
				spent[d], week = spent[d]+it.Minutes, week+it.Minutes
				if it.Strain {
					strain[d] += it.Minutes
				}
			}
		}
	}
	for d := range Days {
		if spent[d] > p.Minutes[d] || spent[d] != plan.Spent[d] || strain[d] > p.StrainMin {
			return fmt.Sprintf("day %d: %d of %d minutes, %d of strain", d, spent[d], p.Minutes[d], strain[d])
		}
	}
	if fresh > p.MostNew {
		return fmt.Sprintf("%d new things", fresh)
	}
	if p.MostWeek > 0 && week > p.MostWeek {
		return fmt.Sprintf("%d of %d minutes in the week", week, p.MostWeek)
	}
	for i, why := range plan.Out {
		if (why == "") != asked[p.Items[i].ID] {
			return p.Items[i].ID + " is in and out, or neither"
		}
	}
	return ""
}

// TestRulesHold: 10,000 random weeks. No plan breaks a rule, the same week has the same plan, and fewer minutes
// never bring an item or a day more.
func TestRulesHold(t *testing.T) {
	proved := 0
	for seed := range uint64(10_000) {
		rng := rand.New(rand.NewPCG(seed, 1))
		p := drawn(rng, 24, 30)
		p.Effort = 6000
		plan, err := Solve(p)
		if err != nil {
			t.Fatal(err)
		}
		if why := broken(p, plan); why != "" {
			t.Fatalf("seed %d: %s\n%+v\n%+v", seed, why, p, plan)
		}
		if plan.Proved {
			proved++
		}
		if seed%10 == 0 {
			if again, err := Solve(p); err != nil || !reflect.DeepEqual(plan, again) {
				t.Fatalf("seed %d: two plans for one week, %v", seed, err)
			}
		}
		less := p.Minutes
		for d := range less {
			less[d] -= rng.IntN(less[d] + 1)
		}
		short, err := Shorten(p, plan, less)
		if err != nil {
			t.Fatal(err)
		}
		before := map[int]int{}
		for _, l := range plan.Lines {
			before[l.Item] = l.Count()
		}
		for _, l := range short.Lines {
			if l.Count() > before[l.Item] {
				t.Fatalf("seed %d: with fewer minutes item %d is asked on %d days, before on %d", seed, l.Item, l.Count(), before[l.Item])
			}
		}
		for d, m := range short.Spent {
			if m > less[d] {
				t.Fatalf("seed %d: day %d has %d of %d minutes", seed, d, m, less[d])
			}
		}
	}
	t.Logf("%d of 10000 plans are proved to be the best", proved)
	if proved < 9000 {
		t.Errorf("only %d of 10000 plans are proved", proved)
	}
}

// worth of a plan by what goes before what, for slices.Compare: pins; each promise in its order, the earlier after its day
// the better; joy and gains. Where not all pins can be had, promises only count as asked or not.
func worth(p Problem, plan Plan, allPins bool) (out []int) {
	pins, value, joy := 0, 0, uint8(0)
	on := make([]uint8, len(p.Items))
	for _, l := range plan.Lines {
		on[l.Item] = l.On
	}
	for i, it := range p.Items {
		value += it.Gain[Line{On: on[i]}.Count()]
		if it.Pinned && on[i] != 0 {
			pins++
		}
		if it.Joy {
			joy |= on[i]
		}
	}
	out = append(out, pins)
	for _, i := range inOrder(p.Items) {
		it := p.Items[i]
		kept := 0
		if on[i] != 0 {
			kept = 2 * Days
			if by := max(it.ByDay, firstDay(p, it)); allPins && !(it.Pinned && it.On != 0) {
				kept -= max(bits.TrailingZeros8(on[i])-by, 0)
			}
		}
		out = append(out, kept)
	}
	return append(out, value+Line{On: joy}.Count()*joyDay)
}

// firstDay is the first that is long enough for an item.
func firstDay(p Problem, it Item) int {
	for d, m := range p.Minutes {
		if m >= it.Minutes {
			return d
		}
	}
	return Days - 1
}

// brute tries every set of days for every item, and says whether all pins that can be had at all can be had together.
func brute(p Problem) (best []int, allPins bool) {
	var plans []Plan
	on := make([]uint8, len(p.Items))
	var single, most uint8
	var try func(i int)
	try = func(i int) {
		if i == len(p.Items) {
			plan := Plan{Out: make([]Out, len(p.Items))}
			pins := uint8(0)
			for k, m := range on {
				if plan.Out[k] = NoRoom; m == 0 {
					continue
				}
				plan.Out[k] = ""
				l := Line{k, m}
				plan.Lines = append(plan.Lines, l)
				if p.Items[k].Pinned {
					pins |= 1 << k
				}
				for d := range Days {
					if l.Has(d) {
						plan.Spent[d] += p.Items[k].Minutes
					}
				}
			}
			if broken(p, plan) == "" {
				single |= pins
				if bits.OnesCount8(pins) >= bits.OnesCount8(most) {
					most = pins
				}
				plans = append(plans, plan)
			}
			return
		}
		for m := range 1 << Days {
			ok := true
			for d := range Days {
				if m>>d&1 == 1 && p.Minutes[d] < p.Items[i].Minutes {
					ok = false
				}
			}
			if ok {
				on[i] = uint8(m)
				try(i + 1)
			}
		}
		on[i] = 0
	}
	try(0)
	allPins = most == single
	for _, plan := range plans {
		if w := worth(p, plan, allPins); slices.Compare(w, best) > 0 {
			best = w
		}
	}
	return best, allPins
}

// TestBest: on weeks small enough to try everything, the plan is worth as much as the best of all.
func TestBest(t *testing.T) {
	proved, some := 0, 0
	for seed := range uint64(400) {
		rng := rand.New(rand.NewPCG(seed, 2))
		p := drawn(rng, 4, 14)
		if seed%2 == 1 { // days that are packed with promises
			for i := range p.Items {
				if it := &p.Items[i]; rng.IntN(3) > 0 {
					it.Must, it.ByDay, it.Late = true, rng.IntN(Days), rng.IntN(3)
				}
			}
		}
		off := 0
		for d := range p.Minutes { // three or four days, so that all can be tried
			if p.Minutes[d] > 0 {
				if off++; off > 3 {
					p.Minutes[d] = 0
				}
			}
		}
		plan, err := Solve(p)
		if err != nil {
			t.Fatal(err)
		}
		want, allPins := brute(p)
		if why := broken(p, plan); why != "" {
			t.Fatalf("seed %d: %s", seed, why)
		}
		if plan.Proved {
			proved++
		}
		if want[len(want)-1] > 0 {
			some++
		}
		if got := worth(p, plan, allPins); !slices.Equal(got, want) {
			t.Fatalf("seed %d: worth %d, the best of all is worth %d\n%+v\n%+v", seed, got, want, p, plan)
		}
	}
	if proved != 400 || some < 200 {
		t.Errorf("%d of 400 proved, %d worth something", proved, some)
	}
}

// TestLongestUnseenFirst, and other things a teacher would expect.
func TestExpected(t *testing.T) {
	day := [Days]int{10, 10, 10, 0, 10, 10, 10}
	keep := func(id string, minutes, gain int) Item {
		it := Item{ID: id, Minutes: minutes, Hands: true, MostDays: 2}
		it.Gain[1], it.Gain[2] = gain, gain*5/4
		return it
	}
	solve := func(p Problem) map[string]uint8 {
		t.Helper()
		plan, err := Solve(p)
		if err != nil || !plan.Proved {
			t.Fatalf("%+v, %v", plan, err)
		}
		got := map[string]uint8{}
		for _, l := range plan.Lines {
			got[p.Items[l.Item].ID] = l.On
			if l.Has(3) {
				t.Errorf("%s is asked on the day off", p.Items[l.Item].ID)
			}
		}
		return got
	}
	joy := keep("joy", 3, 10)
	joy.Joy, joy.MostDays = true, 7
	must := keep("must", 4, 0)
	must.Must, must.ByDay = true, 1
	drill := keep("drill", 3, 400)
	drill.Tied, drill.Strain, drill.MostDays = "piece", true, 7
	got := solve(Problem{Minutes: day, Items: []Item{keep("a", 7, 900), keep("b", 7, 300), joy, must}})
	if n := (Line{On: got["joy"]}).Count(); n != 6 {
		t.Errorf("something joyful on %d of 6 days", n)
	}
	if got["must"]&3 == 0 {
		t.Errorf("the promise is kept on %07b", got["must"])
	}
	if (Line{On: got["a"]}).Count() < (Line{On: got["b"]}).Count() {
		t.Error("what is worth less is asked more often")
	}
	got = solve(Problem{Minutes: day, Items: []Item{keep("piece", 7, 100), drill}})
	if got["drill"] == 0 || got["piece"] == 0 {
		t.Errorf("a drill and its piece: %v", got)
	}
	promise := func(id string, minutes, late int) Item {
		it := keep(id, minutes, 10)
		it.Must, it.Late, it.MostDays = true, late, 1
		return it
	}
	// Both are due on the first day, which does not hold both: the one that is later goes first, and the other follows.
	got = solve(Problem{Minutes: [Days]int{4, 4, 0, 0, 4}, Items: []Item{promise("short", 2, 1), promise("long", 3, 2)}})
	if got["long"] != 0b1 || got["short"] != 0b10 {
		t.Errorf("two promises for one day: %v", got)
	}
	// Days of 4 minutes hold one thing of 3: the week's 16 minutes look like enough for five of them. What is later comes in.
	tight := Problem{Minutes: [Days]int{4, 4, 4, 0, 0, 4}}
	for i := range 5 {
		tight.Items = append(tight.Items, promise(string(rune('a'+i)), 3, i))
	}
	if got = solve(tight); len(got) != 4 || got["a"] != 0 || got["e"] != 0b1 {
		t.Errorf("five promises for four days: %v", got)
	}
	forbidden := keep("piece", 7, 100)
	forbidden.Forbid = true
	if got = solve(Problem{Minutes: day, Items: []Item{forbidden, drill}}); len(got) != 0 {
		t.Errorf("a drill without its piece: %v", got)
	}
	listen := Item{ID: "listen", Minutes: 5}
	listen.Gain = [Days + 1]int{0, 1, 2, 3, 4, 5, 6, 7}
	if got = solve(Problem{Minutes: day, Hurts: true, Items: []Item{keep("piece", 5, 900), listen}}); got["listen"] != 0b1110111 || got["piece"] != 0 {
		t.Errorf("while something hurts: %v", got)
	}
	twice := keep("x", 5, 1)
	for _, bad := range []Problem{
		{Items: []Item{{ID: "a"}}}, {Items: []Item{twice, twice}}, {Minutes: [Days]int{-1}},
		{Items: []Item{{ID: "a", Minutes: 3, Gain: [Days + 1]int{0, maxGain + 1}}}}, {Items: []Item{{ID: "a", Minutes: 3, Gain: [Days + 1]int{0, -1}}}},
	} {
		if _, err := Solve(bad); !errors.Is(err, ErrItem) {
			t.Errorf("%+v: %v", bad, err)
		}
	}
}

// sixty is a week of a student with sixty things to choose from.
func sixty(seed uint64) Problem {
	rng := rand.New(rand.NewPCG(seed, 3))
	p := Problem{Minutes: [Days]int{30, 30, 25, 30, 0, 45, 40}, MostNew: 2}
	for i := range 60 {
		it := Item{ID: fmt.Sprint(i), Minutes: 2 + rng.IntN(8), Hands: true, New: i%10 == 0, Joy: i%9 == 0, Strain: i%13 == 0, MostDays: 1 + rng.IntN(6)}
		g, step := 0, 100+rng.IntN(900)
		for n := 1; n <= Days; n++ {
			g, step = g+step, step*6/10
			it.Gain[n] = g
		}
		if i%12 == 5 {
			it.Must, it.ByDay = true, rng.IntN(Days)
		}
		if i%7 == 3 {
			it.Tied = fmt.Sprint(i - 1)
		}
		p.Items = append(p.Items, it)
	}
	return p
}

// BenchmarkSixty plans a week with sixty things to choose from: the goal is 50 ms.
func BenchmarkSixty(b *testing.B) {
	var proved, n uint64
	for b.Loop() {
		plan, err := Solve(sixty(n % 20))
		if err != nil {
			b.Fatal(err)
		}
		if n++; plan.Proved {
			proved++
		}
	}
	b.ReportMetric(float64(proved)/float64(n), "proved")
	b.ReportMetric(b.Elapsed().Seconds()*1000/float64(n), "ms/week")
}
