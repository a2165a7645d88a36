package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"antiphon/internal/music"
)

// shown runs the command on a file.
func shown(t *testing.T, file string, asJSON bool) (string, error) {
	t.Helper()
	var out bytes.Buffer
	err := (&scoreCmd{File: file, JSON: asJSON}).Run(&app{ctx: t.Context(), out: &out, err: &out, now: time.Now})
	return out.String(), err
}

// abcTune is ours: a pickup, a repeat with two endings, a fingered note.
const abcTune = "X:1\nT:A walk \x1b]0;no\x07\u202e\nC:Nobody\nM:3/4\nL:1/4\nQ:1/4=96\nK:Em\nB,|:EFG|!4!G3|[1 B2B,:|[2 E3|]\n"

func TestScoreText(t *testing.T) {
	file := filepath.Join(t.TempDir(), "walk.abc")
	if err := os.WriteFile(file, []byte(abcTune), 0o600); err != nil {
		t.Fatal(err)
	}
	got, err := shown(t, file, false)
	if err != nil {
		t.Fatal(err)
	}
	if strings.ContainsAny(got, "\x1b\x07\u202e") {
		t.Errorf("control characters of the title reach the terminal: %q", got)
	}
	for _, want := range []string{
		"Parts     P1\n", "Bars      5, numbered 0–4; begins with a pickup of 1 quarter\n", "Played    bars 0–3, again 1–2, 4\n",
		"Tempo     quarter = 96\n", "Key       E minor (1 sharp)\n", "Time      3/4\n", "Notes     8, from B3 to B4; 1 with a finger\n",
		"n4      P1     1      1      3       1        G4\n", "finger 4",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in:\n%s", want, got)
		}
	}
}

func TestPerformedInWords(t *testing.T) {
	bars := func(n int) *music.Score {
		s := &music.Score{}
		for i := range n {
			s.Bars = append(s.Bars, music.Bar{Number: strconv.Itoa(i + 1)})
		}
		return s
	}
	straight, twice, often, three := bars(3), bars(16), bars(2), bars(2)
	twice.Bars[7].RepeatEnd = 2
	often.Bars[0].RepeatEnd = 5
	three.Bars[1].RepeatEnd = 3
	for want, s := range map[string]*music.Score{"bars 1–3": straight, "bars 1–8, again 1–16": twice, "bar 1 (4 times), again 1–2": often, "bars 1–2 (3 times)": three} {
		if got := performedInWords(s); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestScoreJSON(t *testing.T) {
	file := filepath.Join(t.TempDir(), "walk.abc")
	if err := os.WriteFile(file, []byte(abcTune), 0o600); err != nil {
		t.Fatal(err)
	}
	got, err := shown(t, file, true)
	if err != nil {
		t.Fatal(err)
	}
	var d struct {
		Title     string
		Bars      int
		Parts     []struct{ ID string }
		Performed []struct {
			From string `json:"from_bar"`
			To   string `json:"to_bar"`
		}
		Notes []struct {
			ID, Part, Voice, Bar, Name string
			OnsetQ                     float64 `json:"onset_q"`
			DurationQ                  float64 `json:"duration_q"`
			Midi                       int
			String, Fret               *int
			Finger, Pluck              *string
			Grace, Cue                 bool
		}
		Forgiven []string
	}
	dec := json.NewDecoder(strings.NewReader(got))
	if err := dec.Decode(&d); err != nil {
		t.Fatal(err)
	}
	if d.Bars != 5 || len(d.Parts) != 1 || len(d.Performed) != 3 || d.Performed[1].From != "1" || d.Performed[1].To != "2" || d.Forgiven == nil {
		t.Errorf("%+v", d)
	}
	if len(d.Notes) != 8 {
		t.Fatalf("%d notes", len(d.Notes))
	}
	n := d.Notes[4]
	if n.ID != "n5" || n.Bar != "2" || n.OnsetQ != 4 || n.DurationQ != 3 || n.Midi != 67 || n.Name != "G4" || n.Finger == nil || *n.Finger != "4" || n.String != nil {
		t.Errorf("%+v", n)
	}
}

// A score without pitched notes is shown, with an empty list.
func TestScoreWithoutPitches(t *testing.T) {
	file := filepath.Join(t.TempDir(), "drum.musicxml")
	xml := `<score-partwise><part-list><score-part id="P1"><part-name>Drum</part-name></score-part></part-list><part id="P1"><measure number="1">` +
		`<note><unpitched/><duration>1</duration></note></measure></part></score-partwise>`
	if err := os.WriteFile(file, []byte(xml), 0o600); err != nil {
		t.Fatal(err)
	}
	text, err := shown(t, file, false)
	if err != nil || !strings.Contains(text, "none that has a pitch") {
		t.Errorf("%v: %s", err, text)
	}
	if got, err := shown(t, file, true); err != nil || !strings.Contains(got, `"notes":[]`) {
		t.Errorf("%v: %s", err, got)
	}
}

func TestScoreSaysWhatIsWrong(t *testing.T) {
	_, err := shown(t, filepath.Join(t.TempDir(), "none.musicxml"), false)
	if err == nil || !strings.Contains(err.Error(), "none.musicxml") || !strings.Contains(err.Error(), "no such file") {
		t.Errorf("%v", err)
	}
}
