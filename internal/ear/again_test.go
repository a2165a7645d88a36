package ear

import (
	"math"
	"testing"

	"antiphon/internal/music"
)

// So far above what is heard that nothing is looked up in a sound that is not there.
const outOfRange = 1000

func outOfEarshot() *evidence {
	s, err := newSurges(make([]float32, 10*RateHz))
	if err != nil {
		panic(err)
	}
	return &evidence{shift: outOfRange, surges: s}
}

// A take of five strokes: a chord of three strings, one of them doubtful, a second chord, and single notes.
func companyOfNotes() *judge {
	one := func(note, midi, scene int, s, logit float64, likely float32) claim {
		return claim{note: note, midi: midi, pass: 1, scene: scene, expectedS: s, strokeS: s, onsetS: s + 0.02, logit: logit, likely: likely}
	}
	return &judge{evidence: outOfEarshot(), take: habits{overheard: 0.25, usual: 0.9}, claims: []claim{
		one(0, 48, 2, 1, 8, 1), one(1, 60, 2, 1, -2, 0), one(2, 64, 2, 1, 4, 0.5),
		one(3, 48, 5, 2, 6, 1), one(4, 60, 5, 2, 2, 0.5),
		one(5, 60, 7, 3, 3, 1), one(6, 67, 8, 9, 5, 1),
	}, strangers: []stranger{
		{midi: 61, pass: 1, scene: 2, s: 1, gapS: 1, logit: 4},
		{midi: 72, pass: 1, scene: -1, s: 1.5, gapS: 1, logit: -1, echo: true},
		{midi: 61, pass: 1, scene: 8, s: 9, gapS: 1, logit: -3},
	}}
}

