package year

import (
	"antiphon/internal/plan/warn"
)

// Warned is what early warnings said and what came.
type Warned struct {
	Said, Came []float64
	Habits     []string
}

// Warnings learns from the first half of the weeks, as a studio would at that time, and warns in the second, every
// fourth teaching week.
func Warnings(s *Settings, seed uint64, students int) Warned {
	const every = 4
	half := s.Weeks / 2
	var early, whole [][]warn.Week
	var habits []string
	at := make([]int, students) // teaching weeks of the first half
	for i := range students {
		st := s.Draw(seed, uint64(i))
		st.live(s, s.Weeks)
		var h []warn.Week
		for w, x := range st.weeks {
			if w == half {
				at[i] = len(h)
			}
			if x.teaching {
				h = append(h, warn.Week{Came: x.came, Minutes: x.minutes})
			}
		}
		early, whole, habits = append(early, h[:at[i]]), append(whole, h), append(habits, st.Habit.Name)
	}
	m := warn.Fit(early)
	var out Warned
	for i, h := range whole {
		for w := at[i] + 1 + i%every; w+warn.Ahead <= len(h); w += every {
			came := 1.0
			for _, x := range h[w : w+warn.Ahead] {
				if x.Came {
					came = 0
				}
			}
			out.Said, out.Came, out.Habits = append(out.Said, m.Quiet(h[:w])), append(out.Came, came), append(out.Habits, habits[i])
		}
	}
	return out
}

// Skill is by how much the warnings are better than the rate at which it really came, said to everybody.
func (w Warned) Skill() float64 {
	rate := 0.0
	for _, c := range w.Came {
		rate += c / float64(len(w.Came))
	}
	base := make([]float64, len(w.Came))
	for i := range base {
		base[i] = rate
	}
	return 1 - warn.Brier(w.Said, w.Came)/warn.Brier(base, w.Came)
}
