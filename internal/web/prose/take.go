// Package prose writes takes, passages, counts and titles on the teacher's pages as a person would write them in
// a letter.
//
// It repeats what the ear measured and adds no judgement, no mark and no colour. It speaks English, as the
// teacher's pages do; what families read is package tongue's.
package prose

import (
	"fmt"
	"math"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// atMost is how much a list repeats of what the ear said about one take: the rest stands on its page.
const atMost = 3

// Take is what the ear has to say about a take, in a few words each and never as a mark.
func Take(t studio.Take) []string {
	switch t.State {
	case studio.Arriving:
		return []string{"on its way"}
	case studio.Waiting:
		return []string{"safe here, not heard yet"}
	case studio.BeingHeard:
		return []string{"being heard now"}
	}
	var all []string
	if t.State == studio.NeedsALook && t.Why != "" {
		all = append(all, t.Why)
	}
	for _, c := range t.Concerns {
		if c.Say != t.Why {
			all = append(all, c.Say)
		}
	}
	if s := t.Summary; s != nil {
		all = append(all, Heard(*s)...)
	}
	all = all[:min(len(all), atMost)]
	if last := len(all) - 1; last > 0 { // they stand in one line with a point between them: a full stop would be one too many
		for i := range all[:last] {
			all[i] = strings.TrimSuffix(all[i], ".")
		}
	}
	return all
}

// Heard is what was measured, in a few words each.
func Heard(s studio.Summary) (all []string) {
	if where := Bars(s.FromBar, s.ToBar); where != "" || s.Bpm > 0 {
		all = append(all, strings.TrimSpace(where+AtBpm(s.Bpm)))
	}
	if s.Restarts > 0 {
		all = append(all, "began again "+Times(s.Restarts))
	}
	var off []string
	if n := s.Wrong + s.Extra; n > 0 {
		off = append(off, page.Plural(n, "note")+" not as written")
	}
	if s.Missed > 0 {
		off = append(off, page.Plural(s.Missed, "note")+" not heard")
	}
	switch {
	case len(off) > 0:
		all = append(all, strings.Join(off, ", "))
	case s.Notes > 0:
		all = append(all, "every note as written")
	}
	return all
}

// Bars names a passage: "bar 5", "bars 5 to 8", "" for all of a piece.
func Bars(from, to string) string {
	switch {
	case from == "" && to == "":
		return ""
	case from == to || to == "":
		return "bar " + from
	case from == "":
		return "up to bar " + to
	}
	return "bars " + from + " to " + to
}

// AtBpm is a tempo behind a place: " at 66", or nothing where there is none.
func AtBpm(bpm float64) string {
	if !(bpm > 0) || math.IsInf(bpm, 0) {
		return ""
	}
	return fmt.Sprintf(" at %.0f", bpm)
}

// Times is how often: "once", "twice", "three times".
func Times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return Count(n) + " times"
}

// Count writes small numbers as words, as one does in a letter.
func Count(n int) string {
	words := [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	if n >= 0 && n < len(words) {
		return words[n]
	}
	return fmt.Sprint(n)
}

// Number is a count of things, with its noun: "one student", "thirty" is written 30.
func Number(n int, one, many string) string {
	if n == 1 {
		return "one " + one
	}
	return Count(n) + " " + many
}

// Capital makes a sentence begin.
func Capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// Length says minutes as a person does, and never less than it will be: "12 minutes", "an hour and 20
// minutes", "2 hours".
func Length(minutes float64) string {
	if !(minutes >= 0) || minutes > 1e6 {
		return "an unknown time"
	}
	whole := int(math.Ceil(minutes))
	switch h, m := whole/60, whole%60; {
	case h == 0:
		return page.Plural(m, "minute")
	case h == 1 && m == 0:
		return "an hour"
	case h == 1:
		return "an hour and " + page.Plural(m, "minute")
	case m == 0:
		return fmt.Sprintf("%d hours", h)
	default:
		return fmt.Sprintf("%d hours and %s", h, page.Plural(m, "minute"))
	}
}

// Among joins names: "Mira", "Mira and Jon", "Mira, Jon and Ada".
func Among(names []string) string {
	switch n := len(names); n {
	case 0:
		return ""
	case 1:
		return names[0]
	default:
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
}

// On puts a day into a sentence: "today", "on Monday", "on 3 November".
func On(day string) string {
	switch day {
	case "today", "yesterday", "tomorrow":
		return day
	}
	return "on " + day
}
