package playable_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
	"antiphon/internal/playable"
)

func check(s *music.Score, limits ...playable.Limit) []playable.Fault {
	return playable.Check(s, guitar.Standard(), guitar.AdultHand(), limits...)
}

func show(faults []playable.Fault) string {
	var out []string
	for _, f := range faults {
		out = append(out, fmt.Sprintf("%s (%s): %s", f.Kind, f.Level, f.Text))
	}
	return strings.Join(out, "; ")
}

// TestWhatGuitaristsPlay: grips and scales that every book has must pass without a word.
func TestWhatGuitaristsPlay(t *testing.T) {
	for _, c := range []struct {
		name, source string
		notes        []n
	}{
		{"C", "open chord, common practice", grip(0, "5/3/3", "4/2/2", "3/0/0", "2/1/1", "1/0/0")},
		{"G", "open chord, common practice", grip(0, "6/3/2", "5/2/1", "4/0/0", "3/0/0", "2/0/0", "1/3/3")},
		{"G with 3 2 4", "open chord, common practice", grip(0, "6/3/3", "5/2/2", "1/3/4")},
		{"D", "open chord, common practice", grip(0, "4/0/0", "3/2/1", "2/3/3", "1/2/2")},
		{"A with 1 2 3", "open chord, common practice", grip(0, "5/0/0", "4/2/1", "3/2/2", "2/2/3", "1/0/0")},
		{"A with 2 1 3", "open chord, common practice", grip(0, "5/0/0", "4/2/2", "3/2/1", "2/2/3", "1/0/0")},
		{"E", "open chord, common practice", grip(0, "6/0/0", "5/2/2", "4/2/3", "3/1/1", "2/0/0", "1/0/0")},
		{"Dm", "open chord, common practice", grip(0, "4/0/0", "3/2/2", "2/3/3", "1/1/1")},
		{"G7", "open chord, common practice", grip(0, "6/3/3", "5/2/2", "4/0/0", "3/0/0", "2/0/0", "1/1/1")},
		{"F, full barre", "common practice", grip(0, "6/1/1", "5/3/3", "4/3/4", "3/2/2", "2/1/1", "1/1/1")},
		{"F, small barre", "common practice", grip(0, "4/3/3", "3/2/2", "2/1/1", "1/1/1")},
		{"Bm, barre over five strings", "common practice", grip(0, "5/2/1", "4/4/3", "3/4/4", "2/3/2", "1/2/1")},
		{"B with finger 3 across three", "common practice", grip(0, "5/2/1", "4/4/3", "3/4/3", "2/4/3")},
		{"octave over five frets", "common practice: an extension", grip(0, "6/1/1", "3/5/4")},
	} {
		if faults := check(score(60, c.notes...)); len(faults) > 0 {
			t.Errorf("%s (%s): %s", c.name, c.source, show(faults))
		}
	}
	for name, s := range map[string][]string{ // source: the reference, 2.3, scales in first position
		"C": strings.Fields("5/3/3 4/0/0 4/2/2 4/3/3 3/0/0 3/2/2 2/0/0 2/1/1"),
		"G": strings.Fields("6/3/3 5/0/0 5/2/2 5/3/3 4/0/0 4/2/2 4/4/4 3/0/0 3/2/2 2/0/0 2/1/1 2/3/3 1/0/0 1/2/2 1/3/3"),
	} {
		var notes []n
		for i, p := range s {
			one := grip(float64(i)/4, p)[0]
			one.long, one.pluck = 0.25, []string{"i", "m"}[i%2]
			notes = append(notes, one)
		}
		if faults := check(score(120, notes...), playable.FirstPosition, playable.NoBarre, playable.NoStretch, playable.NoA); len(faults) > 0 {
			t.Errorf("%s major scale in sixteenths at 120: %s", name, show(faults))
		}
	}
}

func pairOf(a, b n) []n { return []n{a, b} }

func slur(kind, role string) func(*music.Note) {
	return func(d *music.Note) { d.Spans = append(d.Spans, music.Span{Kind: kind, Role: role, Number: 1}) }
}

func rolled(d *music.Note) { d.Arpeggio.Kind = "arpeggiate" }

