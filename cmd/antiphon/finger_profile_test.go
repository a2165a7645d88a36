package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// abcLine is ours: a scale up and down, a bar of chords, and a note that no guitar has.
const abcLine = "X:1\nT:A line\nM:4/4\nL:1/8\nQ:1/4=100\nK:C clef=treble-8\nCDEFGABc|dcBAGFED|[CEGc]4[FAcf]4|C8|]\n"

func lineDocument(t *testing.T, args ...string) fingeringDocument {
	t.Helper()
	out, errs, code := fingered(t, append(args, "--json")...)
	if code != exitDone {
		t.Fatalf("exit %d: %s", code, errs)
	}
	var d fingeringDocument
	if err := json.Unmarshal([]byte(out), &d); err != nil {
		t.Fatal(err)
	}
	return d
}

// TestFingerProfile: the profile of the bars is that of the notes in them. The figures are worked by
// hand: eight eighths at 100 quarters a minute are 3.33 notes a second, two chords in a bar 0.83.
func TestFingerProfile(t *testing.T) {
	file := abcFile(t, abcLine)
	d := lineDocument(t, file)
	bars := map[string]barJSON{}
	for _, b := range d.Difficulty.Bars {
		bars[b.Bar] = b
	}
	if b := bars["1"]; b.NotesPerS < 3.33 || b.NotesPerS > 3.34 {
		t.Errorf("bar 1: %v notes a second", b.NotesPerS)
	}
	if b := bars["3"]; b.NotesPerS < 0.83 || b.NotesPerS > 0.84 || b.FingersDown < 3 {
		t.Errorf("bar 3: %v notes a second, %d fingers down", b.NotesPerS, b.FingersDown)
	}
	if len(d.Difficulty.Hardest) == 0 || !d.Difficulty.TempoSet || d.Difficulty.Load <= 0 {
		t.Errorf("%+v", d.Difficulty)
	}
	if !skilled(d, "chords") || len(d.Starts) == 0 || d.Starts[0].Bar != "1" || !strings.Contains(d.Starts[0].Reason, "against the hand") {
		t.Errorf("skills %+v, starts %+v", d.Difficulty.Skills, d.Starts)
	}
	// of a passage only its own bars
	p := lineDocument(t, file, "--from", "1", "--to", "2")
	if len(p.Difficulty.Bars) != 2 || skilled(p, "chords") || p.Difficulty.Unmarked != 0 {
		t.Errorf("bars 1 to 2: %+v", p.Difficulty)
	}
	text, _, _ := fingered(t, file)
	for _, want := range []string{"The bars that ask most:", "The hands must be able to do:", "chords (bar 3)", "Which finger begins"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
}

func skilled(d fingeringDocument, skill string) bool {
	for _, s := range d.Difficulty.Skills {
		if s.Skill == skill {
			return true
		}
	}
	return false
}

// TestFingerStrokes: with rest strokes asked for, those of a scale rest where the next string towards
// the bass is quiet (common practice, no source), and chords stay free.
func TestFingerStrokes(t *testing.T) {
	file := abcFile(t, abcLine)
	for _, n := range lineDocument(t, file).Notes {
		if n.Stroke != nil {
			t.Errorf("%s has a %s that nobody asked for", n.ID, *n.Stroke)
		}
	}
	rest := 0
	for _, n := range lineDocument(t, file, "--rest-strokes").Notes {
		switch {
		case n.Pluck == nil:
		case n.Stroke == nil:
			t.Errorf("%s has no stroke", n.ID)
		case *n.Stroke == "rest stroke":
			rest++
			if !n.MayRest || n.Bar == "3" {
				t.Errorf("bar %s, %s: a rest stroke, %q", n.Bar, n.ID, n.Why)
			}
		}
	}
	if rest < 10 {
		t.Errorf("%d rest strokes in two bars of a scale", rest)
	}
}

// TestFingerOnlyWhatIsThere: what no string has is not plucked, and of a passage nothing else is marked.
func TestFingerOnlyWhatIsThere(t *testing.T) {
	for _, n := range lineDocument(t, abcFile(t, "X:1\nT:Too low\nM:4/4\nL:1/4\nK:C clef=treble-8\nC,,,,CDE|]\n")).Notes {
		if (n.String == nil) != (n.Pluck == nil) {
			t.Errorf("%s, %s: string %v, pluck %v", n.ID, n.Name, n.String, n.Pluck)
		}
	}
	to := filepath.Join(t.TempDir(), "passage.musicxml")
	if _, errs, code := fingered(t, abcFile(t, abcLine), "--from", "2", "--to", "2", "-o", to, "--pattern", "im"); code != exitDone {
		t.Fatalf("exit %d: %s", code, errs)
	}
	data, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	if p, f := bytes.Count(data, []byte("<pluck")), bytes.Count(data, []byte("<fingering")); p != 8 || f != 8 {
		t.Errorf("%d plucks and %d fingerings were written for a bar of eight notes", p, f)
	}
}
