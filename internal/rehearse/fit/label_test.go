package main

import (
	"math"
	"slices"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/music"
	"antiphon/internal/rehearse"
)

func TestLabels(t *testing.T) {
	q := func(n int64) music.Beats { return music.Quarters(n, 2) }
	// Two parts with the same E4 at the same place, then a G4. The truth counts part 2 first.
	score := []music.Sounding{{Part: "P1", Onset: q(0), Midi: 64}, {Part: "P2", Onset: q(0), Midi: 64}, {Part: "P1", Onset: q(1), Midi: 67}, {Part: "P1", Onset: q(2), Midi: 71}}
	notes := []scoreNote{{0, 0, 64, 2}, {1, 0, 64, 1}, {2, 0.5, 67, 1}}
	if got := inTruth(score, notes); !slices.Equal(got, []int{1, 0, 2, -1}) {
		t.Fatalf("indices %v, want 1 0 2 and none", got)
	}
	ref := func(i int) *int { return &i }
	truth := rehearse.Truth{Notes: []rehearse.TrueNote{
		{Score: ref(1), OnsetS: 1, Midi: 64, Kind: "correct"},
		{Score: ref(1), OnsetS: 1.07, Midi: 64, Kind: "correct"}, // and again
		{Score: ref(2), OnsetS: 2, Midi: 66, Kind: "wrong"},      // F#4 in place of the G4
		{OnsetS: 3, Midi: 50, Kind: "extra"},
	}}
	l := newLabels(truth, notes, score)
	for _, c := range []struct {
		name string
		o    ear.Observation
		want float32
	}{
		{"written, played", ear.Observation{Of: ear.Written, S: 1.02, Midi: 64, Note: 0}, 1},
		{"written, 0.24 s after the stroke", ear.Observation{Of: ear.Written, S: 0.76, Midi: 64, Note: 0}, 1},
		{"written, 0.26 s after", ear.Observation{Of: ear.Written, S: 0.74, Midi: 64, Note: 0}, 0},
		{"written, 0.14 s before", ear.Observation{Of: ear.Written, S: 1.21, Midi: 64, Note: 0}, 1},
		{"written, 0.16 s before", ear.Observation{Of: ear.Written, S: 1.23, Midi: 64, Note: 0}, 0},
		{"the other part's, left out", ear.Observation{Of: ear.Written, S: 1, Midi: 64, Note: 1}, 0},
		{"written, another played in its place", ear.Observation{Of: ear.Written, S: 2, Midi: 67, Note: 2}, 0},
		{"not in the truth's score", ear.Observation{Of: ear.Written, S: 2, Midi: 71, Note: 3}, 0},
		{"of no note", ear.Observation{Of: ear.Written, S: 1, Midi: 64, Note: -1}, 0},
		{"stranger, the wrong note", ear.Observation{Of: ear.Stranger, S: 2, Midi: 66, Note: -1}, 1},
		{"stranger, the extra note, 0.09 s after", ear.Observation{Of: ear.Stranger, S: 2.91, Midi: 50, Note: -1}, 1},
		{"stranger, 0.11 s after", ear.Observation{Of: ear.Stranger, S: 2.89, Midi: 50, Note: -1}, 0},
		{"stranger, 0.05 s before", ear.Observation{Of: ear.Stranger, S: 3.05, Midi: 50, Note: -1}, 1},
		{"stranger, 0.07 s before", ear.Observation{Of: ear.Stranger, S: 3.07, Midi: 50, Note: -1}, 0},
		{"stranger that never sounded", ear.Observation{Of: ear.Stranger, S: 3, Midi: 62, Note: -1}, 0},
		{"a written pitch begins, whoever plays it", ear.Observation{Of: ear.Begins, S: 0.97, Midi: 64, Note: -1}, 1},
		{"a wrong pitch begins", ear.Observation{Of: ear.Begins, S: 2, Midi: 66, Note: -1}, 1},
		{"its octave does not", ear.Observation{Of: ear.Begins, S: 2, Midi: 78, Note: -1}, 0},
	} {
		c.o.Inputs, c.o.Output = []float32{1, 2}, 0.5
		r, ok := l.row(c.o)
		if !ok || r.target != c.want || r.said != 0.5 || !slices.Equal(r.inputs, c.o.Inputs) {
			t.Errorf("%s: %+v, %v, want %v", c.name, r, ok, c.want)
		}
	}
	for _, c := range []struct {
		name     string
		s, fromS float64
		note     int
		want     float64 // seconds after fromS; NaN for none
	}{
		{"the nearer of two", 1.02, 0.92, 0, 0.08},
		{"the nearer of two, from later", 1.05, 0.95, 0, 0.12},
		{"0.19 s after its stroke", 0.81, 0.75, 0, 0.25},
		{"0.21 s after", 0.79, 0.75, 0, math.NaN()},
		{"before its window", 1.02, 1.08, 0, math.NaN()},
		{"past its window's last frame", 0.85, 0.70, 0, math.NaN()}, // 120 frames are 0.2993 s
		{"left out", 1.02, 0.92, 1, math.NaN()},
		{"of no note", 1.02, 0.92, -1, math.NaN()},
	} {
		o := ear.Observation{Of: ear.Onset, S: c.s, FromS: c.fromS, Midi: 64, Note: c.note, Output: c.fromS + 0.1}
		r, ok := l.row(o)
		if ok == math.IsNaN(c.want) {
			t.Errorf("%s: taken %v, frame %v", c.name, ok, r.target)
		} else if ok && (math.Abs(float64(r.target)*55/22050-c.want) > 1e-5 || math.Abs(float64(r.said)*55/22050-0.1) > 1e-5) {
			t.Errorf("%s: frame %v, want %v s; said %v", c.name, r.target, c.want, r.said)
		}
	}
}