// TestEveryFault has one score for each fault, wrong in just that.
func TestEveryFault(t *testing.T) {
	const hard, warn, unmarked = playable.Impossible, playable.Warning, playable.Unmarked
	for _, c := range []struct {
		name  string
		notes []n
		kind  playable.Kind
		level playable.Level
	}{
		{"E4 and F4 on the first string", pairOf(n{0, 1, 64, 1, 0, "0", "", "", "", nil}, n{0, 1, 65, 1, 1, "1", "", "", "2", nil}), playable.TwoOnString, hard},
		{"fret 2 for F4", []n{{0, 1, 65, 1, 2, "2", "", "", "", nil}}, playable.WrongFret, hard},
		{"C4 on the first string", []n{{0, 1, 60, 1, -1, "1", "", "", "", nil}}, playable.NoPlace, hard},
		{"a seventh string", []n{{0, 1, 60, 7, 20, "1", "", "", "", nil}}, playable.NoPlace, hard},
		{"finger 1 on an open string", []n{{0, 1, 64, 1, 0, "1", "", "", "", nil}}, playable.OpenFinger, hard},
		{"0 on fret 1", []n{{0, 1, 65, 1, 1, "0", "", "", "", nil}}, playable.OpenFinger, hard},
		{"finger 2 on frets 2 and 3", grip(0, "4/2/2", "5/3/2"), playable.FingerTwice, hard},
		{"1 above 2", grip(0, "1/3/1", "3/2/2"), playable.OutOfOrder, hard},
		{"1 and 4 over seven frets", grip(0, "6/1/1", "3/7/4"), playable.OutOfReach, hard},
		{"1 and 2 over four frets", grip(0, "6/1/1", "3/4/2"), playable.OutOfReach, hard},
		{"open third string below a barre", grip(0, "5/2/1", "3/0/0", "1/2/1"), playable.BarreStops, hard},
		{"open first string beside a barre over strings 5 to 2", grip(0, "5/2/1", "4/2/1", "2/2/1", "1/0/0"), playable.BarreStops, warn},
		{"finger 4 across five strings", grip(0, "5/5/4", "1/5/4"), playable.LongBarre, hard},
		{"a held bass loses its string", []n{{0, 4, 48, 5, 3, "3", "", "", "2", nil}, {2, 1, 45, 5, 0, "0", "", "", "", nil}}, playable.CutString, warn},
		{"a held bass loses its finger", []n{{0, 4, 48, 5, 3, "3", "", "", "2", nil}, {2, 1, 62, 2, 3, "3", "", "", "", nil}, {3, 1, 64, 1, 0, "0", "", "", "", nil}}, playable.CutFinger, warn},
		{"a held bass is left for another fret", []n{{0, 4, 48, 5, 3, "3", "", "", "2", nil}, {2, 1, 52, 4, 2, "3", "", "", "", nil}}, playable.CutFinger, warn},
		{"a held bass is too far away", []n{{0, 4, 41, 6, 1, "1", "", "", "2", nil}, {2, 1, 71, 1, 7, "4", "", "", "", nil}}, playable.CutReach, warn},
		{"a barre comes down on a held open string", append([]n{{0, 4, 55, 3, 0, "0", "", "", "2", nil}}, grip(2, "5/2/1", "1/2/1")...), playable.CutBarre, warn},
		{"an open string begins under a barre", append(grip(0, "5/2/1", "1/2/1"), n{2, 1, 55, 3, 0, "0", "", "", "2", nil}), playable.CutBarre, warn},
		{"twelve frets in a sixteenth at 120", []n{{0, .25, 65, 1, 1, "1", "", "", "", nil}, {.25, .25, 77, 1, 13, "1", "", "", "", nil}}, playable.TooFast, hard},
		{"six frets in a sixteenth at 120", []n{{0, .25, 65, 1, 1, "1", "", "", "", nil}, {.25, .25, 71, 1, 7, "1", "", "", "", nil}}, playable.TooFast, warn},
		{"hammer-on to another string", []n{{0, 1, 64, 1, 0, "0", "", "", "", slur("hammer-on", "start")}, {1, 1, 60, 2, 1, "1", "", "", "", slur("hammer-on", "stop")}}, playable.SlurStrings, hard},
		{"hammer-on with the finger that is down", []n{{0, 1, 65, 1, 1, "1", "", "", "", slur("hammer-on", "start")}, {1, 1, 67, 1, 3, "1", "", "", "", slur("hammer-on", "stop")}}, playable.SlurFinger, hard},
		{"plucked hammer-on", []n{{0, 1, 64, 1, 0, "0", "i", "", "", slur("hammer-on", "start")}, {1, 1, 65, 1, 1, "1", "m", "", "", slur("hammer-on", "stop")}}, playable.PluckedSlur, hard},
		{"i twice in eighths at 120", []n{{0, .25, 64, 1, 0, "0", "i", "", "", nil}, {.25, .25, 65, 1, 1, "1", "i", "", "", nil}}, playable.RepeatedPluck, warn},
		{"i twice in 1/64 notes at 120", []n{{0, .0625, 64, 1, 0, "0", "i", "", "", nil}, {.0625, .0625, 65, 1, 1, "1", "i", "", "", nil}}, playable.RepeatedPluck, hard},
		{"m on two strings at once", pairOf(n{0, 1, 64, 1, 0, "0", "m", "", "", nil}, n{0, 1, 59, 2, 0, "0", "m", "", "2", nil}), playable.PluckTwice, hard},
		{"p on strings 6 and 4 at once", pairOf(n{0, 1, 40, 6, 0, "0", "p", "", "", nil}, n{0, 1, 50, 4, 0, "0", "p", "", "2", nil}), playable.PluckTwice, hard},
		{"i above m", pairOf(n{0, 1, 64, 1, 0, "0", "i", "", "", nil}, n{0, 1, 59, 2, 0, "0", "m", "", "2", nil}), playable.PluckCrossed, warn},
		{"rest stroke on a ringing neighbour", []n{{0, 4, 59, 2, 0, "0", "p", "", "2", nil}, {1, 1, 64, 1, 0, "0", "m", music.RestStroke, "", nil}}, playable.RestLands, hard},
		{"rest stroke of p on a ringing neighbour", []n{{0, 4, 55, 3, 0, "0", "i", "", "2", nil}, {1, 1, 50, 4, 0, "0", "p", music.RestStroke, "", nil}}, playable.RestLands, hard},
		{"rest stroke of i on the last string", []n{{0, 1, 40, 6, 0, "0", "i", music.RestStroke, "", nil}}, playable.RestNowhere, warn},
		{"nothing marked", []n{{0, 1, 64, 0, -1, "", "", "", "", nil}}, playable.NotMarked, unmarked},
		{"no finger", []n{{0, 1, 65, 1, 1, "", "", "", "", nil}}, playable.NotMarked, unmarked},

		// The same with the fault mended.
		{"rest stroke, neighbour quiet", []n{{0, 1, 59, 2, 0, "0", "p", "", "", nil}, {1, 1, 64, 1, 0, "0", "m", music.RestStroke, "", nil}}, "", ""},
		{"free stroke on a ringing neighbour", []n{{0, 4, 59, 2, 0, "0", "p", "", "2", nil}, {1, 1, 64, 1, 0, "0", "m", music.FreeStroke, "", nil}}, "", ""},
		{"m rolls two strings", pairOf(n{0, 1, 64, 1, 0, "0", "m", "", "", rolled}, n{0, 1, 59, 2, 0, "0", "m", "", "2", rolled}), "", ""},
		{"p on strings 6 and 5 at once", pairOf(n{0, 1, 40, 6, 0, "0", "p", "", "", nil}, n{0, 1, 45, 5, 0, "0", "p", "", "2", nil}), "", ""},
		{"i twice in halves", []n{{0, 2, 64, 1, 0, "0", "i", "", "", nil}, {2, 2, 65, 1, 1, "1", "i", "", "", nil}}, "", ""},
		{"twelve frets with an open string between", []n{{0, .25, 65, 1, 1, "1", "", "", "", nil}, {.25, 1, 64, 1, 0, "0", "", "", "", nil}, {1.25, .25, 77, 1, 13, "1", "", "", "", nil}}, "", ""},
		{"a bass held to the end", []n{{0, 4, 48, 5, 3, "3", "", "", "2", nil}, {2, 1, 52, 4, 2, "2", "", "", "", nil}}, "", ""},
		{"hammer-on", []n{{0, 1, 64, 1, 0, "0", "i", "", "", slur("hammer-on", "start")}, {1, 1, 65, 1, 1, "1", "", "", "", slur("hammer-on", "stop")}, {2, 1, 64, 1, 0, "0", "m", "", "", nil}}, "", ""},
		{"a cue note", []n{{0, 1, 64, 1, 0, "0", "", "", "", nil}, {0, 1, 65, 1, 1, "1", "", "", "2", func(d *music.Note) { d.Cue = true }}}, "", ""},
		{"two voices on one note", pairOf(n{0, 1, 60, 2, 1, "1", "", "", "", nil}, n{0, 4, 60, 2, 1, "1", "", "", "2", nil}), "", ""},
		{"a grace note before its main note on the same string", []n{{0, 0, 64, 1, 0, "0", "", "", "", func(d *music.Note) { d.Grace = true }}, {0, 1, 65, 1, 1, "1", "", "", "", nil}}, "", ""},
	} {
		faults := check(score(120, c.notes...))
		switch {
		case c.kind == "" && len(faults) == 0:
		case len(faults) == 1 && faults[0].Kind == c.kind && faults[0].Level == c.level && faults[0].Bar == "1" && len(faults[0].Notes) > 0 && strings.HasSuffix(faults[0].Text, "."):
		default:
			t.Errorf("%s: got %q, want %q (%s)", c.name, show(faults), c.kind, c.level)
		}
	}
}

