package forecast

import (
	"fmt"
	"math"

	"antiphon/internal/plan/calendar"
)

// lately is how many weeks are looked back for the family's eye.
const lately = 6

// reasons says in whole sentences what the ranges rest on.
func (q Question) reasons(a Answer) []string {
	if len(q.Left) == 0 {
		return []string{"Nothing is left: it is finished."}
	}
	out := []string{q.leftWords()}
	n := len(q.Student.Done)
	usual := q.usualLoad()
	switch per := usual / q.pace().Mean(); {
	case n == 0:
		out = append(out, "No work has been finished yet, so this rests on how the studio's students go on, and is wide.")
	case n < enough:
		out = append(out, fmt.Sprintf("Only %s been finished, so this rests mostly on how the studio's students go on.", has(n)))
	default:
		out = append(out, fmt.Sprintf("%s been finished; a usual one takes about %s with a recording.", capital(has(n)), weeksWords(per)))
	}
	if k := len(q.Student.Came); k >= lately {
		missed := 0
		for _, came := range q.Student.Came[k-lately:] {
			if !came {
				missed++
			}
		}
		if missed > 0 {
			out = append(out, fmt.Sprintf("%d of the last %d teaching weeks had no recording; such weeks are expected again.", missed, lately))
		} else {
			out = append(out, fmt.Sprintf("Each of the last %d teaching weeks had a recording.", lately))
		}
	}
	if calm := q.free(a.Middle); calm > 0 {
		out = append(out, fmt.Sprintf("%s of holidays lie before the middle of the range.", capital(weekCount(calm))))
	}
	if n > 0 {
		sum := 0.0
		for _, l := range q.Left {
			sum += Step{Load: l}.load()
		}
		switch mean := sum / float64(len(q.Left)) / usual; {
		case mean > 1.15:
			out = append(out, fmt.Sprintf("What is left asks about %.0f %% more than what was learnt so far.", 100*(mean-1)))
		case mean < 0.87:
			out = append(out, fmt.Sprintf("What is left asks about %.0f %% less than what was learnt so far.", 100*(1-mean)))
		}
	}
	if q.Width != (Width{}) && math.Abs(q.Width.Wider-1) > 0.1 {
		how := "wider"
		if q.Width.Wider < 1 {
			how = "narrower"
		}
		out = append(out, "The ranges are "+how+" than the reckoning alone would make them, because earlier ones turned out so.")
	}
	if a.Open {
		out = append(out, "At this pace the end lies beyond ten years: a shorter collection would say more.")
	}
	return out
}

func (q Question) usualLoad() float64 {
	if len(q.Student.Done) == 0 {
		return 1
	}
	sum := 0.0
	for _, d := range q.Student.Done {
		sum += d.load()
	}
	return sum / float64(len(q.Student.Done))
}

// free counts the weeks until a day that are no teaching weeks.
func (q Question) free(until calendar.Day) int {
	return int(until-q.From)/7 - q.Free.TeachingWeeks(q.From, until)
}

func (q Question) leftWords() string {
	if len(q.Left) == 1 {
		return "One work is left."
	}
	return fmt.Sprintf("%d works are left.", len(q.Left))
}

func has(n int) string {
	if n == 1 {
		return "one work has"
	}
	return fmt.Sprintf("%d works have", n)
}

func weekCount(n int) string {
	if n == 1 {
		return "one week"
	}
	return fmt.Sprintf("%d weeks", n)
}

func weeksWords(w float64) string {
	switch {
	case w < 1.25:
		return "one week"
	case w < 9.5:
		return fmt.Sprintf("%.1f weeks", w)
	}
	return fmt.Sprintf("%.0f weeks", w)
}

func capital(s string) string {
	if s != "" && s[0] >= 'a' && s[0] <= 'z' {
		return string(s[0]-'a'+'A') + s[1:]
	}
	return s
}
