// Package week finds the best plan of one week under the minutes a family has, and proves it where it
// can: what is asked on which day.
//
// What each thing is worth comes from the caller, together with the words why. The hard rules are kept
// here and nothing buys its way past them: the minutes of each day, what must be known before, how much is
// new, hands that hurt, drills that strain. It knows no clock and no chance: the same problem has the same plan.
package week

import (
	"errors"
	"fmt"
	"math/bits"
)

// Days of a plan, the first one the day after the lesson.
const Days = 7

// Item is one thing that may be asked.
type Item struct {
	ID      string
	Title   string
	Minutes int           // of one sitting, at least 1
	Gain    [Days + 1]int // what so many sittings in the week are worth, in thousandths; Gain[0] is what leaving it out is worth, 0 as a rule

	MostDays int      // sittings in the week at most; 0: one a day
	Must     bool     // leaving it out breaks a promise: it goes before all that is only worth something
	ByDay    int      // of Must: the first sitting comes on this day or before, counted from 0
	Late     int      // of Must: how late it is for the promise, in days from any beginning; the latest goes first
	Pinned   bool     // the teacher wants it; before Must
	On       uint8    // of Pinned: on exactly these days, bit 0 the first; 0: the plan may choose
	Forbid   bool     // the teacher does not want it
	New      bool     // not met before
	Joy      bool     // easy and liked
	Strain   bool     // barre, stretch or fourth-finger drill
	Hands    bool     // it loads the hands; what does not may be done while something hurts
	Tied     string   // id of the item that it serves: not without that
	Missing  []string // what must be learnt before, in words; with any of them it is not asked

	Why  string // why it would be asked, a clause or a sentence
	Next string // what comes next, under which condition
}

// Problem is a week to be planned.
type Problem struct {
	Minutes   [Days]int // the family has on each day; 0 on days off
	MostWeek  int       // minutes of the week altogether, so that nobody doubles the load at once; 0 no limit
	Items     []Item
	MostNew   int  // new items in the week
	Hurts     bool // something hurts: nothing that loads the hands
	StrainMin int  // minutes of strain a day; 0: UsualStrain
	Effort    int  // of the search, in tries; 0: UsualEffort
}

// UsualStrain is how many minutes a day drills that strain may take (a caution of the trade, no source).
const UsualStrain = 5

// UsualEffort ends a search within a few hundredths of a second.
const UsualEffort = 20_000

// What goes before what, in thousandths. Gains must stay below maxGain in all.
const (
	maxGain  = 10_000_000
	joyDay   = 20_000_000 // a day with something joyful
	mustBe   = 1_000_000_000
	mostRank = 1 << 20 // of promises one above the other; what is later than twenty others is as they are
	pinnedBe = 20_000_000_000_000_000
	mostLate = 400
)

// Line is one thing of a plan.
type Line struct {
	Item int   // of the problem
	On   uint8 // days, bit 0 the first
}

// Count is on how many days.
func (l Line) Count() int { return bits.OnesCount8(l.On) }

// Has says that it is asked on a day.
func (l Line) Has(day int) bool { return l.On>>day&1 == 1 }

// Out is why an item is not in a plan.
type Out string

const (
	Forbidden   Out = "forbidden"    // the teacher said so
	NotYet      Out = "not-yet"      // something must be learnt before
	HandsRest   Out = "hands-rest"   // something hurts
	WithoutWork Out = "without-work" // what it serves is not asked
	NoRoom      Out = "no-room"      // the minutes are worth more elsewhere
	NewEnough   Out = "new-enough"   // enough that is new
	NoDay       Out = "no-day"       // no day is long enough for it
)

// Plan is the best plan, or the best that was found.
type Plan struct {
	Lines  []Line
	Spent  [Days]int // minutes
	Out    []Out     // for each item why it is not in the plan; "" where it is
	Gain   int       // in thousandths, without what promises and pins count
	Proved bool      // no plan is better
	Gap    int       // where not proved: no plan is better by more than this

	value int
}

// ErrItem is an item that no plan can be made of.
var ErrItem = errors.New("item cannot be planned")

func (p *Problem) check() error {
	seen, tied := map[string]bool{}, map[string]bool{}
	for i := range p.Items {
		tied[p.Items[i].ID] = p.Items[i].Tied != ""
	}
	sum := 0
	for i := range p.Items {
		it := &p.Items[i]
		switch {
		case it.ID == "" || seen[it.ID]:
			return fmt.Errorf("%w: item %d has no id of its own (%q)", ErrItem, i+1, it.ID)
		case it.Minutes < 1 || it.Minutes > 240:
			return fmt.Errorf("%w: %s takes %d minutes, and 1 to 240 can be planned", ErrItem, it.ID, it.Minutes)
		}
		if it.Tied != "" && tied[it.Tied] {
			return fmt.Errorf("%w: %s serves %s, which serves something itself", ErrItem, it.ID, it.Tied)
		}
		seen[it.ID] = true
		most := 0
		for _, g := range it.Gain {
			if g < 0 {
				return fmt.Errorf("%w: %s has a gain below 0", ErrItem, it.ID)
			}
			most = max(most, g)
		}
		sum += most
	}
	if sum > maxGain {
		return fmt.Errorf("%w: the gains sum to %d, more than %d", ErrItem, sum, maxGain)
	}
	for d, m := range p.Minutes {
		if m < 0 || m > 600 {
			return fmt.Errorf("%w: day %d has %d minutes, and 0 to 600 can be planned", ErrItem, d+1, m)
		}
	}
	return nil
}

// Solve finds the best plan.
func Solve(p Problem) (Plan, error) {
	if err := p.check(); err != nil {
		return Plan{}, err
	}
	s := newSearch(&p)
	s.run()
	return s.plan(), nil
}

// Shorten plans the same week in fewer minutes with what an earlier plan asks, and nothing else: who has less
// time is not given something new to do. No item gets more days than before.
func Shorten(p Problem, before Plan, minutes [Days]int) (Plan, error) {
	days := make([]int, len(p.Items))
	for _, l := range before.Lines {
		days[l.Item] = l.Count()
	}
	items := append([]Item(nil), p.Items...)
	for i := range items {
		if days[i] == 0 {
			items[i].Forbid = true
		} else {
			items[i].MostDays = days[i]
		}
	}
	p.Items = items
	for d := range p.Minutes {
		p.Minutes[d] = min(p.Minutes[d], minutes[d])
	}
	return Solve(p)
}