// TestSpeedIsSaid: the fault names the way, the time and the speed. Worked by hand from the reference's
// fret table: fret 1 at 36.482 mm, fret 13 at 343.241 mm, so 306.8 mm in 125 ms, 2.45 m/s.
func TestSpeedIsSaid(t *testing.T) {
	two := []n{{0, .25, 65, 1, 1, "1", "", "", "", nil}, {.25, .25, 77, 1, 13, "1", "", "", "", nil}}
	f := check(score(120, two...))
	if len(f) != 1 || f[0].Size < 2453 || f[0].Size > 2455 || f[0].Unit != "mm/s" || !strings.Contains(f[0].Text, "307 mm in 125 ms, at 2.5 m/s") {
		t.Errorf("got %s (%v)", show(f), f)
	}
	// Without a tempo in the score the speed is a guess (90 a minute), so it may only warn.
	if f := check(score(0, two...)); len(playable.Only(f, playable.Impossible)) > 0 {
		t.Errorf("no tempo: %s", show(f))
	}
}

// TestCutStringsAreQuiet: a string whose note was let go early may be landed on, not before.
func TestCutStringsAreQuiet(t *testing.T) {
	held := n{0, 4, 60, 2, 1, "1", "p", "", "2", nil}
	leaves := n{2, 2, 53, 4, 3, "1", "p", "", "3", nil}
	rest := func(at float64) n { return n{at, .5, 64, 1, 0, "0", "m", music.RestStroke, "", nil} }
	for at, want := range map[float64]bool{1: true, 3: false} {
		got := false
		for _, f := range check(score(60, held, leaves, rest(at))) {
			got = got || f.Kind == playable.RestLands
		}
		if got != want {
			t.Errorf("rest stroke at %v: lands on a sounding string %v, want %v", at, got, want)
		}
	}
}

