package plan

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	plans "antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/forecast"
)

// roles say what a line is for.
var roles = map[plans.Role]string{
	plans.Keep: "Keep", plans.BringBack: "Bring back", plans.Advance: "Go on with", plans.Introduce: "New",
	plans.Serve: "Technique for a piece", plans.Mend: "A few bars", plans.Listen: "Listen",
}

// wents are the four ways in which something goes, as a teacher says them.
var wents = []struct {
	Rating int
	Say    string
}{{1, "broke down"}, {2, "to the end, with stops"}, {3, "steady"}, {4, "steady at its tempo"}}

var stages = map[plans.Stage]string{plans.Learning: "being learnt", plans.Kept: "learnt, and kept", plans.Rested: "let rest"}

func shortDay(d calendar.Day) string { return d.Weekday().String()[:3] }

// dayIn is a day as it is said: 30 November, with its year where that is another.
func dayIn(d, today calendar.Day) string {
	words := strings.TrimPrefix(d.Words(), d.Weekday().String()+" ")
	if year := today.String()[:4]; strings.HasSuffix(words, " "+year) {
		words = strings.TrimSuffix(words, " "+year)
	}
	return words
}

// agoIn says how long it is since a day.
func agoIn(d, today calendar.Day) string {
	switch n := int(today - d); {
	case d == 0:
		return "never"
	case n <= 0:
		return "today"
	case n == 1:
		return "yesterday"
	case n < 60:
		return fmt.Sprintf("%d days ago", n)
	case n < 700:
		return fmt.Sprintf("%d months ago", (n+15)/30)
	default:
		return fmt.Sprintf("%d years ago", (n+180)/365)
	}
}

func between(r forecast.Range, open bool, today calendar.Day) string {
	switch {
	case open:
		return "from " + dayIn(r.From, today) + " on; the end lies too far away to be named"
	case r.From == r.To:
		return "about " + dayIn(r.From, today)
	}
	return "between " + dayIn(r.From, today) + " and " + dayIn(r.To, today)
}

func listed(words []string) string {
	switch n := len(words); n {
	case 0:
		return ""
	case 1:
		return words[0]
	default:
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
}

// capital makes the first letter of words a capital one.
func capital(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return ""
	}
	return string(unicode.ToUpper(first)) + s[n:]
}

func plural(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}
