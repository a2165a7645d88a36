package studio

import (
	"math"
	"strings"
	"testing"
)

func TestLessonsThatMayBeKept(t *testing.T) {
	good := Lesson{Date: "2026-11-25", Words: "Well\x00 done.\u202e", Assignments: []Assignment{{Do: "Slowly.", Goals: Goals{TempoBpm: 60, DoneWhen: "three\ntimes"}}}}
	got, err := good.checked()
	if err != nil {
		t.Fatal(err)
	}
	if got.Words != "Well done." || got.Assignments[0].Goals.DoneWhen != "three times" || good.Assignments[0].Goals.DoneWhen != "three\ntimes" {
		t.Errorf("%+v", got)
	}
	for name, change := range map[string]func(l *Lesson){
		"no day":         func(l *Lesson) { l.Date = "tomorrow" },
		"a day long ago": func(l *Lesson) { l.Date = "0001-01-01" },
		"the last day":   func(l *Lesson) { l.Date = "9999-12-31" },
		"a book":         func(l *Lesson) { l.Words = strings.Repeat("word ", 10_000) },
		"no tempo":       func(l *Lesson) { l.Assignments[0].Goals.TempoBpm = math.NaN() },
		"below nothing":  func(l *Lesson) { l.Assignments[0].Goals.TempoBpm = -60 },
		"too fast":       func(l *Lesson) { l.Assignments[0].Goals.TempoBpm = 1e9 },
		"a long goal":    func(l *Lesson) { l.Assignments[0].Goals.DoneWhen = strings.Repeat("x", 3000) },
		"too many":       func(l *Lesson) { l.Assignments = make([]Assignment, 41) },
	} {
		l := good
		l.Assignments = []Assignment{good.Assignments[0]}
		change(&l)
		if _, err := l.checked(); err == nil {
			t.Errorf("%s is kept", name)
		}
	}
}

func TestNamesAreReadAsTheyAre(t *testing.T) {
	for in, want := range map[string]string{
		"\u202egpj.exe": "gpj.exe", "A\u200bda": "Ada", " Ada \n Okafor ": "Ada Okafor", "می\u200cخواهم": "می\u200cخواهم", "\ufeffAda": "Ada",
	} {
		if got := tidy(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

func TestNamesFitOnAPage(t *testing.T) {
	if got := named(" Ada "+strings.Repeat("é", 5000), longestName); len([]rune(got)) != longestName || !strings.HasPrefix(got, "Ada é") {
		t.Errorf("%d letters: %.20q", len([]rune(got)), got)
	}
}