// TestUnmarkedSlur: without fingers nothing can be said against a slur.
func TestUnmarkedSlur(t *testing.T) {
	for _, f := range check(score(60, n{0, 1, 65, 1, 1, "", "", "", "", slur("hammer-on", "start")}, n{1, 1, 67, 1, 3, "", "", "", "", slur("hammer-on", "stop")})) {
		if f.Level != playable.Unmarked {
			t.Error(f.Text)
		}
	}
}

func TestLimits(t *testing.T) {
	for _, c := range []struct {
		name  string
		limit playable.Limit
		notes []n
		want  bool // broken
	}{
		{"G with 3 2 4", playable.NoFourthFinger, grip(0, "6/3/3", "5/2/2", "1/3/4"), true},
		{"G with 2 1 3", playable.NoFourthFinger, grip(0, "6/3/2", "5/2/1", "1/3/3"), false},
		{"small F", playable.NoBarre, grip(0, "4/3/3", "3/2/2", "2/1/1", "1/1/1"), true},
		{"C", playable.NoBarre, grip(0, "5/3/3", "4/2/2", "2/1/1"), false},
		{"a barre in two steps", playable.NoBarre, []n{{0, 4, 60, 2, 1, "1", "", "", "2", nil}, {1, 1, 65, 1, 1, "1", "", "", "", nil}}, true},
		{"the first let go before", playable.NoBarre, []n{{0, 1, 60, 2, 1, "1", "", "", "", nil}, {1, 1, 65, 1, 1, "1", "", "", "", nil}}, false},
		{"fret 5", playable.FirstPosition, grip(0, "1/5/4"), true},
		{"finger 1 at fret 3", playable.FirstPosition, grip(0, "1/3/1"), true},
		{"D", playable.FirstPosition, grip(0, "3/2/1", "2/3/3", "1/2/2"), false},
		{"1 and 4 over five frets", playable.NoStretch, grip(0, "6/1/1", "3/5/4"), true},
		{"1 and 4 over four frets", playable.NoStretch, grip(0, "3/1/1", "3/0/0", "2/4/4")[:1:1], false},
		{"a in a chord", playable.NoA, []n{{0, 1, 64, 1, 0, "0", "a", "", "", nil}}, true},
		{"m in a chord", playable.NoA, []n{{0, 1, 64, 1, 0, "0", "m", "", "", nil}}, false},
	} {
		faults := check(score(60, c.notes...), c.limit)
		broken := len(faults) > 0 && faults[0].Kind == playable.BrokenLimit && faults[0].Limit == c.limit
		if broken != c.want || len(faults) > 0 != c.want {
			t.Errorf("%s, %s: got %q, want broken %v", c.name, c.limit, show(faults), c.want)
		}
	}
}

