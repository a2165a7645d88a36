package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/rehearse"
	"antiphon/internal/report"
)

// demoRun is the demo, made once for all tests that look at it.
var demoRun = sync.OnceValue(func() (r struct {
	dir, out, errs string
	code           int
}) {
	dir := filepath.Join(buildDir(), "demo") // TestMain takes it away
	var out, errs bytes.Buffer
	a := &app{ctx: context.Background(), in: strings.NewReader(""), out: &out, err: &errs, now: time.Now}
	r.dir = dir
	r.code = run(a, []string{"demo", "--dir", dir})
	r.out, r.errs = out.String(), errs.String()
	return r
})

// TestDemo: the demo ends well and tells what was put into its recording: the stop in bar 11 with
// the start from bar 9, the wrong note and the one left out.
func TestDemo(t *testing.T) {
	r := demoRun()
	if r.code != exitDone || r.errs != "" && report.HasPlayer() { // without assets it says so
		t.Fatalf("exit %d: %s", r.code, r.errs)
	}
	for _, want := range []string{"Tilda Varga (invented)", "Au clair de la lune", "Stopped in bar 11 and went back to bar 9",
		"Bar 7, beat 2: F was heard where E is written", "Bar 13, beat 4: the D was not heard", "the score says 88", filepath.Join(r.dir, demoPage)} {
		if !strings.Contains(r.out, want) {
			t.Errorf("the demo does not say %q:\n%s", want, r.out)
		}
	}
	page, err := os.ReadFile(filepath.Join(r.dir, demoPage))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(page, []byte("data:audio/mp4;base64,")) {
		t.Error("the page has no sound")
	}
	if code, _, errs := ran(t, "demo", "--dir", r.dir); code != exitFailed || !strings.Contains(errs, "not overwritten") {
		t.Errorf("a second demo in one folder: exit %d, %q", code, errs)
	}
}

// TestDemoTuneIsWhole: every bar of the tune is full in both voices, on strings and frets that give its
// pitches.
func TestDemoTuneIsWhole(t *testing.T) {
	p := demoTune()
	full := map[[2]int]int{}
	for _, n := range p.Notes {
		full[[2]int{n.Bar, n.Voice}] += n.Ticks
		if open := []int{64, 59, 55, 50, 45, 40}[n.String-1]; open+n.Fret != n.Midi || n.Fret < 0 || n.Fret > 4 {
			t.Errorf("bar %d: string %d, fret %d for pitch %d", n.Bar+1, n.String, n.Fret, n.Midi)
		}
	}
	if len(p.Bars) != 16 || len(full) != 32 {
		t.Errorf("%d bars, %d filled voices", len(p.Bars), len(full))
	}
	for at, ticks := range full {
		if ticks != 4*rehearse.TicksPerQuarter {
			t.Errorf("bar %d, voice %d: %d ticks", at[0]+1, at[1], ticks)
		}
	}
}

// TestHearWritesEverythingAtOnce: text or JSON, page and MIDI in one run, and only those files.
func TestHearWritesEverythingAtOnce(t *testing.T) {
	r := demoRun()
	dir := t.TempDir()
	page, mid := filepath.Join(dir, "take.html"), filepath.Join(dir, "take.mid")
	code, out, errs := ran(t, "hear", filepath.Join(r.dir, demoTake), "--score", filepath.Join(r.dir, demoScore), "--json", "--html", page, "--midi", mid)
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
	if h.Schema != "antiphon.hearing/1" || h.Take.File != demoTake || len(h.Passes) != 2 {
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
	r := demoRun()
	code, out, _ := ran(t, "hear", filepath.Join(r.dir, demoTake), "--score", filepath.Join(r.dir, demoScore), "--tempo", "100")
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

// TestDemoMistakesAreThere: the score shows what the recording lacks.
func TestDemoMistakesAreThere(t *testing.T) {
	s := demoSpec()
	if len(s.Shown.Notes) != len(s.Piece.Notes)+1 {
		t.Errorf("%d notes shown, %d played", len(s.Shown.Notes), len(s.Piece.Notes))
	}
	wrong := 0
	for _, n := range s.Piece.Notes {
		for _, w := range s.Shown.Notes {
			if n.At == w.At && n.Voice == w.Voice && n.Midi != w.Midi {
				wrong++
				if w.Midi != (music.Pitch{Step: 'E', Octave: 4}).Midi() || n.Midi != (music.Pitch{Step: 'F', Octave: 4}).Midi() {
					t.Errorf("%d for %d", n.Midi, w.Midi)
				}
			}
		}
	}
	if wrong != 1 {
		t.Errorf("%d wrong notes, want 1", wrong)
	}
}
