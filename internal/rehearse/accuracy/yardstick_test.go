package main

import (
	"strings"
	"testing"

	"antiphon/internal/rehearse"
)

func TestTakesThatTheYardstickHearsAsWell(t *testing.T) {
	take := func(found, ownErrors int) measured {
		return measured{
			own:  rehearse.Marks{Takes: 1, Wrong: rehearse.Counts{Found: ownErrors, True: 2, Reported: ownErrors}},
			yard: rehearse.Marks{Takes: 1, Notes50: rehearse.Counts{Found: found, True: 100, Reported: 100}, Wrong: rehearse.Counts{True: 2}},
		}
	}
	all := []measured{take(10, 0), take(95, 1), take(100, 2), take(97, 1), take(90, 1)} // 100, 97 and 95 are .973 together, with 90 .955
	got := asWell(all)
	if len(got) != 3 || got[0].yard.Notes50.Found != 100 || got[2].yard.Notes50.Found != 95 {
		t.Errorf("left %d: %+v", len(got), got)
	}
	if len(asWell(all[:1])) != 0 {
		t.Error("a yardstick that hears nothing well leaves nothing")
	}
	if failed := []measured{{yard: rehearse.Marks{Takes: 1, Failed: []string{"no such file"}}}}; len(asWell(failed)) != 0 {
		t.Error("a take that the yardstick failed on was not heard well")
	}
	table := yardstickTable(all)
	for _, want := range []string{"| 5 | the ear | 1.000 | 1.00 / 0.50 | 5/10/5", "| 3 | the ear | 1.000 | 1.00 / 0.67 | 4/6/4", "| 3 | the yardstick | 0.973 | 0.00 / 0.00 | 0/6/0"} {
		if !strings.Contains(table, want) {
			t.Errorf("no %q in\n%s", want, table)
		}
	}
	for kind, want := range map[string]bool{"arpeggio": true, "strum": false, "real": false} {
		if yardstickTakes(rehearse.Truth{Tags: []string{kind}, Sources: []string{"fluid-nylon"}}) != want {
			t.Errorf("%s: want %v", kind, want)
		}
	}
	if yardstickTakes(rehearse.Truth{Tags: []string{"arpeggio"}, Sources: []string{"own-steel"}}) {
		t.Error("strings of our own are not recorded")
	}
}
