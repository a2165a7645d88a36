package studio

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// DeskView is what lies on the teacher's desk.
type DeskView struct {
	Waiting       []Bundle // the most urgent first: something hurts, then what is due, then who waits longest for a word
	Quiet         []Quiet  // who has sent nothing for a while, the longest first
	PromisedToday int      // bundles whose answer is due today, or was
	Arriving      []Take
	NeedsLook     []Take // that the ear could do nothing with, and nobody answered
	Unsorted      int
}

// Bundle is all that one student sent and was not answered.
type Bundle struct {
	Student    Student
	Family     Family
	Takes      []Take // the oldest first
	Due        time.Time
	Hurt       bool
	SilentDays int     // since the last lesson was sent; -1 for none yet
	Minutes    float64 // that it will take
	Why        string  // one sentence
}

// Quiet is a student who has sent nothing for a while.
type Quiet struct {
	Student Student
	Family  Family
	Last    time.Time // arrival of the last take; zero for none
	Days    int       // since then, or since the student came
}

// quietAfter is when a silence is shown: two lessons of a weekly rhythm were missed (our choice, no source).
const quietAfter = 14

// A take is heard one and a half times, and needs a minute for what is said; one of unknown length
// counts as two minutes (our choice, no source).
const (
	hearings       = 1.5
	wordsMinutes   = 1
	unknownMinutes = 2
)

const itsTheDesk = "The desk is the teacher's."

// Look shows the desk.
func (d *Desk) Look(ctx context.Context, v Viewer) (DeskView, error) {
	if err := v.must(itsTheDesk, Teacher); err != nil {
		return DeskView{}, err
	}
	in := v.scope()
	var (
		view     DeskView
		st       Studio
		students []Student
		families []Family
		open     []Take
		pulses   []Pulse
		unsorted []Unsorted
	)
	for _, ask := range []func() error{
		func() (err error) { st, err = d.store.Studio(ctx, v.Studio); return },
		func() (err error) { students, err = d.store.Students(ctx, in); return },
		func() (err error) { families, err = d.store.Families(ctx, in); return },
		func() (err error) { open, err = d.store.Unanswered(ctx, in); return },
		func() (err error) { pulses, err = d.store.Pulse(ctx, v.Studio); return },
		func() (err error) {
			view.Arriving, err = d.store.Takes(ctx, in, TakeQuery{State: Arriving, Limit: mostAPage})
			return
		},
		func() (err error) { unsorted, err = d.store.AllUnsorted(ctx, v.Studio); return },
	} {
		if err := ask(); err != nil {
			return DeskView{}, problemOf(err)
		}
	}
	view.Unsorted = len(unsorted)
	who := map[StudentID]Student{}
	for _, s := range students {
		who[s.ID] = s
	}
	home := map[FamilyID]Family{}
	for _, f := range families {
		home[f.ID] = f
	}
	pulse := map[StudentID]Pulse{}
	for _, p := range pulses {
		pulse[p.Student] = p
	}
	now := d.now()
	at := map[StudentID]int{}
	for _, t := range open {
		i, there := at[t.Student]
		if !there {
			i = len(view.Waiting)
			at[t.Student] = i
			view.Waiting = append(view.Waiting, Bundle{Student: who[t.Student], Family: home[t.Family],
				Due: t.Arrived.AddDate(0, 0, st.ReplyDays), SilentDays: days(pulse[t.Student].Told, now)})
		}
		view.Waiting[i].add(t)
		if t.State == NeedsALook && !t.OnlyTold() {
			view.NeedsLook = append(view.NeedsLook, t)
		}
	}
	slices.SortStableFunc(view.Waiting, Bundle.compare)
	today := d.midnight(now)
	for i := range view.Waiting {
		b := &view.Waiting[i]
		b.Why = b.why(today)
		if b.Due.Before(today.AddDate(0, 0, 1)) {
			view.PromisedToday++
		}
	}
	for _, s := range students {
		p := pulse[s.ID]
		since := p.Heard
		if since.IsZero() {
			since = s.Since
		}
		if n := days(since, now); n >= quietAfter {
			view.Quiet = append(view.Quiet, Quiet{Student: s, Family: home[s.Family], Last: p.Heard, Days: n})
		}
	}
	slices.SortStableFunc(view.Quiet, func(a, b Quiet) int { return b.Days - a.Days })
	return view, nil
}

func (b *Bundle) add(t Take) {
	b.Takes = append(b.Takes, t)
	b.Hurt = b.Hurt || t.Hurt
	listen := float64(unknownMinutes)
	if t.DurationS > 0 {
		listen = hearings * t.DurationS / 60
	}
	b.Minutes += listen + wordsMinutes
}

// compare puts the more urgent bundle first.
func (b Bundle) compare(c Bundle) int {
	switch {
	case b.Hurt && !c.Hurt:
		return -1
	case c.Hurt && !b.Hurt:
		return 1
	case !b.Due.Equal(c.Due):
		return b.Due.Compare(c.Due)
	case b.silence() != c.silence():
		return cmp.Compare(c.silence(), b.silence())
	}
	return cmp.Compare(b.Student.ID, c.Student.ID)
}

// silence in days; never told anything is the longest.
func (b Bundle) silence() int {
	if b.SilentDays < 0 {
		return math.MaxInt
	}
	return b.SilentDays
}

// why is the reason for a bundle's place, in one sentence. Today is the midnight that it began with.
func (b Bundle) why(today time.Time) string {
	var due string
	switch n := nights(today, b.Due); {
	case n < 0:
		due = fmt.Sprintf("the answer was promised %s ago", counted(-n, "day"))
	case n == 0:
		due = "the answer is promised for today"
	case n == 1:
		due = "the answer is promised for tomorrow"
	case n < 7:
		due = "the answer is promised for " + b.Due.In(today.Location()).Format("Monday")
	default:
		due = "the answer is promised in " + counted(n, "day")
	}
	if b.Hurt {
		return "Something hurt: look at this first; " + due + "."
	}
	return strings.ToUpper(due[:1]) + due[1:] + "."
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// midnight is when the day of t began, where the studio is.
func (d *Desk) midnight(t time.Time) time.Time {
	y, m, day := t.In(d.o.Zone).Date()
	return time.Date(y, m, day, 0, 0, 0, 0, d.o.Zone)
}

// nights from the day that began at today to the day of t; before it they are negative.
func nights(today, t time.Time) int {
	y, m, day := t.In(today.Location()).Date()
	// In UTC every day has 24 hours.
	ty, tm, tday := today.Date()
	return int(time.Date(y, m, day, 0, 0, 0, 0, time.UTC).Sub(time.Date(ty, tm, tday, 0, 0, 0, 0, time.UTC)) / (24 * time.Hour))
}

// days between two moments, whole ones; -1 where there is no first.
func days(from, to time.Time) int {
	if from.IsZero() {
		return -1
	}
	return int(to.Sub(from) / (24 * time.Hour))
}
