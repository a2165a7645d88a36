package scenario

import (
	"context"
	"fmt"
	"slices"
	"time"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/studio"
)

// evenings is what a family has and does: the minutes of its days from Monday on, all 0 where nobody said so, and on how
// many days a week something is tapped.
type evenings struct {
	minutes [7]int
	days    int
	fades   bool // less and less, and then nothing for three weeks
}

var atWork = map[string]evenings{
	"Tilda": {[7]int{15, 15, 10, 15, 15, 25, 0}, 4, false},
	"Bence": {[7]int{10, 10, 0, 10, 10, 15, 0}, 3, false},
	"Ada":   {[7]int{20, 20, 20, 20, 0, 30, 30}, 5, false},
	"Nils":  {[7]int{15, 0, 15, 15, 0, 20, 20}, 3, false},
	"Runa":  {[7]int{10, 0, 10, 10, 0, 15, 15}, 3, false},
	"Yusuf": {[7]int{25, 25, 25, 25, 25, 0, 40}, 5, false},
	"Lison": {[7]int{15, 15, 15, 15, 15, 0, 0}, 3, false},
	"Emil":  {[7]int{15, 15, 15, 15, 15, 15, 0}, 4, true},
	"Hana":  {[7]int{30, 20, 30, 20, 30, 40, 0}, 6, false},
	"Kenji": {[7]int{10, 10, 10, 10, 10, 0, 0}, 3, false},
	"Mira":  {[7]int{20, 20, 0, 20, 20, 25, 0}, 4, false},
	"Folu":  {[7]int{}, 3, true},
	"Inés":  {[7]int{20, 20, 20, 20, 20, 30, 30}, 5, false},
	"Jakub": {[7]int{}, 2, false},
	"Oscar": {[7]int{10, 10, 10, 10, 10, 0, 0}, 3, false},
	"Mateo": {[7]int{}, 0, false}, // a family that plays and taps nothing
}

// weeksTapped is how long families have had the page on their phones.
const weeksTapped = 13

// practised is what a family tapped in the week after a lesson, when it opened it, and on which days it played.
func (b *builder) practised(ctx context.Context, l Learner, s studio.Student, coach studio.Viewer, week int, lesson studio.Lesson) error {
	days := atWork[l.Name].days
	if atWork[l.Name].fades {
		days = min(days, max(0, week-2))
	}
	rng := dice(l.Name, week, "home")
	if days > 0 && rng.IntN(3) == 0 {
		days--
	}
	if week > weeksTapped || days == 0 {
		return nil
	}
	b.at(lesson.Sent.Add(time.Duration(30+rng.IntN(600)) * time.Minute))
	if err := b.desk.SeeLesson(ctx, coach, lesson.ID); err != nil {
		return err
	}
	if l.Name == "Tilda" && week == 0 || l.Name == "Bence" && week == 0 {
		return nil // theirs stands word by word in atHome
	}
	last := min(6, int(b.o.Now.Sub(lesson.Sent).Hours()/24))
	on := rng.Perm(max(last, 1))
	slices.Sort(on[:min(days, len(on))])
	var taps []studio.Tap
	tap := func(line int, at time.Time, kind studio.TapKind, more studio.Tap) {
		more.ID, more.Student, more.Assignment, more.Kind, more.At = fmt.Sprintf("demo-%s-%02d-%03d", s.ID[:12], week, len(taps)), s.ID, lesson.Assignments[line].ID, kind, at
		taps = append(taps, more)
	}
	for i, day := range on[:min(days, len(on))] {
		at := lesson.Sent.Truncate(24*time.Hour).AddDate(0, 0, day+1).Add(time.Duration(16*60+rng.IntN(150)) * time.Minute)
		if at.After(b.o.Now.Add(-30 * time.Minute)) {
			continue
		}
		for line, a := range lesson.Assignments {
			switch {
			case a.Ask != "" && a.Ask != studio.AskPlay || line > 1 && i%2 == 1:
				continue
			case a.Ladder.Clean > 0:
				rungs := a.Ladder.Rungs()
				bpm := rungs[min(i, len(rungs)-1)]
				for try := range 4 { // on the first day one does not come
					tap(line, at.Add(time.Duration(try)*time.Minute), studio.TapTry, studio.Tap{Clean: try+i > 0, Bpm: bpm, Seconds: 45})
				}
			default:
				tap(line, at.Add(time.Duration(5+line)*time.Minute), studio.TapDone, studio.Tap{Seconds: float64(120 * max(2, a.Minutes))})
			}
		}
	}
	if l.Name == "Nils" && week == 0 {
		for line, a := range lesson.Assignments {
			if a.Ask == studio.AskChoose && len(taps) > 0 {
				tap(line, taps[len(taps)-1].At.Add(time.Minute), studio.TapChose, studio.Tap{Text: a.Ways[1].Say})
			}
		}
	}
	if at := lesson.Sent.AddDate(0, 0, 7).Add(-time.Hour); at.Before(b.o.Now.Add(-2 * time.Hour)) {
		b.at(at)
	} else {
		b.at(b.o.Now.Add(-2 * time.Hour))
	}
	return b.desk.Tap(ctx, coach, taps)
}

// settled is what the teacher settled for the plans: holidays, what must not be silent for long, the minutes of families,
// and a day on which something is played for others.
func (b *builder) settled(ctx context.Context) error {
	b.at(b.o.Now.AddDate(0, 0, -2))
	today := calendar.Of(b.o.Now)
	const group = "Scales and patterns"
	if err := b.desk.SettleStudio(ctx, b.v, calendar.Free{{From: today + 24, To: today + 38, Name: "Winter holiday"}}, []plan.Group{{Name: group, LimitDays: 21}}); err != nil {
		return err
	}
	says := map[string]studio.WorkSays{
		"one-octave-in-c":           {Kind: plan.Technique, Minutes: 3, Group: group},
		"two-octaves-in-g":          {Kind: plan.Technique, Minutes: 3, Group: group},
		"long-and-short-in-e-minor": {Kind: plan.Technique, Minutes: 3, Group: group},
		"broken-chords-pima":        {Kind: plan.Technique, Minutes: 3, Group: group, For: b.works["wheel"].ID},
		"hot-cross-buns":            {Joy: true},
		"row-your-boat":             {Joy: true},
		"brook":                     {Joy: true},
	}
	for _, p := range b.pieces {
		if s, ok := says[p.Name]; ok {
			if err := b.desk.SayOfWork(ctx, b.v, b.works[p.Name].ID, s); err != nil {
				return fmt.Errorf("%s: %w", p.Title, err)
			}
		}
	}
	for name, e := range atWork {
		if e.minutes == [7]int{} {
			continue
		}
		s := studio.PlanSettings{Minutes: e.minutes, MostNew: 1}
		switch name {
		case "Yusuf":
			s.Recital = &plan.Recital{Day: today + 40, Works: []string{string(b.works["duo"].ID), string(b.works["brook"].ID)}}
		case "Lison": // the two weeks without a take
			s.Holidays = calendar.Free{{From: today - 84, To: today - 71, Name: "With the grandparents"}}
		}
		if _, err := b.desk.SettlePlan(ctx, b.v, b.homes[name].student, s); err != nil {
			return fmt.Errorf("the plan of %s: %w", name, err)
		}
	}
	return nil
}