// TestGripsByBruteForce: every three-note grip on strings 1 to 3 and frets 0 to 6 is compared with the
// rules written out once more for three notes alone.
func TestGripsByBruteForce(t *testing.T) {
	in, hand := guitar.Standard(), guitar.AdultHand()
	rng := rand.New(rand.NewPCG(3, 3))
	for range 4000 {
		var places []string
		var fret, finger [3]int
		for i := range 3 {
			fret[i] = rng.IntN(7)
			if fret[i] > 0 {
				finger[i] = 1 + rng.IntN(4)
			}
			places = append(places, fmt.Sprintf("%d/%d/%d", i+1, fret[i], finger[i]))
		}
		want := false
		for i := range 3 {
			for j := i + 1; j < 3; j++ {
				a, b := i, j
				if finger[a] == 0 || finger[b] == 0 {
					continue
				}
				if finger[a] > finger[b] {
					a, b = b, a
				}
				far := in.TipsMm(guitar.Place{String: a + 1, Fret: fret[a]}, guitar.Place{String: b + 1, Fret: fret[b]})
				switch {
				case finger[a] == finger[b]:
					want = want || fret[a] != fret[b]
				case fret[a] > fret[b]:
					want = true
				default:
					want = want || far > hand.ReachMm[finger[a]][finger[b]]
				}
			}
		}
		if finger[0] > 0 && finger[0] == finger[2] && fret[0] == fret[2] && fret[1] < fret[0] {
			want = true // a barre over a lower middle string
		}
		faults := check(score(60, grip(0, places...)...))
		if got := len(playable.Only(faults, playable.Impossible)) > 0; got != want {
			t.Fatalf("%v: got %v (%s), want %v", places, got, show(faults), want)
		}
	}
}

