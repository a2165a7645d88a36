package page

import (
	"fmt"
	"html/template"
	"math"
	"time"
)

// words are what templates say times and amounts with.
func (f *Frame) words() template.FuncMap {
	return template.FuncMap{
		"day":    func(t time.Time) string { return Day(t, f.o.Now()) },
		"ago":    func(t time.Time) string { return Ago(t, f.o.Now()) },
		"clock":  Clock,
		"plural": Plural,
		"asset":  func(name string) string { return "/assets/" + name + "?v=" + f.version },
		"dict":   dict,
	}
}

// Day is a date as it is said: today, yesterday, Tuesday, 3 November, 3 November 2025.
func Day(t, now time.Time) string {
	if t.IsZero() {
		return ""
	}
	t = t.In(now.Location())
	days := daysBetween(t, now)
	switch {
	case days == 0:
		return "today"
	case days == 1:
		return "yesterday"
	case days == -1:
		return "tomorrow"
	case days > -7 && days < 7:
		return t.Format("Monday")
	case t.Year() == now.Year():
		return t.Format("2 January")
	}
	return t.Format("2 January 2006")
}

func daysBetween(a, b time.Time) int {
	midnight := func(t time.Time) time.Time {
		y, m, d := t.Date()
		return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	}
	return int(midnight(b).Sub(midnight(a)).Hours() / 24)
}

// Ago says how long it is since t: just now, 5 minutes ago, 3 hours ago, then days.
func Ago(t, now time.Time) string {
	if t.IsZero() {
		return "never"
	}
	d := now.Sub(t)
	switch {
	case d < 0:
		return Day(t, now)
	case d < time.Minute:
		return "just now"
	case d < time.Hour:
		return Plural(int(d.Minutes()), "minute") + " ago"
	case d < 12*time.Hour:
		return Plural(int(d.Hours()), "hour") + " ago"
	}
	if days := daysBetween(t.In(now.Location()), now); days > 1 {
		return Plural(days, "day") + " ago"
	}
	return Day(t, now)
}

// Clock is a length or a place in a take, 3:05.
func Clock(s float64) string {
	if math.IsNaN(s) || s < 0 || s > 1e6 {
		return ""
	}
	n := int(s)
	if n >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
	}
	return fmt.Sprintf("%d:%02d", n/60, n%60)
}

// Plural is "1 take", "2 takes"; two words are singular and plural.
func Plural(n int, noun ...string) string {
	switch {
	case n == 1:
		return "1 " + noun[0]
	case len(noun) > 1:
		return fmt.Sprintf("%d %s", n, noun[1])
	}
	return fmt.Sprintf("%d %ss", n, noun[0])
}

// dict makes a map of names and values, for a partial that needs more than one thing.
func dict(pairs ...any) (map[string]any, error) {
	m := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		name, ok := pairs[i].(string)
		if !ok {
			return nil, fmt.Errorf("dict: %v is no name", pairs[i])
		}
		m[name] = pairs[i+1]
	}
	return m, nil
}
