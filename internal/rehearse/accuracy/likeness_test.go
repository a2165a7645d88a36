package main

import (
	"os/exec"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/rehearse"
)

func TestTheShelfHoldsAHundred(t *testing.T) {
	works, others, err := shelf()
	if err != nil {
		t.Fatal(err)
	}
	if len(works) != shelfWorks || len(others) < 10 {
		t.Errorf("%d works and %d others, want %d and at least 10", len(works), len(others), shelfWorks)
	}
	seen := map[string]bool{}
	for _, w := range append(works, others...) {
		if seen[w.piece.Name] {
			t.Errorf("%s is there twice", w.piece.Name)
		}
		seen[w.piece.Name] = true
		if n := len(w.score.Sounding()); n < len(w.piece.Notes) { // the same, but for grace notes
			t.Errorf("%s: %d notes in the score, %d to be played", w.piece.Name, n, len(w.piece.Notes))
		}
	}
}

func TestLikenessRowsCount(t *testing.T) {
	row := &likenessRow{}
	guest := func(work int) rehearse.Guest { return rehearse.Guest{Work: work} }
	say := func(none float64, scores ...int) ear.Resemblance {
		r := ear.Resemblance{None: none}
		for i, s := range scores {
			r.Likely = append(r.Likely, ear.Likeness{Score: s, Confidence: []float64{0.8, 0.1, 0.05}[i] * (1 - none)})
		}
		return r
	}
	row.add(guest(3), say(0, 3, 1, 2))
	row.add(guest(3), say(0, 1, 3, 2))
	row.add(guest(3), say(0.9, 1, 2, 4))
	row.add(guest(-1), say(0.9, 1, 2, 4))
	row.add(guest(-1), say(0.1, 1, 2, 4))
	if row.takes != 3 || row.first != 1 || row.three != 2 || row.strangers != 2 || row.none != 1 || row.said != 3 || row.saidRight != 1 {
		t.Errorf("%+v", row)
	}
}

// A watch on the recognition that needs no sound fonts; the figures are make accuracy's.
func TestMostTakesAreKnown(t *testing.T) {
	if testing.Short() {
		t.Skip("half a minute")
	}
	for _, tool := range []string{"ffmpeg", "espeak-ng"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skip(tool + " is not installed")
		}
	}
	recipe := rehearse.ReportSet(24)
	recipe.Seed, recipe.Nylon, recipe.Steel = 78, []string{"own-nylon"}, []string{"own-steel"}
	dir := t.TempDir()
	r, err := options{out: dir, set: "watch"}.recognise(recipe, &rehearse.Banks{Cache: dir})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%+v", r.all)
	if r.all.takes != 20 || r.all.first < 17 {
		t.Errorf("%d of %d takes of the shelf known at first place, want at least 17 of 20", r.all.first, r.all.takes)
	}
	if r.all.none < 3 {
		t.Errorf("%d of %d takes of other works known to be, want at least 3", r.all.none, r.all.strangers)
	}
}