// TestHandsAndNecks: what a hand can do, a larger hand and a shorter neck can do as well.
func TestHandsAndNecks(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 7))
	for range 2000 {
		var notes []n
		for k := range 6 {
			for _, str := range rng.Perm(6)[:1+rng.IntN(3)] {
				fret, finger := rng.IntN(8), 1+rng.IntN(4)
				if fret == 0 {
					finger = 0
				}
				notes = append(notes, n{at: float64(k), long: float64(1 + rng.IntN(3)), midi: openStrings[str+1] + fret, str: str + 1, fret: fret, finger: fmt.Sprint(finger), voice: fmt.Sprint(str)})
			}
		}
		s := score(60, notes...)
		before := 1 << 30
		for _, span := range []float64{120, 150, 180, 205, 240} {
			far := 0
			for _, f := range playable.Check(s, guitar.Standard(), guitar.ChildHand(span)) {
				if f.Kind == playable.OutOfReach {
					far++
				}
			}
			if far > before {
				t.Fatalf("span %v: %d grips out of reach, a smaller hand had %d", span, far, before)
			}
			before = far
		}
		before = 1 << 30
		for _, scale := range []float64{660, 650, 580, 480} {
			far := 0
			for _, f := range playable.Check(s, guitar.Instrument{ScaleMm: scale}, guitar.ChildHand(150)) {
				if f.Kind == playable.OutOfReach {
					far++
				}
			}
			if far > before {
				t.Fatalf("scale %v: %d grips out of reach, the longer neck had %d", scale, far, before)
			}
			before = far
		}
	}
}

func BenchmarkCheck(b *testing.B) {
	var notes []n
	for k := range 2000 {
		str, fret := 1+(k*7)%6, k%5
		notes = append(notes, n{at: float64(k) * .25, long: .25 * float64(1+k%6), midi: openStrings[str] + fret, str: str, fret: fret, finger: fmt.Sprint(fret), pluck: "im"[k%2 : k%2+1], voice: fmt.Sprint(k % 3)})
	}
	s := score(100, notes...)
	for b.Loop() {
		check(s)
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N), "ms/2000-notes")
}

// FuzzCheck: whatever the marks are, each fault has a place, notes that exist and one sentence.
func FuzzCheck(f *testing.F) {
	f.Add([]byte{0, 4, 64, 1, 0, 1, 2, 1, 4, 60, 2, 1, 1, 1})
	f.Fuzz(func(t *testing.T, in []byte) {
		var notes []n
		for ; len(in) >= 8 && len(notes) < 60; in = in[8:] {
			x := n{at: float64(in[0]%32) / 4, long: float64(in[1]%16) / 4, midi: 30 + int(in[2]%64), str: int(in[3] % 9), fret: int(in[4]%26) - 1,
				finger: []string{"", "0", "1", "2", "3", "4", "x"}[in[5]%7], pluck: []string{"", "p", "i", "m", "a", "c"}[in[6]%6],
				stroke: []music.Stroke{"", music.RestStroke, music.FreeStroke}[in[7]%3], voice: fmt.Sprint(in[7] % 4)}
			kind := []string{"", "hammer-on", "pull-off", "slide", "grace", "harmonic"}[in[7]/3%6]
			x.more = func(d *music.Note) {
				switch kind {
				case "grace":
					d.Grace, d.Duration = true, music.Beats{}
				case "harmonic":
					d.Harmonic = music.Harmonic{Present: true, Natural: true, Pitch: music.HarmonicTouching}
				case "":
				default:
					d.Spans = []music.Span{{Kind: kind, Role: "stop", Number: 1}, {Kind: kind, Role: "start", Number: 1}}
				}
			}
			notes = append(notes, x)
		}
		s := score(100, notes...)
		known := map[string]bool{}
		for _, x := range s.Sounding() {
			known[x.ID] = true
		}
		for _, fault := range check(s, playable.NoBarre, playable.NoFourthFinger, playable.FirstPosition, playable.NoStretch, playable.NoA) {
			if len(fault.Notes) == 0 || fault.Text == "" || fault.Level == "" || fault.Kind == "" || fault.Bar == "" || fault.Part != "P1" {
				t.Errorf("a fault without a place or a sentence: %+v", fault)
			}
			for _, id := range fault.Notes {
				if !known[id] {
					t.Errorf("%+v names a note that does not exist", fault)
				}
			}
		}
	})
}
