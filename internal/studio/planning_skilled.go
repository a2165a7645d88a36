package studio

import (
	"cmp"
	"slices"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
	"antiphon/internal/plan/skills"
)

// RememberedSkill is the memory of one skill.
type RememberedSkill struct {
	Name   string
	Why    SkillWhy
	Chance float64 // that it is there, 0 to 1, by what was heard of it alone

	Asked     SkillLast
	Practised SkillLast
	Heard     SkillLast
	Times     []SkillTime // each time it was heard, the oldest first
	Through   []SkillIn   // works that needed it, the last met first
	Remarks   int         // about it, by the book of remedies

	Open  []Work // that need it, are not begun, and are open because of it
	Opens []Work // that only this skill stands before
	Build []Work // exercises that build it and are not begun, the least demanding first

	Silent int       // days since anything played needed it; 0 where that is not long, or never was
	Alive  []SkillIn // what would keep it alive: what is kept and needs it, then exercises that build it
}

// SkillWhy is why a skill counts as it does.
type SkillWhy string

const (
	SkillSaid    SkillWhy = "said"    // the teacher says that it is there
	SkillBuilt   SkillWhy = "built"   // an exercise that builds it was learnt
	SkillHeard   SkillWhy = "heard"   // it went right often enough
	SkillComing  SkillWhy = "coming"  // it was met, and is not yet to be relied on
	SkillNew     SkillWhy = "new"     // nothing that needs it was heard
	SkillWithout SkillWhy = "without" // these hands do without it
)

// SkillLast is when something that needs a skill was last asked, practised or heard, and what.
type SkillLast struct {
	Day  calendar.Day // 0 never
	Work Work
}

// SkillTime is one hearing of something that needs a skill, and what is believed of it after that.
type SkillTime struct {
	Day    calendar.Day
	Work   WorkID
	Take   TakeID
	Right  bool
	Chance float64
}

// SkillIn is a work through which a skill is met.
type SkillIn struct {
	Work  Work
	Stage plan.Stage // "" not begun
	Bars  []string   // that need it, as they are said: "3", "5–8"; none: not known
	Heard int
	Right int
	Last  calendar.Day
}

// silentDays are after how many days without being needed a skill is said to be silent. Our choice.
const silentDays = 40

// rememberedSkills are the skills that a student met, and those that stand before something, by what was met last.
func (p *planning) rememberedSkills(pl *plan.Planner, st *plan.Student, h *History, meant map[string][]string) []RememberedSkill {
	used := p.usedSkills(h, p.laid(h))
	met := map[string]bool{}
	for name := range used {
		met[name] = true
	}
	for _, s := range st.Skills {
		met[s.Name] = true
	}
	for _, s := range st.Without {
		met[s] = true
	}
	known := pl.Skills(st)
	title := func(id string) string { return p.works[WorkID(id)].Title }
	stage := map[string]plan.Stage{}
	for _, it := range st.Items {
		stage[it.Work] = it.Stage
	}
	opens, open := map[string][]Work{}, map[string][]Work{}
	for _, w := range p.state.Works {
		if stage[w.ID] != "" || w.Kind == plan.Listening {
			continue
		}
		sw := skills.Work{ID: w.ID, Needs: w.Needs, After: w.After}
		switch missing := skills.Missing(sw, known, title); {
		case len(missing) == 0:
			for _, n := range w.Needs {
				open[n] = append(open[n], p.works[WorkID(w.ID)])
			}
		case len(missing) == 1 && slices.Contains(w.Needs, missing[0]):
			opens[missing[0]] = append(opens[missing[0]], p.works[WorkID(w.ID)])
			met[missing[0]] = true
		}
	}
	remarks := map[string]int{}
	for _, r := range h.Said {
		for _, name := range meant[r.Remedy] {
			remarks[name]++
		}
	}
	var out []RememberedSkill
	for name := range met {
		u := cmp.Or(used[name], &usedSkill{})
		s := RememberedSkill{Name: name, Open: open[name], Opens: opens[name], Remarks: remarks[name]}
		s.follow(p, u)
		s.why(p, st, known)
		s.through(p, u, stage)
		s.silent(p, stage)
		out = append(out, s)
	}
	slices.SortFunc(out, func(a, b RememberedSkill) int {
		return cmp.Or(cmp.Compare(b.lastMet(), a.lastMet()), cmp.Compare(a.Name, b.Name))
	})
	return out
}

