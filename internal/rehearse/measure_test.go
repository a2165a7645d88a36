package rehearse

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"
)

// Worked by hand.
func TestMatchNotesByHand(t *testing.T) {
	a := func(onset, midi float64) Heard { return Heard{onset, 440 * math.Exp2((midi-69)/12)} }
	for _, c := range []struct {
		name            string
		truth, reported []Heard
		tolS            float64
		want            int
	}{
		{"nothing", nil, nil, 0.05, 0},
		{"exact", []Heard{a(1, 60)}, []Heard{a(1, 60)}, 0.05, 1},
		{"at the tolerance", []Heard{a(1, 60)}, []Heard{a(1.05, 60)}, 0.05, 1},
		{"just over it", []Heard{a(1, 60)}, []Heard{a(1.0502, 60)}, 0.05, 0},
		{"a quarter tone and a bit", []Heard{a(1, 60)}, []Heard{a(1, 60.51)}, 0.05, 0},
		{"one report serves one note", []Heard{a(1, 60), a(1.02, 60)}, []Heard{a(1.01, 60)}, 0.05, 1},
		// Greedy by distance would pair the middle ones (10 ms) and leave the others 90 ms apart.
		{"the largest matching, not the greedy one", []Heard{a(1, 60), a(1.05, 60)}, []Heard{a(1.04, 60), a(1.09, 60)}, 0.05, 2},
	} {
		if got := MatchNotes(c.truth, c.reported, c.tolS); got != c.want {
			t.Errorf("%s: %d pairs, want %d", c.name, got, c.want)
		}
	}
	c := Counts{Found: 6, True: 8, Reported: 10} // P .6, R .75, F = 2·.45/1.35
	if got := c.F1(); math.Abs(got-2.0/3) > 1e-12 {
		t.Errorf("F1 %v, want 2/3", got)
	}
}

// The same notes go through mir_eval itself (Debian python3-mir-eval; Raffel et al., ISMIR 2014).
func TestMatchesAsMirEvalDoes(t *testing.T) {
	const python = "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import mir_eval").Run(); err != nil {
		t.Skip("python3-mir-eval is not installed: apt-get install python3-mir-eval")
	}
	type testCase struct {
		Truth, Reported [][2]float64 // onset, Hz
		TolS            float64
	}
	rng := rand.New(rand.NewPCG(7, 7))
	var cases []testCase
	for n := 0; n < 60; n++ {
		c := testCase{TolS: []float64{0.05, 0.025}[n%2]}
		t := 0.1
		for k := 0; k < 1+rng.IntN(40); k++ {
			t += 0.12 * rng.Float64()
			midi := float64(50 + rng.IntN(6))
			c.Truth = append(c.Truth, [2]float64{t, 440 * math.Exp2((midi-69)/12)})
			if rng.IntN(5) > 0 {
				c.Reported = append(c.Reported, [2]float64{math.Round(1e4*(t+0.03*rng.NormFloat64()+0.05)) / 1e4, 440 * math.Exp2((midi+0.3*rng.NormFloat64()-69)/12)})
			}
		}
		if len(c.Reported) == 0 {
			c.Reported = [][2]float64{{0.2, 440}}
		}
		cases = append(cases, c)
	}
	in, err := json.Marshal(cases)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(python, "-c", `
import json, sys, warnings, numpy as np
warnings.simplefilter("ignore")
import mir_eval.transcription as tr, mir_eval.onset as on
out = []
for c in json.load(sys.stdin):
    a, b = np.array(c["Truth"]), np.array(c["Reported"])
    iv = lambda x: np.stack([x[:, 0], x[:, 0] + 0.1], 1)
    p, r, f, _ = tr.precision_recall_f1_overlap(iv(a), a[:, 1], iv(b), b[:, 1], onset_tolerance=c["TolS"], offset_ratio=None)
    of, op, orr = on.f_measure(np.sort(a[:, 0]), np.sort(b[:, 0]), window=c["TolS"])
    out.append([p, r, f, op, orr, of])
json.dump(out, sys.stdout)`)
	cmd.Stdin = strings.NewReader(string(in))
	raw, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var want [][6]float64
	if err := json.Unmarshal(raw, &want); err != nil {
		t.Fatal(err)
	}
	for i, c := range cases {
		var truth, reported []Heard
		var a, b []float64
		for _, n := range c.Truth {
			truth, a = append(truth, Heard{n[0], n[1]}), append(a, n[0])
		}
		for _, n := range c.Reported {
			reported, b = append(reported, Heard{n[0], n[1]}), append(b, n[0])
		}
		notes := Counts{MatchNotes(truth, reported, c.TolS), len(truth), len(reported)}
		onsets := Counts{MatchOnsets(a, b, c.TolS), len(a), len(b)}
		for k, got := range []float64{notes.Precision(), notes.Recall(), notes.F1(), onsets.Precision(), onsets.Recall(), onsets.F1()} {
			if math.Abs(got-want[i][k]) > 1e-9 {
				t.Errorf("case %d, figure %d: %v, mir_eval says %v", i, k, got, want[i][k])
			}
		}
	}
}
