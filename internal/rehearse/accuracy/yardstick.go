package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"antiphon/internal/rehearse"
)

// A yardstick is another program with the contract of `antiphon hear`, whose figures on takes that nobody here
// has are known. On takes that it hears as well as those, the ear's own figures say more of takes that nobody
// here has than those on a set that may be harder or easier.
const yardstickNotes = 0.97 // its notes F1 on the takes that nobody here has

// yardstickKinds are what those takes are of; they are played with recorded notes.
var yardstickKinds = []string{"monophonic", "two-voice", "arpeggio", "chordal", "two-guitars", "exercise"}

// measured is a take as the ear and the yardstick heard it.
type measured struct{ own, yard rehearse.Marks }

func yardstickTakes(t rehearse.Truth) bool {
	return slices.Contains(yardstickKinds, t.Tags[0]) && !slices.ContainsFunc(t.Sources, func(s string) bool { return strings.HasPrefix(s, "own-") })
}

// asWell leaves those takes that the yardstick hears best, as many as it hears with yardstickNotes all in all.
func asWell(all []measured) []measured {
	all = slices.DeleteFunc(slices.Clone(all), func(m measured) bool { return len(m.yard.Failed) > 0 })
	slices.SortStableFunc(all, func(a, b measured) int { return cmp.Compare(b.yard.Notes50.F1(), a.yard.Notes50.F1()) })
	var sum rehearse.Counts
	n := 0
	for i := range all {
		c := all[i].yard.Notes50
		sum.Found, sum.True, sum.Reported = sum.Found+c.Found, sum.True+c.True, sum.Reported+c.Reported
		if sum.F1() >= yardstickNotes {
			n = i + 1
		}
	}
	return all[:n]
}

func yardstickTable(all []measured) string {
	var b strings.Builder
	b.WriteString("| takes | n | who | notes F1 ±50 ms | errors P / R | wrong · missed · extra (found/true/reported) |\n|---|---|---|---|---|---|\n")
	for _, row := range []struct {
		name  string
		takes []measured
	}{
		{"recorded notes, kinds of the shared takes", all},
		{fmt.Sprintf("those that the yardstick hears best, as many as give it %.2f", yardstickNotes), asWell(all)},
	} {
		var own, yard rehearse.Marks
		for i := range row.takes {
			own.Add(row.takes[i].own)
			yard.Add(row.takes[i].yard)
		}
		for _, who := range []struct {
			name string
			m    *rehearse.Marks
		}{{"the ear", &own}, {"the yardstick", &yard}} {
			e := who.m.Errors()
			fmt.Fprintf(&b, "| %s | %d | %s | %.3f | %.2f / %.2f | %s · %s · %s |\n", row.name, len(row.takes), who.name, who.m.Notes50.F1(), e.Precision(), e.Recall(),
				counts(who.m.Wrong), counts(who.m.Missed), counts(who.m.Extra))
		}
	}
	return b.String()
}
