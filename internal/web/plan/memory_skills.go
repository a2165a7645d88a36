package plan

import (
	"fmt"
	"html/template"
	"slices"
	"strings"

	"antiphon/internal/plan/calendar"
	"antiphon/internal/studio"
)

// skillView is the memory of one skill.
type skillView struct {
	ID, Name string
	Of       string // as the search for remarks names it
	State    string
	Says     string
	Silent   string
	Strip    template.HTML
	Curve    template.HTML
	Through  []throughView
	Opens    []string // sentences
	Remarks  string
}

type throughView struct{ Work, Title, Where, Went, Last string }

// mostNamed works stand in one sentence.
const mostNamed = 4

// skillsOf are those that were met, and those that only stand before something.
func skillsOf(m studio.Memory, titles map[studio.WorkID]string) (met, unmet []skillView) {
	for _, s := range m.Skills {
		if x := skillOf(s, titles, m.Today); len(s.Through) > 0 {
			met = append(met, x)
		} else {
			unmet = append(unmet, x)
		}
	}
	return met, unmet
}

func skillOf(s studio.RememberedSkill, titles map[studio.WorkID]string, today calendar.Day) skillView {
	x := skillView{ID: "s-" + strings.ReplaceAll(s.Name, " ", "-"), Name: capital(s.Name), Of: aboutSkill + aboutSplit + s.Name,
		State: skillState(s), Silent: silence(s)}
	if len(s.Through) > 0 {
		x.Says = skillSays(s, today)
	}
	if s.Remarks > 0 {
		x.Remarks = plural(s.Remarks, "remark") + " about it"
	}
	if len(s.Open) > 0 && s.Why != studio.SkillWithout {
		x.Opens = append(x.Opens, "It has opened the way to "+named(s.Open)+".")
	}
	if len(s.Opens) > 0 && s.Why != studio.SkillWithout {
		x.Opens = append(x.Opens, "It would open the way to "+named(s.Opens)+": nothing else stands before "+itOrThem(len(s.Opens))+".")
	}
	if len(s.Build) > 0 && (s.Why == studio.SkillComing || s.Why == studio.SkillNew) {
		x.Opens = append(x.Opens, "It could be built with "+named(s.Build)+".")
	}
	var marks []mark
	well := 0
	for _, t := range s.Times {
		if marks = append(marks, mark{t.Day, t.Right, t.Chance}); t.Right {
			well++
		}
	}
	if len(marks) > 0 {
		x.Strip = strip(newestOf(marks, marksDrawn), fmt.Sprintf("Heard %s: %s.", plural(len(marks), "time"), wentRight(well, len(marks))))
	}
	x.Curve = belief(newestOf(marks, marksDrawn), fmt.Sprintf("How sure it is that %s is there, after each of %s: %s. Now it %s.", s.Name, plural(len(marks), "recording"), wentRight(well, len(marks)), x.State))
	for _, in := range s.Through {
		t := throughView{Work: string(in.Work.ID), Title: in.Work.Title, Last: agoIn(in.Last, today), Went: "not heard there yet"}
		if in.Heard > 0 {
			t.Went = fmt.Sprintf("heard %s: %s", plural(in.Heard, "time"), wentRight(in.Right, in.Heard))
		}
		switch n := len(in.Bars); {
		case n == 1 && !strings.Contains(in.Bars[0], "–"):
			t.Where = "bar " + in.Bars[0]
		case n > mostNamed:
			t.Where = fmt.Sprintf("bars %s and elsewhere", strings.Join(in.Bars[:mostNamed], ", "))
		case n > 0:
			t.Where = "bars " + listed(in.Bars)
		}
		x.Through = append(x.Through, t)
	}
	return x
}

func itOrThem(n int) string {
	if n == 1 {
		return "it"
	}
	return "them"
}

// wrongOn says that a skill did not go right once on the last so many days on which it was heard.
func wrongOn(times []studio.SkillTime, days int) bool {
	n, day := 0, calendar.Day(0)
	for _, t := range slices.Backward(times) {
		if t.Day != day {
			n, day = n+1, t.Day
		}
		if n > days {
			break
		}
		if t.Right {
			return false
		}
	}
	return n >= days
}

func skillState(s studio.RememberedSkill) string {
	switch s.Why {
	case studio.SkillSaid:
		return "is there, as you said"
	case studio.SkillBuilt:
		return "is there: what builds it was learnt"
	case studio.SkillHeard:
		if wrongOn(s.Times, 2) {
			return "is there, but was not right on the last two days it was heard"
		}
		return "is there"
	case studio.SkillWithout:
		return "is one that these hands do without"
	case studio.SkillNew:
		if len(s.Through) > 0 {
			return "was begun, and not heard yet"
		}
		return "was not met yet"
	}
	switch {
	case s.Chance >= 0.75:
		return "is nearly there"
	case s.Chance >= 0.4:
		return "is on its way"
	}
	return "is not there yet"
}

func skillSays(s studio.RememberedSkill, today calendar.Day) string {
	var says []string
	var in studio.WorkID // the work that was named last
	for _, x := range []struct {
		did, never string
		last       studio.SkillLast
	}{{"asked", "asked never", s.Asked}, {"practised", "no practice tapped", s.Practised}, {"heard", "no recording", s.Heard}} {
		say := x.never
		if x.last.Day != 0 {
			if say = x.did + " " + agoIn(x.last.Day, today); x.last.Work.ID != in {
				say, in = say+" in "+x.last.Work.Title, x.last.Work.ID
			}
		}
		says = append(says, say)
	}
	return "Last " + strings.Join(says, ", ") + "."
}

// silence says that nothing needed a skill for long, and what would keep it alive.
func silence(s studio.RememberedSkill) string {
	if s.Silent == 0 {
		return ""
	}
	say := fmt.Sprintf("Not needed by anything played for %s.", plural(s.Silent, "day"))
	var once, drills []string
	for _, in := range s.Alive {
		switch {
		case in.Stage == "kept" && len(once) < 2:
			once = append(once, in.Work.Title)
		case in.Stage != "kept" && len(drills) < 2:
			drills = append(drills, in.Work.Title)
		}
	}
	switch {
	case len(once) > 0:
		return say + " Once through " + strings.Join(once, " or ") + ", which is kept, would keep it alive."
	case len(drills) > 0:
		return say + " " + strings.Join(drills, " or ") + " would keep it alive."
	}
	return say + " Nothing that is kept needs it, and nothing in the library builds it."
}

// named lists the titles of some works.
func named(works []studio.Work) string {
	var out []string
	for i, w := range works {
		if i == mostNamed && len(works) > mostNamed+1 {
			out = append(out, fmt.Sprintf("%d more", len(works)-mostNamed))
			break
		}
		out = append(out, w.Title)
	}
	return listed(out)
}
