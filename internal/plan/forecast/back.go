package forecast

import (
	"fmt"
	"slices"

	"antiphon/internal/plan/calendar"
)

// Stage is a recital that is planned backwards.
type Stage struct {
	Question
	Titles []string // of the works that are left, beside Left
	Begun  int      // so many of them, from the first on, are being learnt
	On     calendar.Day
	Polish int // teaching weeks before it in which nothing new is learnt; 0: 3
}

// Milestone is the last day on which a work may be begun; of one that is being learnt, the last on which it may be where
// it is now.
type Milestone struct {
	Title string       `json:"title"`
	By    calendar.Day `json:"by"`
	Late  bool         `json:"late"` // the day is past
	Say   string       `json:"say"`
}

// Backwards is a way back from a recital.
type Backwards struct {
	Chance     float64      // that all is learnt when polishing begins, 0 to 1
	Polish     calendar.Day // when it begins
	Milestones []Milestone  // in the order of the works
	Fit        int          // works, from the first on, that are learnt in time in four of five cases
	Words      string
}

// Back plans backwards: each work is to be begun so early that it and those after it are learnt in
// four of five cases before polishing begins.
func Back(s Stage) Backwards {
	polish := s.Polish
	if polish <= 0 {
		polish = 3
	}
	b := Backwards{Polish: before(s.Free, s.On, s.From, polish)}
	have := float64(s.Free.TeachingWeeks(s.From, b.Polish))
	within := func(left []float64) float64 {
		q := s.Question
		q.Left = left
		w := q.weeks()
		n, _ := slices.BinarySearch(w, have+1e-9)
		return float64(n) / float64(len(w))
	}
	b.Chance = within(s.Left)
	for n := len(s.Left); n > 0; n-- {
		if within(s.Left[:n]) >= 0.8 {
			b.Fit = n
			break
		}
	}
	for i := range s.Left {
		q := s.Question
		q.Left = s.Left[i:]
		if i > 0 {
			q.Student.Now = Step{}
		}
		need := int(quantile(q.weeks(), 0.8) + 0.999)
		m := Milestone{By: before(s.Free, b.Polish, s.From-3650, need)}
		if i < len(s.Titles) {
			m.Title = s.Titles[i]
		}
		m.Late = m.By < s.From
		switch {
		case i < s.Begun && m.Late:
			m.Say = fmt.Sprintf("%s is being learnt; whether it is ready in time is not sure.", m.Title)
		case i < s.Begun:
			m.Say = fmt.Sprintf("%s is being learnt, and likely ready in time.", m.Title)
		case m.Late:
			m.Say = fmt.Sprintf("%s should have been begun by %s to be sure.", m.Title, m.By.Short())
		default:
			m.Say = fmt.Sprintf("Begin %s by %s.", m.Title, m.By.Short())
		}
		b.Milestones = append(b.Milestones, m)
	}
	b.Words = s.words(b, have)
	return b
}

// before is the day so many teaching weeks before another, not earlier than the first day; where that is reached,
// it is that day.
func before(free calendar.Free, on, first calendar.Day, weeks int) calendar.Day {
	for on > first && weeks > 0 {
		on -= 7
		if free.Teaching(on) {
			weeks--
		}
	}
	return max(on, first)
}

// words say it; have is how many teaching weeks there are before polishing begins.
func (s Stage) words(b Backwards, have float64) string {
	by := b.Polish.Short()
	switch {
	case len(s.Left) == 0:
		return "All is learnt already, or at its goal: what is left is to keep it."
	case have < 1:
		return "The recital is so near that there is time to polish, and none to learn something new."
	case b.Fit == len(s.Left):
		return fmt.Sprintf("All is likely learnt by %s, in time to polish (%s).", by, inTen(b.Chance))
	case b.Fit == 0:
		return fmt.Sprintf("That is more than is likely to be learnt by %s, when it is time to polish (%s). Choose something shorter, or something that is known already.", by, inTen(b.Chance))
	case b.Fit == 1:
		return fmt.Sprintf("That all is learnt by %s, when it is time to polish, is not sure (%s); that the first work is, is likely.", by, inTen(b.Chance))
	}
	return fmt.Sprintf("That all is learnt by %s, when it is time to polish, is not sure (%s); that the first %d works are, is likely.", by, inTen(b.Chance), b.Fit)
}

// inTen says a chance as people count.
func inTen(p float64) string {
	switch n := int(p*10 + 0.5); n {
	case 0:
		return "fewer than one in ten such plans come out"
	case 10:
		return "nearly all such plans come out"
	default:
		return fmt.Sprintf("about %d in ten such plans come out", n)
	}
}