// lastMet is the day on which anything that needs a skill was last met.
func (s *RememberedSkill) lastMet() calendar.Day { return max(s.Asked.Day, s.lastPlayed()) }

func (s *RememberedSkill) lastPlayed() calendar.Day { return max(s.Practised.Day, s.Heard.Day) }

// follow tells what was believed after each hearing.
func (s *RememberedSkill) follow(p *planning, u *usedSkill) {
	of := func(x usedOnce) SkillLast { return SkillLast{x.Day, p.works[x.Work]} }
	s.Asked, s.Practised, s.Heard = of(last(u.Asked)), of(last(u.Practised)), of(last(u.Heard).usedOnce)
	k := memory.UsualSkill()
	s.Chance = k.Before
	for _, x := range u.Heard {
		_, s.Chance = k.Hear(s.Chance, x.Right)
		s.Times = append(s.Times, SkillTime{x.Day, x.Work, x.Take, x.Right, s.Chance})
	}
}

func (s *RememberedSkill) why(p *planning, st *plan.Student, known skills.Student) {
	said := slices.ContainsFunc(st.Skills, func(k plan.Skill) bool { return k.Name == s.Name && k.Known })
	switch there := known.Chance[s.Name] >= memory.Mastered; {
	case known.Without[s.Name]:
		s.Why = SkillWithout
	case said:
		s.Why = SkillSaid
	case there && s.Chance < memory.Mastered:
		s.Why = SkillBuilt
	case there:
		s.Why = SkillHeard
	case len(s.Times) > 0:
		s.Why = SkillComing
	default:
		s.Why = SkillNew
	}
}

// through gathers the works through which a skill was met, and what else builds it.
func (s *RememberedSkill) through(p *planning, u *usedSkill, stage map[string]plan.Stage) {
	at := map[WorkID]int{}
	met := func(x usedOnce) *SkillIn {
		i, there := at[x.Work]
		if !there {
			i = len(s.Through)
			at[x.Work] = i
			s.Through = append(s.Through, p.skillIn(s.Name, x.Work, stage))
		}
		s.Through[i].Last = max(s.Through[i].Last, x.Day)
		return &s.Through[i]
	}
	for _, list := range [][]usedOnce{u.Asked, u.Practised} {
		for _, x := range list {
			met(x)
		}
	}
	for _, x := range u.Heard {
		in := met(x.usedOnce)
		if in.Heard++; x.Right {
			in.Right++
		}
	}
	slices.SortStableFunc(s.Through, func(a, b SkillIn) int { return cmp.Compare(b.Last, a.Last) })
	for _, w := range p.builders(s.Name) {
		if stage[string(w)] == "" {
			s.Build = append(s.Build, p.works[w])
		}
	}
}

// builders of a skill, the least demanding first.
func (p *planning) builders(skill string) []WorkID {
	var all []plan.Work
	for _, w := range p.state.Works {
		if slices.Contains(w.Builds, skill) {
			all = append(all, w)
		}
	}
	slices.SortStableFunc(all, func(a, b plan.Work) int { return cmp.Compare(cmp.Or(a.Load, 1), cmp.Or(b.Load, 1)) })
	out := make([]WorkID, len(all))
	for i, w := range all {
		out[i] = WorkID(w.ID)
	}
	return out
}

func (p *planning) skillIn(name string, w WorkID, stage map[string]plan.Stage) SkillIn {
	in := SkillIn{Work: p.works[w], Stage: stage[string(w)]}
	names := p.barsOf(w, nil).names
	for _, r := range p.demands[w].runs(name) {
		if r.To >= len(names) {
			continue
		}
		if r.From == r.To {
			in.Bars = append(in.Bars, names[r.From])
		} else {
			in.Bars = append(in.Bars, names[r.From]+"–"+names[r.To])
		}
	}
	return in
}

// silent says for how long nothing that was played needed a skill which is there, and what would keep it alive.
func (s *RememberedSkill) silent(p *planning, stage map[string]plan.Stage) {
	since := int(p.today - s.lastPlayed())
	if s.lastPlayed() == 0 || since <= silentDays || s.Why == SkillWithout {
		return
	}
	s.Silent = since
	for _, in := range s.Through {
		if in.Stage == plan.Kept {
			s.Alive = append(s.Alive, in)
		}
	}
	for _, w := range p.builders(s.Name) {
		if !slices.ContainsFunc(s.Alive, func(in SkillIn) bool { return in.Work.ID == w }) {
			s.Alive = append(s.Alive, p.skillIn(s.Name, w, stage))
		}
	}
}
