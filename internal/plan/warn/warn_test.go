package warn

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"antiphon/internal/plan/calendar"
)

func weeks(s string) (w []Week) {
	for _, c := range s {
		w = append(w, Week{Came: c == 'x', Minutes: -1})
	}
	return w
}

// TestCalibrated: families with two moods; what is said comes true about as often, and beats the base rate.
func TestCalibrated(t *testing.T) {
	histories := func(seed uint64) (all [][]Week) {
		for i := range 200 {
			rng := rand.New(rand.NewPCG(seed, uint64(i)))
			p, down := 0.5+0.48*rng.Float64(), false
			var h []Week
			for range 70 {
				if down {
					down = rng.Float64() < 0.75
				} else {
					down = rng.Float64() < 0.04
				}
				came := !down && rng.Float64() < p
				m := 0.0
				if came {
					m = 60
				}
				h = append(h, Week{came, m})
			}
			all = append(all, h)
		}
		return all
	}
	m := Fit(histories(1))
	var said, came []float64
	base := 0.0
	for _, h := range histories(2) {
		for at := 20; at+Ahead <= len(h); at += 3 {
			said, came = append(said, m.Quiet(h[:at])), append(came, quiet(h[at:at+Ahead]))
			base += came[len(came)-1]
		}
	}
	base /= float64(len(came))
	always := make([]float64, len(came))
	for i := range always {
		always[i] = base
	}
	if skill := 1 - Brier(said, came)/Brier(always, came); skill < 0.08 {
		t.Errorf("the warnings are better than the base rate %.2f by %.3f only", base, skill)
	}
	for _, b := range Reliability(said, came) {
		if b.Count > 150 && math.Abs(b.Mean-b.Came) > 0.08 {
			t.Errorf("of %d with a chance of %.2f came %.2f", b.Count, b.Mean, b.Came)
		}
	}
}

// TestScores: worked by hand.
func TestScores(t *testing.T) {
	if b := Brier([]float64{0.2, 0.9, 0.5}, []float64{0, 1, 1}); math.Abs(b-(0.04+0.01+0.25)/3) > 1e-12 {
		t.Errorf("Brier %g", b)
	}
	bins := Reliability([]float64{0.12, 0.18, 1}, []float64{0, 1, 1})
	if len(bins) != 2 || bins[0].Count != 2 || bins[0].Mean != 0.15 || bins[0].Came != 0.5 || bins[1].To != 1 {
		t.Errorf("%+v", bins)
	}
}

func TestKindly(t *testing.T) {
	m := UsualModel()
	if n, ok := m.Family("The Larks", weeks("xxxxxxxxxxxxxx")); ok {
		t.Errorf("a family that sends every week is warned of: %+v", n)
	}
	n, ok := m.Family("The Larks", weeks("xxxxxxxxxxx....."))
	if !ok || !strings.Contains(n.Say, "for 5 teaching weeks") || !strings.Contains(n.Say, "nearly every week") || n.Try == "" {
		t.Errorf("%+v %v", n, ok)
	}
	if short := m.Quiet(weeks("xxxxxxxxxxx.")); short >= n.Chance {
		t.Errorf("a shorter silence is likelier to last: %g, %g", short, n.Chance)
	}
	d, _ := calendar.Read("2026-03-02")
	th := Thread{Title: "Canon", GoalBpm: 100, Asked: []calendar.Day{d, d + 7, d + 14}}
	for i := range 5 {
		th.Remarks = append(th.Remarks, Remark{d + calendar.Day(7*i), "left-wrist", "a low left wrist"})
		th.Heard = append(th.Heard, Heard{d + calendar.Day(7*i), 70 + float64(i%2)})
	}
	got := Stuck([]Thread{th})
	if len(got) != 3 || !strings.Contains(got[0].Say, "low left wrist") || !strings.Contains(got[1].Say, "near 71") || !strings.Contains(got[2].Say, "asked in 3 lessons") {
		t.Errorf("%+v", got)
	}
	for _, x := range append(got, n) {
		for _, word := range []string{"fail", "lazy", "should", "bad", "must", "!"} {
			if strings.Contains(strings.ToLower(x.Say+x.Try), word) {
				t.Errorf("%q is not said to a family: %+v", word, x)
			}
		}
	}
	th.Remarks[3].Key, th.Heard[4].Bpm, th.Played = "else", 80, 2
	if got := Stuck([]Thread{th}); len(got) != 0 {
		t.Errorf("not stuck: %+v", got)
	}
}
