package main

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"antiphon/internal/rehearse"
)

func TestTheTableReplacesOnlyItself(t *testing.T) {
	page := filepath.Join(t.TempDir(), "measured.md")
	if err := os.WriteFile(page, []byte("# By hand\n\nbefore\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{"first\n", "second\n"} {
		if err := writeInto(page, accuracySection, text); err != nil {
			t.Fatal(err)
		}
	}
	got, _ := os.ReadFile(page)
	tableBegin, tableEnd := marks(accuracySection)
	if want := "# By hand\n\nbefore\n\n" + tableBegin + "\nsecond\n" + tableEnd + "\n"; string(got) != want {
		t.Errorf("page is\n%s\nwant\n%s", got, want)
	}
	if err := os.WriteFile(page, append(got, "after\n"...), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := writeInto(page, accuracySection, "third\n"); err != nil {
		t.Fatal(err)
	}
	if got, _ := os.ReadFile(page); !strings.HasSuffix(string(got), "third\n"+tableEnd+"\nafter\n") {
		t.Errorf("what follows the table is lost:\n%s", got)
	}
}

func TestRowsAddUp(t *testing.T) {
	s := sheet{}
	for i, found := range []int{3, 5} {
		s.add(groups(rehearse.Truth{Tags: []string{"monophonic", "errors"}}), rehearse.Marks{Takes: 1, AudioS: 10, WallS: 1 + float64(i),
			Notes50: rehearse.Counts{Found: found, True: 5, Reported: 5}})
	}
	s.add(groups(rehearse.Truth{Tags: []string{"real", "like", "solo", "clean"}}), rehearse.Marks{Takes: 1})
	s.add(groups(rehearse.Truth{Tags: []string{"other", "silence"}}), rehearse.Marks{Takes: 1, Other: 1, OtherKnown: 1})
	want := []string{"all", "trying", "monophonic", "· errors", "as played, all", "as played, solo", "something else"}
	if got := s.rows(); strings.Join(got, "|") != strings.Join(want, "|") {
		t.Errorf("rows %q, want %q", got, want)
	}
	if f := s["all"].Notes50.F1(); math.Abs(f-0.8) > 1e-12 {
		t.Errorf("notes F1 over both takes %v, want 8/10", f)
	}
}
