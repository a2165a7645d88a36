package studio

import (
	"cmp"
	"maps"
	"slices"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
)

// usedOnce is one time that something which needs a skill was asked or practised.
type usedOnce struct {
	Day  calendar.Day
	Work WorkID
}

// usedHeard is one time that it was heard.
type usedHeard struct {
	usedOnce
	Take  TakeID
	Right bool // it went right where the skill is needed
}

// usedSkill is the whole row of one skill. Each list is in order of time.
type usedSkill struct {
	Asked, Practised []usedOnce
	Heard            []usedHeard
}

// usedSkills follows each skill through all that a student was asked, practised and was heard in. Where it is known which bars of a
// work need a skill, only these count: what went wrong elsewhere, or was played without them, says nothing of it.
func (p *planning) usedSkills(h *History, laid [][]barFact) map[string]*usedSkill {
	out := map[string]*usedSkill{}
	each := func(w WorkID, from, to string, do func(name string, u *usedSkill)) {
		for _, name := range p.uses[w] {
			if from != "" || to != "" {
				runs := p.demands[w].runs(name)
				s, ok := p.barsOf(w, h.Heard).stretch(from, to)
				if ok && runs != nil && !slices.ContainsFunc(runs, func(r plan.Stretch) bool { return r.From <= s.To && s.From <= r.To }) {
					continue
				}
			}
			if out[name] == nil {
				out[name] = &usedSkill{}
			}
			do(name, out[name])
		}
	}
	for _, a := range h.Asked {
		if day, err := calendar.Read(a.Day); err == nil && a.Ask != AskHeld && a.Ask != AskListen && a.Ask != AskRest {
			each(a.Work, a.FromBar, a.ToBar, func(_ string, u *usedSkill) {
				u.Asked = append(u.Asked, usedOnce{min(day, p.today), a.Work})
			})
		}
	}
	for _, x := range h.Practised {
		if x.Day <= p.today && x.Done+x.Tries > 0 {
			each(x.Work, x.FromBar, x.ToBar, func(_ string, u *usedSkill) { u.Practised = append(u.Practised, usedOnce{x.Day, x.Work}) })
		}
	}
	for i, x := range h.Heard {
		day := p.day(x.At)
		if x.Summary == nil || day > p.today {
			continue
		}
		from, to := "", ""
		if laid[i] == nil { // which bars were played is known only by what was asked
			from, to = x.FromBar, x.ToBar
		}
		each(x.Work, from, to, func(name string, u *usedSkill) {
			one := usedHeard{usedOnce: usedOnce{day, x.Work}, Take: x.Take}
			if runs := p.demands[x.Work].runs(name); runs != nil && laid[i] != nil {
				at := there(laid[i], runs...)
				if at.Notes == 0 {
					return // these bars were not played
				}
				one.Right = at.rating() >= memory.Steady
			} else {
				one.Right = memory.Rate(memory.Heard{RightShare: x.Summary.RightShare, Complete: true, Stops: x.Summary.Restarts, SpreadPct: x.Summary.SteadinessPct}) >= memory.Steady
			}
			u.Heard = append(u.Heard, one)
		})
	}
	maps.DeleteFunc(out, func(_ string, u *usedSkill) bool { return len(u.Asked)+len(u.Practised)+len(u.Heard) == 0 })
	return out
}

// last of a row; the zero one where there is none.
func last[T any](all []T) (x T) {
	if len(all) > 0 {
		x = all[len(all)-1]
	}
	return x
}

// skills as the teacher says, and as it went where they are needed.
func (p *planning) skills(sp StudentPlan, h *History, laid [][]barFact) []plan.Skill {
	used := p.usedSkills(h, laid)
	for _, k := range sp.Known {
		if used[k] == nil {
			used[k] = &usedSkill{}
		}
	}
	out := make([]plan.Skill, 0, len(used))
	for name, u := range used {
		k := plan.Skill{Name: name, Known: slices.Contains(sp.Known, name), Asked: last(u.Asked).Day, Practised: last(u.Practised).Day}
		for _, x := range u.Heard[max(len(u.Heard)-mostHeardSkill, 0):] {
			k.Heard, k.Times = append(k.Heard, x.Right), append(k.Times, plan.SkillTime{Day: x.Day, Work: string(x.Work), Right: x.Right})
		}
		out = append(out, k)
	}
	slices.SortFunc(out, func(a, b plan.Skill) int { return cmp.Compare(a.Name, b.Name) })
	return out
}
