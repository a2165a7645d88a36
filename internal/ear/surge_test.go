package ear

import (
	"math"
	"testing"
)

// tones are strings of six partials with their plucks, each struck at its moment.
func tones(seconds float64, struck ...struct{ hz, at float64 }) []float32 {
	x := make([]float32, int(seconds*RateHz))
	noise := uint32(1)
	for _, k := range struck {
		for i := int(k.at * RateHz); i < len(x); i++ {
			s := float64(i)/RateHz - k.at
			for n := 1; n <= 6; n++ {
				x[i] += float32(0.1 / float64(n) * math.Exp(-0.5*float64(n)*s) * math.Sin(2*math.Pi*partialHz(k.hz, n)*s))
			}
			if s < 0.01 {
				noise = noise*1664525 + 1013904223
				x[i] += 0.03 * (float32(noise>>16)/32768 - 1)
			}
		}
	}
	return x
}

// A note that was left out while others ring leaves the sound as it was.
func TestNothingSurgesWhereNothingWasStruck(t *testing.T) {
	type tone = struct{ hz, at float64 }
	x := tones(5, tone{98, 0.5}, tone{147, 1.5}, tone{196, 2.5})
	g, err := newSurges(x)
	if err != nil {
		t.Fatal(err)
	}
	g.compare([]claim{{onsetS: 0.5, logit: 9}, {onsetS: 1.5, logit: 9}, {onsetS: 2.5, logit: 9}, {onsetS: 3.5, logit: 1}})
	at := func(s, dueS float64) shown {
		v := g.appendTo(nil, s, dueS)
		if len(v) != surgeCount {
			t.Fatalf("%d numbers, want %d", len(v), surgeCount)
		}
		return v
	}
	const all, due, rank, step = surgeBands, surgeBands + 2, surgeBands + 5, surgeBands + 6
	struck, silent, beside := at(2.5, 2.5), at(3.5, 3.5), at(3.5, 2.5)
	if struck[all] < 0.5 || struck[all] > 1.5 || struck[due] != struck[all] || struck[rank] < 0.9 {
		t.Errorf("where a string was struck: %v", struck)
	}
	if silent[all] > 0.2 || silent[due] > 0.2 {
		t.Errorf("where none was: %v", silent)
	}
	if beside[due] != struck[due] || beside[all] != silent[all] {
		t.Errorf("looked for beside the place where it was due: %v", beside)
	}
	if struck[step] < 0.05 || math.Abs(float64(silent[step])) > 0.05 {
		t.Errorf("the lowest band grows by %v and %v times %d dB", struck[step], silent[step], surgeUnitDb)
	}
	at(-1, 9) // outside the take
	g.compare([]claim{{onsetS: 1.5, logit: 1}})
	if v := at(1.5, 1.5); math.Abs(float64(v[all])-1) > 1e-3 {
		t.Errorf("beside a doubtful note alone it is %v as usual, want 1", v[all])
	}
	quiet, err := newSurges(nil)
	if err != nil {
		t.Fatal(err)
	}
	quiet.compare([]claim{{onsetS: 0.1}})
	for i, n := range quiet.appendTo(nil, 0.1, 0.1) {
		if math.IsNaN(float64(n)) || math.IsInf(float64(n), 0) {
			t.Errorf("number %d of an empty take is %v", i, n)
		}
	}
}

// What was struck anew is louder than before and falls faster.
func TestTheCourseOfAString(t *testing.T) {
	type tone = struct{ hz, at float64 }
	const at = 2.0
	for _, anew := range []bool{false, true} {
		struck := []tone{{196, 0.3}}
		if anew {
			struck = append(struck, tone{196, at})
		}
		l, err := newCourse(tones(4, struck...))
		if err != nil {
			t.Fatal(err)
		}
		l.open(int(math.Round(at * activityFps)))
		var none, shared [portraitPartials]bool
		for n := 6; n < portraitPartials; n++ {
			shared[n] = true
		}
		v := l.courseOf(nil, 196, 0, &shared, &none)
		if len(v) != courseCount {
			t.Fatalf("%d numbers, want %d", len(v), courseCount)
		}
		const first = 2 * courseSteps
		rise, before, after := v[first], v[first+1], v[first+2]
		if anew != (rise > 0.05) || anew != (v[2] > 0.05) {
			t.Errorf("anew %v: the first partial rises by %v, all by %v", anew, rise, v[2])
		}
		if want := -0.5 * 0.275 * 20 / math.Ln10 / courseUnitDb; math.Abs(float64(before)-want) > 0.01 {
			t.Errorf("anew %v: it fell by %v before, want %.3f", anew, before, want)
		}
		if after >= 0 {
			t.Errorf("anew %v: it grows by %v after", anew, after)
		}
	}
}
