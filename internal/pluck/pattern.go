package pluck

import (
	"fmt"
	"slices"

	"antiphon/internal/music"
)

// ParsePattern reads a right-hand pattern: letters p i m a one after the other, those that pluck
// together in brackets, spaces and hyphens where they please: "p i m a m i", "p-(im)-a". It refuses a
// finger twice in one bracket. An empty pattern has no steps.
func ParsePattern(pattern string) (steps []string, err error) {
	bad := func(format string, args ...any) error {
		return fmt.Errorf("%w: in %q %s; write p, i, m, a, and brackets round those that pluck together", ErrPattern, pattern, fmt.Sprintf(format, args...))
	}
	open, step := false, ""
	for _, r := range pattern {
		switch {
		case r == ' ' || r == '-' || r == ',':
		case r == '(' && !open:
			open, step = true, ""
		case r == ')' && open && step != "":
			open, steps = false, append(steps, step)
		case fingerOf(string(r)) == none:
			return nil, bad("%q is no finger", r)
		case open:
			for _, x := range step {
				if x == r {
					return nil, bad("%c is asked twice at once", r)
				}
				if fingerOf(string(x)) > fingerOf(string(r)) {
					return nil, bad("(%s%c) is not in the order of the hand", step, r)
				}
			}
			step += string(r)
		default:
			steps = append(steps, string(r))
		}
		if len(steps) > 256 {
			return nil, fmt.Errorf("%w: it has more than 256 steps", ErrPattern)
		}
	}
	if open {
		return nil, bad("a bracket stays open")
	}
	if pattern != "" && len(steps) == 0 {
		return nil, bad("there is no finger")
	}
	return steps, nil
}

// bars are the indices of the first and last bar of a passage.
func bars(s *music.Score, from, to string) (first, last int, err error) {
	find := func(number string, or int) int {
		if number == "" {
			return or
		}
		return slices.IndexFunc(s.Bars, func(b music.Bar) bool { return b.Number == number })
	}
	first, last = find(from, 0), find(to, len(s.Bars)-1)
	switch {
	case first < 0 && from != "" || last < 0 && to != "":
		missing := from
		if first >= 0 {
			missing = to
		}
		return 0, 0, fmt.Errorf("%w: there is no bar %q in this score", ErrPattern, missing)
	case last < first && len(s.Bars) > 0:
		return 0, 0, fmt.Errorf("%w: bar %s comes after bar %s; name the earlier one first", ErrPattern, from, to)
	}
	return first, last, nil
}

// setPattern lays the pattern over the bars from first to last, from the start of each bar.
func (l *layout) setPattern(s *music.Score, steps []string, first, last int, o Options) error {
	if len(steps) == 0 {
		return nil
	}
	bar, step := -1, 0
	for k := range l.moments {
		mo := &l.moments[k]
		if mo.bar < first || mo.bar > last {
			continue
		}
		if mo.bar != bar {
			bar, step = mo.bar, 0
		}
		want := steps[step%len(steps)]
		step++
		if len(want) != len(mo.notes) {
			return fmt.Errorf("%w: bar %s, stroke %d of the bar plucks %s, but %q gives %s; choose other bars or another pattern",
				ErrPattern, s.Bars[bar].Number, step, count(len(mo.notes), "string"), o.Pattern, count(len(want), "finger"))
		}
		for j, n := range mo.notes {
			f := fingerOf(want[j : j+1])
			if n.given && n.must != f {
				return fmt.Errorf("%w: bar %s, %s is marked %s, but %q asks %s there; remove the mark or choose other bars",
					ErrPattern, s.Bars[bar].Number, n.Name, n.must, o.Pattern, f)
			}
			n.must, n.given, n.little = f, true, false
		}
	}
	return nil
}

func count(n int, what string) string {
	if n == 1 {
		return "one " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
