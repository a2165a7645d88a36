package ladder

import (
	"math"
	"strings"
	"testing"

	"antiphon/internal/plan/calendar"
)

// TestWorked: domain reference 3.3, from 60 to 100 in steps of 5 %.
func TestWorked(t *testing.T) {
	got := Rungs(60, 100, 0.05)
	want := []float64{60, 63, 66.15, 69.46, 72.93, 76.58, 80.41, 84.43, 88.65, 93.08, 97.73, 100}
	if len(got) != len(want) { // 11 steps
		t.Fatalf("%v", got)
	}
	for i := range want {
		if math.Abs(got[i]-want[i]) > 5e-3 {
			t.Errorf("rung %d is %.3f, want %.2f", i, got[i], want[i])
		}
	}
	if r := Rungs(60, 63, 0.05); len(r) != 2 || r[1] != 63 {
		t.Errorf("one step is %v", r)
	}
	for _, odd := range [][]float64{Rungs(100, 60, .05), Rungs(0, 60, .05), Rungs(50, 60, 0), Rungs(math.NaN(), 60, .1)} {
		if len(odd) != 1 || odd[0] != 60 {
			t.Errorf("no way to go: %v", odd)
		}
	}
}

func TestFits(t *testing.T) {
	d, _ := calendar.Read("2026-02-02")
	l := Fit(nil, 100, Rules{})
	if l.Rungs[0] != 50 || l.Step != UsualStep || len(l.Why) != 3 {
		t.Errorf("nothing heard: %+v", l)
	}
	l = Fit([]Try{{d, 70, false}, {d, 64, true}, {d + 1, 60, true}}, 100, Rules{})
	if l.Rungs[0] != 64 || !strings.Contains(l.Next(), "clean three times in a row at 64, then 67") {
		t.Errorf("%+v: %s", l, l.Next())
	}
	l = Fit([]Try{{d, 70, false}}, 100, Rules{})
	if l.Rungs[0] != 56 {
		t.Errorf("after a failure at 70: %+v", l)
	}
	var slow, quick []Try
	for k := range 8 {
		slow = append(slow, Try{d + calendar.Day(2*k), 60 * math.Pow(1.025, float64(k)), true})
		quick = append(quick, Try{d + calendar.Day(2*k), 60 * math.Pow(1.07, float64(k)), true})
	}
	a, b := Fit(slow, 120, Rules{}), Fit(quick, 120, Rules{})
	if math.Abs(a.Step-.025) > .001 || math.Abs(b.Step-.07) > .001 || a.Days <= b.Days || a.DaysTo[0] >= a.Days || a.DaysTo[1] <= a.Days {
		t.Errorf("slow %+v\nquick %+v", a, b)
	}
	if c := Fit(slow, 70, Rules{}); len(c.Rungs) != 1 || !strings.Contains(c.Why[0], "the goal is reached") || !strings.Contains(c.Next(), "then it is kept") {
		t.Errorf("goal reached: %+v", c)
	}
	if c := Fit(quick, 120, Rules{Step: .03}); c.Step != .03 {
		t.Errorf("the teacher's step is %v", c.Step)
	}
	split := []Try{{d, 60, true}, {d, 64, false}, {d, 64, false}, {d + 1, 64, false}, {d + 1, 64, false}}
	if !Fit(split, 100, Rules{}).Split || Fit(split[:4], 100, Rules{}).Split {
		t.Error("a passage is not split after two failures on two days, or too early")
	}
}
