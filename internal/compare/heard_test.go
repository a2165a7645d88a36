package compare_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"antiphon/internal/amend"
	"antiphon/internal/compare"
	"antiphon/internal/ear"
	"antiphon/internal/evidence"
	"antiphon/internal/findings"
	"antiphon/internal/media"
	"antiphon/internal/music"
	"antiphon/internal/remedies"
	"antiphon/internal/report"
)

// tune is an invented tune of four bars of four quarters.
var tune = []int{60, 62, 64, 65, 67, 65, 64, 62, 60, 64, 67, 72, 71, 67, 62, 60}

func tuneScore() *music.Score {
	s := &music.Score{Title: "tune", Parts: []music.Part{{ID: "P1", Staves: 1}}, Tempos: []music.TempoMark{{Bpm: 80, Unit: music.Quarters(1, 1)}}}
	for i, m := range tune {
		if i%4 == 0 {
			s.Bars = append(s.Bars, music.Bar{Number: fmt.Sprint(1 + i/4), Start: music.Quarters(int64(i), 1), Length: music.Quarters(4, 1)})
		}
		s.Parts[0].Notes = append(s.Parts[0].Notes, music.Note{Bar: i / 4, Start: music.Quarters(int64(i), 1), Duration: music.Quarters(1, 1), Voice: "1", Staff: 1, Pitch: music.SpellMidi(m, 0)})
	}
	return s
}

// sounded plays pitches (0 rests) every gapS seconds from one second on, as decaying strings of ten partials: pitch
// by ISO 16 and equal temperament, and every onset exactly known.
func sounded(gapS float64, midi ...int) media.PCM {
	x := make([]float32, int((2+gapS*float64(len(midi)+1))*ear.RateHz))
	for k, m := range midi {
		if m == 0 {
			continue
		}
		hz, from := music.Hz(float64(m), 440), int(math.Round((1+gapS*float64(k))*ear.RateHz))
		for i := from; i < len(x) && i < from+2*ear.RateHz; i++ {
			s := float64(i-from) / ear.RateHz
			for n := 1.0; n <= 10 && hz*n < 9000; n++ {
				x[i] += float32(0.12 / n * math.Exp(-s*(1.5+0.8*n)) * math.Sin(2*math.Pi*hz*n*s))
			}
		}
	}
	return media.PCM{Samples: x, RateHz: ear.RateHz}
}

// kept hears a take and brings it back from its document, as the studio does.
func kept(t *testing.T, pcm media.PCM, s *music.Score) report.Report {
	t.Helper()
	h, err := ear.Hear(context.Background(), pcm, s, ear.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var doc bytes.Buffer
	if err := (report.Report{Hearing: h, Score: s, Findings: findings.Of(h, s, findings.Options{})}).JSON(&doc); err != nil {
		t.Fatal(err)
	}
	r, err := report.Read(doc.Bytes(), s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestFromSoundToRemedy goes the whole way with the real ear: an earlier take with a restart and a wrong note, and
// a clean one of today at another tempo.
func TestFromSoundToRemedy(t *testing.T) {
	s := tuneScore()
	before := append(append([]int{}, tune[:10]...), tune[4:]...)
	before[16] = 66 // bar 3, third note, in the second pass: F sharp in place of G
	a, b := kept(t, sounded(0.75, before...), s), kept(t, sounded(0.6, tune...), s)

	c, err := compare.Takes(compare.Side{Hearing: a.Hearing, Name: "before"}, compare.Side{Hearing: b.Hearing, Name: "now"}, s)
	if err != nil {
		t.Fatal(err)
	}
	for i, n := range c.Notes {
		// The chosen pass of A begins at the 11th sound with note 5; B plays note k at 1 + 0.6·(k−1) s.
		if n.ID == "n1" && n.AS != nil {
			t.Errorf("n1 is not in the second pass: %+v", n)
		}
		if n.BS == nil || math.Abs(*n.BS-(1+0.6*float64(i))) > 0.03 {
			t.Errorf("%s in B: %+v", n.ID, n)
		}
		if k := i - 4; k >= 0 && (n.AS == nil || math.Abs(*n.AS-(1+0.75*float64(10+k))) > 0.03) {
			t.Errorf("%s in A: %+v", n.ID, n)
		}
	}
	if got := strings.Join(c.Say, " "); !strings.Contains(got, "All 12 notes right; 11 of 12 before.") || !strings.Contains(got, "Better in bar 3.") || !strings.Contains(got, "Faster: 100 a minute, 80 before.") {
		t.Errorf("said %q", got)
	}

	e := evidence.Of(a.Hearing, s)
	if e.Best != 2 || e.Passes[1].Bars[1].Say != "Bar 3: three of four notes, the G was heard as F sharp, 80 a minute." {
		t.Errorf("evidence: best %d, %q", e.Best, e.Passes[1].Bars[1].Say)
	}

	book, err := remedies.Printed()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range append(a.Findings, b.Findings...) {
		if offers := book.For(f, remedies.Around(f, a.Hearing.Score, nil)); len(offers) == 0 {
			t.Errorf("nothing in the book for %s: %s", f.Kind, f.Text)
		}
	}

	fix, err := amend.Parse("note-right", json.RawMessage(`{"note":"n11","pass":2,"s":13}`))
	if err != nil {
		t.Fatal(err)
	}
	r := amend.Apply(a.Hearing, s, []amend.Correction{fix}, findings.Options{})
	for _, f := range r.Findings {
		if f.Kind == findings.Wrong {
			t.Errorf("corrected, and still said: %s", f.Text)
		}
	}
	if len(r.Changed) != 1 {
		t.Errorf("changed %q, left %v", r.Changed, r.Left)
	}
}
