package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"antiphon/internal/notation"
	"antiphon/internal/report"
	"antiphon/internal/scenario"
)

type tildas struct{ take, score string }

var tildaOnce = sync.OnceValues(func() (tildas, error) {
	take, score, err := scenario.Tilda(filepath.Join(buildDir(), "tilda")) // TestMain takes it away
	return tildas{take, score}, err
})

// tilda is the take of the demo whose mistakes are known note by note, made once for all tests.
func tilda(t *testing.T) tildas {
	t.Helper()
	r, err := tildaOnce()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestHearTellsWhatWasPlanted: the stop in bar 11 with the start from bar 9, the wrong note and the one left out.
func TestHearTellsWhatWasPlanted(t *testing.T) {
	r := tilda(t)
	file := filepath.Join(t.TempDir(), "take.html")
	code, out, errs := ran(t, "hear", r.take, "--score", r.score, "--html", file)
	if code != exitDone || errs != "" && report.HasPlayer() { // without assets it says so
		t.Fatalf("exit %d: %s", code, errs)
	}
	for _, want := range []string{"Au clair de la lune", "Stopped in bar 11 and went back to bar 9",
		"Bar 7, beat 2: F was heard where E is written", "Bar 13, beat 4: the D was not heard", "the score says 88"} {
		if !strings.Contains(out, want) {
			t.Errorf("it does not say %q:\n%s", want, out)
		}
	}
	page, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(page, []byte("data:audio/mp4;base64,")) {
		t.Error("the page has no sound")
	}
	if code, _, errs := ran(t, "hear", r.take, "--score", r.score, "--html", file); code != exitFailed || !strings.Contains(errs, "is there already") {
		t.Errorf("a second page of one name: exit %d, %q", code, errs)
	}
}

// TestHearWritesEverythingAtOnce: text or JSON, page and MIDI in one run, and only those files.
func TestHearWritesEverythingAtOnce(t *testing.T) {
	r := tilda(t)
	dir := t.TempDir()
	page, mid := filepath.Join(dir, "take.html"), filepath.Join(dir, "take.mid")
	code, out, errs := ran(t, "hear", r.take, "--score", r.score, "--json", "--html", page, "--midi", mid)
	if code != exitDone || errs != "" && report.HasPlayer() {
		t.Fatalf("exit %d: %s", code, errs)
	}
	var h struct {
		Schema string
		Take   struct{ File string }
		Played []struct{ Midi int }
		Passes []any
	}
	if err := json.Unmarshal([]byte(out), &h); err != nil {
		t.Fatal(err)
	}
	if h.Schema != "antiphon.hearing/1" || h.Take.File != filepath.Base(r.take) || len(h.Passes) != 2 {
		t.Errorf("%+v", h)
	}
	s, _, err := notation.ReadFile(mid, notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	if got := len(s.Sounding()); got != len(h.Played) {
		t.Errorf("%d notes in the MIDI file, %d were heard", got, len(h.Played))
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 2 {
		t.Errorf("left behind: %v (%v)", left, err)
	}
}

// TestHearTellsTheGoal: a tempo that was asked for takes the place of the score's mark.
func TestHearTellsTheGoal(t *testing.T) {
	r := tilda(t)
	code, out, _ := ran(t, "hear", r.take, "--score", r.score, "--tempo", "100")
	if code != exitDone || !strings.Contains(out, "100 was asked for") {
		t.Errorf("exit %d:\n%s", code, out)
	}
}

func TestHearWrongUse(t *testing.T) {
	dir := t.TempDir()
	take := filepath.Join(dir, "take.m4a")
	if err := os.WriteFile(take, []byte("x"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{
		{"hear", take}, {"hear", "--score", take},
		{"hear", take, "--score", "s.xml", "--capo", "13"}, {"hear", take, "--score", "s.xml", "--capo", "-1"},
		{"hear", take, "--score", "s.xml", "--tempo", "5"}, {"hear", take, "--score", "s.xml", "--tempo", "NaN"},
		{"hear", take, "--score", "s.xml", "--max-minutes", "0"}, {"hear", take, "--score", "s.xml", "--max-minutes", "NaN"},
		{"hear", take, "--score", "s.xml", "--html", "x", "--midi", "x"},
		{"hear", take, "--score", "s.xml", "--html", take, "--force"}, {"hear", take, "--score", "s.xml", "--midi", "s.xml", "--force"},
	} {
		if code, out, errs := ran(t, args...); code != exitUsage || out != "" || strings.Count(errs, "\n") != 1 {
			t.Errorf("%q: exit %d, %q, %q", args[1:], code, out, errs)
		}
	}
	if b, _ := os.ReadFile(take); string(b) != "x" {
		t.Error("the take was written over")
	}
}

// TestProgressOnlyInATerminal: nothing on stderr elsewhere; in a terminal one line that is taken away.
func TestProgressOnlyInATerminal(t *testing.T) {
	for _, terminal := range []bool{false, true} {
		var errs bytes.Buffer
		now := time.Unix(0, 0)
		a := &app{err: &errs, errTerm: terminal, now: func() time.Time { now = now.Add(time.Second); return now }}
		p := newProgress(a, "hearing x\x1b[2J")
		for i := range 10 {
			p.at(float64(i) / 9)
		}
		p.done()
		got := errs.String()
		if !terminal && got != "" {
			t.Errorf("no terminal, yet %q", got)
		}
		if terminal && (!strings.Contains(got, "100 %") || strings.Contains(got, "\x1b") || !strings.HasSuffix(got, "\r") || strings.Contains(got, "\n")) {
			t.Errorf("in a terminal %q", got)
		}
	}
}