func TestWhatANoteIsWeighedBeside(t *testing.T) {
	j := companyOfNotes()
	co := j.gather()
	near := func(what string, got float32, want float64) {
		t.Helper()
		if math.Abs(float64(got)-want) > 1e-6 {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	v := j.besideOthers(nil, co, 1)
	if len(v) != writtenAgains {
		t.Fatalf("%d inputs, want %d", len(v), writtenAgains)
	}
	near("its own", v[0], -2/oddsUnit)
	near("strings of the chord", v[2], 3.0/6)
	near("alone", v[4], 0)
	near("the least of the others", v[5], 4/oddsUnit)
	near("their mean", v[6], 6/oddsUnit)
	near("the most", v[7], 8/oddsUnit)
	near("how likely they began", v[8], 0.75)
	near("an overtone of another", v[9], 1)
	near("another is an overtone of it", v[10], 0)
	near("none of its pitch before", v[11], 1)
	near("one after", v[14], 0)
	near("which is", v[15], 2/oddsUnit)
	near("a second later", v[16], math.Exp(-1/againFadeS))
	near("the mean of its pitch elsewhere", v[18], 2.5/oddsUnit)
	near("the least", v[19], 2/oddsUnit)
	near("played once only", v[22], 1)
	near("a step beside it began", v[24], 4/oddsUnit)
	near("onset after the stroke", v[26], 0.02/againOffS)
	near("doubtful ones around it", v[28], 0)
	near("nothing before", v[29], 0)
	near("the least of the next", v[30], 2/oddsUnit)
	const sound = writtenAgains - anewCount - courseCount - surgeCount // the first of what is heard anew
	near("the take's middle", v[sound-takeCount+4], 4/oddsUnit)
	near("below -1", v[sound-takeCount+6], 10.0/7)
	near("overheard", v[sound-1], 0.5)
	if v = j.besideOthers(nil, co, 3); v[28] == 0 {
		t.Error("the doubtful note a second before is not seen")
	}
	if v = j.besideOthers(nil, co, 6); v[4] != 1 || v[28] != 0 {
		t.Errorf("a lonely note far from the doubtful one: alone %v, doubts %v", v[4], v[28])
	}

	v = j.amongOthers(nil, co, 0, []int{0, 2})
	if len(v) != strangeAgains {
		t.Fatalf("%d inputs, want %d", len(v), strangeAgains)
	}
	near("its own", v[0], 4/oddsUnit)
	near("written there", v[5], 3.0/6)
	near("a written step beside it", v[6], 1)
	near("how doubtful", v[7], -2/oddsUnit)
	near("the surest", v[10], 1)
	near("a semitone beside", v[16], 1)
	near("the same one elsewhere", v[20], -3/oddsUnit)
	v = j.amongOthers(nil, co, 1, []int{1})
	near("an echo", v[2], 1)
	near("apart from moments", v[4], 1)
	near("nowhere else", v[19], 1)
}

// What the last nets say stands in the verdicts' place.
func TestWeighedAgain(t *testing.T) {
	j := companyOfNotes()
	add := func(inputs int, more float32) *model {
		m := &model{mean: make([]float32, inputs), scale: make([]float32, inputs), layers: []layer{{inputs, 1, make([]float32, inputs), []float32{more}}}}
		for i := range m.scale {
			m.scale[i] = 1
		}
		m.layers[0].w[0] = oddsUnit
		return m
	}
	j.models = &models{writtenAgain: add(writtenAgains, 1), strangerAgain: add(strangeAgains, -1)}
	seen := map[Decision]int{}
	j.observe = func(o Observation) { seen[o.Of]++ }
	j.again()
	if j.claims[1].logit != -1 || j.claims[0].logit != 9 || j.strangers[0].logit != 3 {
		t.Errorf("%v, %v, %v", j.claims[1].logit, j.claims[0].logit, j.strangers[0].logit)
	}
	if seen[WrittenAgain] != 7 || seen[StrangerAgain] != 3 {
		t.Errorf("observed %v", seen)
	}
	(&judge{}).again() // a take without a path has nobody to weigh
}

// Two strums a tenth of a second apart share most pitches. One that stands for another note in the first is not
// taken for the same pitch of the second; and of two absent notes the nearer one was missed for it.
func TestWhoseNoteItWas(t *testing.T) {
	verdicts := func(claims []claim, strangers []stranger) map[int]Played {
		j := &judge{evidence: &evidence{x: make([]float32, 4*RateHz)}, claims: claims, strangers: strangers,
			route: &route{notes: make([]music.Sounding, len(claims))}}
		j.settle()
		by := map[int]Played{}
		for _, p := range j.played {
			by[p.Note] = p
		}
		return by
	}
	at := func(note, midi, scene int, s, logit float64) claim {
		return claim{note: note, midi: midi, pass: 1, scene: scene, expectedS: s, strokeS: s, onsetS: s, logit: logit, likely: 0.5}
	}
	by := verdicts([]claim{at(0, 57, 1, 1, 9), at(1, 64, 1, 1, -9), at(2, 57, 2, 1.1, 9), at(3, 66, 2, 1.1, 8)},
		[]stranger{{midi: 66, pass: 1, scene: 1, s: 1, onsetS: 1, logit: 7, likely: 0.9}})
	if by[1].Verdict != Wrong || by[1].Midi != 66 || by[3].Verdict != Right || by[3].OnsetS != 1.1 {
		t.Errorf("a wrong note in the first of two quick strums: %+v, %+v", by[1], by[3])
	}
	by = verdicts([]claim{at(0, 57, 1, 1, 9), at(1, 66, 2, 1.1, -1)}, []stranger{{midi: 66, pass: 1, scene: 1, s: 1, onsetS: 1, logit: 7, likely: 0.9}})
	if by[1].Verdict != Right || by[1].OnsetS != 1 {
		t.Errorf("a string of a roll that came early: %+v", by[1])
	}
	by = verdicts([]claim{at(0, 45, 1, 1, -5.2), at(1, 50, 1, 1, -5.5)}, []stranger{{midi: 47, pass: 1, scene: 1, s: 1, onsetS: 1, logit: 9}})
	if by[0].Verdict != Wrong || by[0].Midi != 47 {
		t.Errorf("of two absent notes the nearer gives way: %+v", by)
	}
}
