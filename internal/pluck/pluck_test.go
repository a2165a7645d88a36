package pluck_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
	"antiphon/internal/playable"
	"antiphon/internal/pluck"
)

// n is a note of a test score: when, how long (quarters), string and fret.
type n struct {
	at, long  float64
	str, fret int
	more      func(*music.Note)
}

var openStrings = [...]int{0, 64, 59, 55, 50, 45, 40}

func beats(q float64) music.Beats { return music.Quarters(int64(math.Round(q*960)), 960) }

func score(bpm float64, notes ...n) *music.Score {
	s := &music.Score{Parts: []music.Part{{ID: "P1", Staves: 1}}, Tempos: []music.TempoMark{{Bpm: bpm, Unit: music.Quarters(1, 1)}}}
	for _, x := range notes {
		bar := int(x.at / 4)
		for len(s.Bars) <= bar {
			s.Bars = append(s.Bars, music.Bar{Number: strconv.Itoa(len(s.Bars) + 1), Start: music.Quarters(int64(4*len(s.Bars)), 1), Length: music.Quarters(4, 1)})
		}
		d := music.Note{Bar: bar, Start: beats(x.at), Duration: beats(x.long), Voice: strconv.Itoa(x.str), Staff: 1, Pitch: music.SpellMidi(openStrings[x.str]+x.fret, 0),
			String: x.str, Fret: x.fret, HasFret: true}
		if x.more != nil {
			x.more(&d)
		}
		s.Parts[0].Notes = append(s.Parts[0].Notes, d)
	}
	return s
}

// line is single notes "string/fret" one after the other.
func line(each float64, places string) (out []n) {
	for k, p := range strings.Fields(places) {
		str, fret, _ := strings.Cut(p, "/")
		s, _ := strconv.Atoi(str)
		f, _ := strconv.Atoi(fret)
		out = append(out, n{at: float64(k) * each, long: each, str: s, fret: f})
	}
	return out
}

func assign(t *testing.T, s *music.Score, o pluck.Options) *pluck.Plan {
	t.Helper()
	plan, err := pluck.Assign(s, nil, o)
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

func fingers(plan *pluck.Plan) string {
	out := ""
	for _, c := range plan.Notes {
		if c.Finger == "" {
			out += "."
		}
		out += c.Finger
	}
	return out
}

const (
	cScale = "5/3 4/0 4/2 4/3 3/0 3/2 2/0 2/1"
	gScale = "6/3 5/0 5/2 5/3 4/0 4/2 4/4 3/0 3/2 2/0 2/1 2/3 1/0 1/2 1/3"
)

// TestTrade: what any teacher would pluck. Common practice, no source, unless one is named.
func TestTrade(t *testing.T) {
	mark := func(f string) func(*music.Note) { return func(d *music.Note) { d.Plucks = []string{f} } }
	span := func(kind, role string) func(*music.Note) {
		return func(d *music.Note) {
			d.Spans = append(d.Spans, music.Span{Kind: kind, Role: role, Number: 1})
			d.Voice = "1"
		}
	}
	for _, c := range []struct {
		name  string
		notes []n
		o     pluck.Options
		want  string // alternatives apart by |
	}{
		{"C major scale, one octave", line(.5, cScale), pluck.Options{}, "mimimimi"}, // the reference: start m, one crossing against the hand, start i two
		{"bass and three trebles", append(line(.25, "5/3 3/0 2/1 1/0"), line(.25, "")...), pluck.Options{}, "pima"},
		{"bass and three trebles, without a", line(.25, "5/3 3/0 2/1 1/0"), pluck.Options{NoA: true}, "pimi|pimm|ppim"},
		{"chord of four", []n{{0, 1, 5, 3, nil}, {0, 1, 3, 0, nil}, {0, 1, 2, 1, nil}, {0, 1, 1, 0, nil}}, pluck.Options{}, "pima"},
		{"chord of four over the basses", []n{{0, 1, 6, 0, nil}, {0, 1, 5, 2, nil}, {0, 1, 4, 2, nil}, {0, 1, 3, 1, nil}}, pluck.Options{}, "pima"},
		{"chord of four without a", []n{{0, 1, 6, 0, nil}, {0, 1, 5, 2, nil}, {0, 1, 4, 2, nil}, {0, 1, 3, 1, nil}}, pluck.Options{NoA: true}, "ppim"},
		{"chord of six", []n{{0, 1, 6, 0, nil}, {0, 1, 5, 2, nil}, {0, 1, 4, 2, nil}, {0, 1, 3, 1, nil}, {0, 1, 2, 0, nil}, {0, 1, 1, 0, nil}}, pluck.Options{}, "pppima"},
		{"chord of three", []n{{0, 1, 3, 0, nil}, {0, 1, 2, 1, nil}, {0, 1, 1, 0, nil}}, pluck.Options{}, "ima|pim"},
		{"hammer-on", []n{{0, .25, 1, 0, span("hammer-on", "start")}, {.25, .25, 1, 1, span("hammer-on", "stop")}, {.5, .25, 1, 3, nil}, {.75, .25, 1, 1, nil}}, pluck.Options{}, "i.mi|m.im"},
		{"curve over two notes of a string", []n{{0, .25, 1, 0, span("slur", "start")}, {.25, .25, 1, 1, span("slur", "stop")}, {.5, .25, 1, 3, nil}, {.75, .25, 1, 1, nil}}, pluck.Options{}, "i.mi|m.im"},
		{"curve over two strings", []n{{0, .25, 2, 1, span("slur", "start")}, {.25, .25, 1, 0, span("slur", "stop")}}, pluck.Options{}, "im"},
		{"tremolo", line(.125, "4/0 1/0 1/0 1/0 4/0 1/0 1/0 1/0 4/2 1/0 1/0 1/0"), pluck.Options{}, "pamipamipami"},
		{"tremolo without a", line(.125, "4/0 1/0 1/0 1/0 4/0 1/0 1/0 1/0"), pluck.Options{NoA: true}, "pimipimi"},
		{"a mark is kept", []n{{0, .5, 1, 0, mark("a")}, {.5, .5, 1, 1, nil}}, pluck.Options{}, "am|ai"},
		{"a fixed note is kept", line(.5, "1/0 1/1"), pluck.Options{Fix: map[string]string{"n1": "a"}}, "am|ai"},
		{"marks against the hand are kept", []n{{0, 1, 2, 1, mark("m")}, {0, 1, 1, 0, mark("i")}}, pluck.Options{}, "mi"},
		{"pattern", line(.5, "5/3 3/0 2/1 1/0 2/1 3/0 2/1 3/0"), pluck.Options{Pattern: "p i m a m i"}, "pimamipi"},
		{"pattern with pairs", []n{{0, 1, 5, 3, nil}, {1, 1, 2, 1, nil}, {1, 1, 1, 0, nil}}, pluck.Options{Pattern: "p(im)"}, "pim"},
		{"pattern for the first bar alone", line(1, "5/3 3/0 2/1 1/0 1/0 1/1 1/3 1/1"), pluck.Options{Pattern: "pppp", From: "1", To: "1"}, "ppppimim|ppppmimi"},
		{"pattern from the second bar", line(1, "1/0 1/1 1/3 1/1 5/3 3/0 2/1 1/0"), pluck.Options{Pattern: "pppp", From: "2"}, "imimpppp|mimipppp"},
		{"pattern begins anew in the next bar", line(1, "5/3 3/0 2/1 1/0 5/3 3/0 2/1"), pluck.Options{Pattern: "pim"}, "pimppim"},
	} {
		got := fingers(assign(t, score(100, c.notes...), c.o))
		if !strings.Contains("|"+c.want+"|", "|"+got+"|") {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}

// TestMelodyOverBasses: the finger that plays a melody changes from note to note also where a bass comes
// with it (common practice, no source).
func TestMelodyOverBasses(t *testing.T) {
	notes := line(1, "1/0 1/1 1/3 1/1 1/0 2/3 2/1 2/3")
	for k, bass := range []string{"5/3", "6/3", "5/0", "4/0"} {
		b := line(2, bass)[0]
		b.at = float64(2 * k)
		notes = append(notes, b)
	}
	s := score(120, notes...)
	last := ""
	plan := assign(t, s, pluck.Options{})
	for k, x := range s.Sounding() {
		if f := plan.Notes[k].Finger; x.String >= 4 {
			if f != "p" {
				t.Errorf("bass %s is plucked by %s", x.Name, f)
			}
		} else {
			if f == last || f == "p" {
				t.Errorf("%s at %v: %s after %s", x.Name, x.Onset, f, last)
			}
			last = f
		}
	}
}

// TestSparing: where the marks of a piece never use a, the rest of it does without.
func TestSparing(t *testing.T) {
	notes := line(.5, strings.Repeat("5/3 3/0 2/1 1/0 ", 6))
	for _, c := range []struct {
		marks string
		want  bool // a is used further on
	}{{"", true}, {"pimapima", true}, {"pimipimi", false}, {"pimm", true}} {
		s := score(100, notes...)
		for k, f := range c.marks {
			s.Parts[0].Notes[k].Plucks = []string{string(f)}
		}
		rest := fingers(assign(t, s, pluck.Options{}))[8:]
		if strings.Contains(rest, "a") != c.want {
			t.Errorf("marked %q, then %s", c.marks, rest)
		}
	}
}

// TestFormulas counts arpeggio patterns. Source: the reference, 2.2: (3ⁿ+3(-1)ⁿ)/4 cyclic strings over
// p i m a that start with p, no two neighbours equal; 3·2ⁿ⁻² with p only first; six with i m a once each.
func TestFormulas(t *testing.T) {
	for n, want := range map[int]int{3: 6, 4: 21, 6: 183, 8: 1641} {
		if got := len(pluck.Formulas(n, false)); got != want {
			t.Errorf("patterns of %d: %d, want %d", n, got, want)
		}
	}
	for n, want := range map[int]int{3: 6, 4: 12, 6: 48, 8: 192} {
		if got := len(pluck.Formulas(n, true)); got != want {
			t.Errorf("patterns of %d with p only first: %d, want %d", n, got, want)
		}
	}
	once := map[string]bool{}
	for _, f := range pluck.Formulas(4, true) {
		if strings.Contains(f, "i") && strings.Contains(f, "m") && strings.Contains(f, "a") {
			once[f] = true
		}
	}
	if fmt.Sprint(once) != "map[paim:true pami:true piam:true pima:true pmai:true pmia:true]" {
		t.Errorf("each finger once: %v", once)
	}
	// Families in common use are among them and can be read; block-chord repeats are not formulas.
	for _, f := range []string{"pim", "pmi", "pami", "pima", "pimi", "pmim", "pimami", "pamima", "pimiami"} {
		found := false
		for _, x := range pluck.Formulas(len(f), false) {
			found = found || x == f
		}
		steps, err := pluck.ParsePattern(f)
		if !found || err != nil || strings.Join(steps, "") != f {
			t.Errorf("%s: found %v, read as %v, %v", f, found, steps, err)
		}
	}
	// Every pattern of four laid over one chord is what comes back, and two hands can do it.
	for _, f := range pluck.Formulas(4, false) {
		var notes []n
		at := map[byte]n{'p': {str: 5, fret: 3}, 'i': {str: 3}, 'm': {str: 2, fret: 1}, 'a': {str: 1}}
		for k := range 8 {
			x := at[f[k%4]]
			x.at, x.long = float64(k)*.25, .25
			notes = append(notes, x)
		}
		s := score(100, notes...)
		plan := assign(t, s, pluck.Options{Pattern: f})
		if got := fingers(plan); got != f+f {
			t.Errorf("pattern %s gives %s", f, got)
		}
		plan.Write(s)
		for _, fault := range playable.Check(s, guitar.Standard(), guitar.AdultHand()) {
			if fault.Level != playable.Unmarked {
				t.Errorf("pattern %s: %s", f, fault.Text)
			}
		}
	}
}

func TestPatternErrors(t *testing.T) {
	s := score(100, line(1, "5/3 3/0 2/1 1/0")...)
	for pattern, want := range map[string]string{
		"pxm":                     `'x' is no finger`,
		"p(im":                    "stays open",
		"(ii)":                    "twice at once",
		"(mi)":                    "order of the hand",
		"()":                      "no finger",
		" - ":                     "no finger",
		"p(im)":                   "bar 1, stroke 2 of the bar plucks one string, but \"p(im)\" gives 2 fingers",
		strings.Repeat("pi", 200): "more than 256",
	} {
		_, err := pluck.Assign(s, nil, pluck.Options{Pattern: pattern})
		if !errors.Is(err, pluck.ErrPattern) || !strings.Contains(fmt.Sprint(err), want) {
			t.Errorf("pattern %.20q: got %v, want %q", pattern, err, want)
		}
	}
	marked := score(100, line(1, "5/3 3/0")...)
	marked.Parts[0].Notes[1].Plucks = []string{"m"}
	if _, err := pluck.Assign(marked, nil, pluck.Options{Pattern: "pi"}); !errors.Is(err, pluck.ErrPattern) || !strings.Contains(err.Error(), "is marked m") {
		t.Errorf("a mark against the pattern: %v", err)
	}
	for _, o := range []pluck.Options{{Pattern: "p", From: "7"}, {Pattern: "p", To: "7"}} {
		if _, err := pluck.Assign(s, nil, o); !errors.Is(err, pluck.ErrPattern) || !strings.Contains(err.Error(), `no bar "7"`) {
			t.Errorf("%+v: %v", o, err)
		}
	}
	two := score(100, line(1, "5/3 3/0 2/1 1/0 1/0")...)
	if _, err := pluck.Assign(two, nil, pluck.Options{Pattern: "p", From: "2", To: "1"}); !errors.Is(err, pluck.ErrPattern) || !strings.Contains(err.Error(), "bar 2 comes after bar 1") {
		t.Errorf("a passage back to front: %v", err)
	}
	if _, err := pluck.Assign(s, nil, pluck.Options{Fix: map[string]string{"n1": "x"}}); err == nil {
		t.Error("x is no finger")
	}
	if _, err := pluck.Assign(s, nil, pluck.Options{Instrument: guitar.Instrument{ScaleMm: 6}}); !errors.Is(err, guitar.ErrInstrument) {
		t.Errorf("a scale of 6 mm: %v", err)
	}
}

// TestCrossings: the reference, 2.1 and 6.14: C major one octave up, starting with m makes one crossing
// against the hand, starting with i two.
func TestCrossings(t *testing.T) {
	c := []int{5, 4, 4, 4, 3, 3, 2, 2}
	if m, i := pluck.BadCrossings(c, "m", "i"), pluck.BadCrossings(c, "i", "m"); m != 1 || i != 2 {
		t.Errorf("from m %d, from i %d, want 1 and 2", m, i)
	}
}

// TestScalesStartWell: on scales of every key the start is the better of the two, found by trying both.
func TestScalesStartWell(t *testing.T) {
	in := guitar.Standard()
	runs := 0
	for root := 40; root <= 55; root++ {
		for _, steps := range [][]int{{0, 2, 4, 5, 7, 9, 11, 12}, {0, 2, 3, 5, 7, 8, 10, 12}, {0, 2, 4, 5, 7, 9, 11, 12, 14, 16, 17, 19, 21, 23, 24}} {
			var places []string
			var strs []int
			for _, st := range steps {
				at := in.Places(root + st)[0]
				places, strs = append(places, fmt.Sprintf("%d/%d", at.String, at.Fret)), append(strs, at.String)
			}
			plan := assign(t, score(100, line(.5, strings.Join(places, " "))...), pluck.Options{})
			got := fingers(plan)
			if strings.Trim(got, "im") != "" {
				t.Errorf("scale from %d is plucked %s", root, got)
				continue
			}
			other := map[byte]string{'i': "m", 'm': "i"}[got[0]]
			mine, theirs := pluck.BadCrossings(strs, got[:1], other), pluck.BadCrossings(strs, other, got[:1])
			if mine > theirs {
				t.Errorf("scale from %d, %v: starts with %s for %d bad crossings, %s has %d", root, steps, got[:1], mine, other, theirs)
			}
			if len(plan.Starts) != 1 || plan.Starts[0].Finger != got[:1] || !strings.Contains(plan.Starts[0].Reason, fmt.Sprintf("from %s %d", other, theirs)) {
				t.Errorf("scale from %d: starts %+v", root, plan.Starts)
			}
			runs++
		}
	}
	if runs < 40 {
		t.Errorf("only %d scales", runs)
	}
}

func TestRestStrokes(t *testing.T) {
	c := func(notes []n, o pluck.Options) *pluck.Plan { return assign(t, score(100, notes...), o) }
	// A line alone: every stroke of i and m may rest, and does when that is asked.
	for _, x := range c(line(.5, gScale), pluck.Options{Rest: true}).Notes {
		if may := x.ID != "n1"; x.MayRest != may || (x.Stroke == music.RestStroke) != may {
			t.Errorf("G major, %+v: only the sixth string has nothing to land on", x)
		}
	}
	// A chord broken over neighbouring strings, a step apart, is no melody (common practice, no source).
	for _, x := range c(line(.5, "5/3 3/2 2/0 3/2 2/0 3/2 2/0 3/2"), pluck.Options{Rest: true}).Notes {
		if x.Stroke != music.FreeStroke {
			t.Errorf("a broken chord: %+v", x)
		}
	}
	// A slow tune that goes to and fro over two strings is a melody (common practice, no source).
	for _, x := range c(line(1, "2/0 3/2 3/0 2/0 3/2 3/0"), pluck.Options{Rest: true}).Notes {
		if x.Stroke != music.RestStroke {
			t.Errorf("a slow tune: %+v", x)
		}
	}
	// A stroke that stands in the score stays, asked or not.
	for _, o := range []pluck.Options{{}, {Rest: true}} {
		marked := line(.5, gScale)
		marked[3].more = func(d *music.Note) { d.SetStroke(music.FreeStroke) }
		if got := c(marked, o).Notes[3].Stroke; got != music.FreeStroke {
			t.Errorf("rest %v: a marked free stroke became %q", o.Rest, got)
		}
	}
	// Over a held neighbour it may not, over a held string further off it may.
	held := c(append(line(.5, "1/0 1/1 1/3 1/1"), n{0, 2, 2, 0, nil}), pluck.Options{Rest: true})
	far := c(append(line(.5, "1/0 1/1 1/3 1/1"), n{0, 2, 4, 0, nil}), pluck.Options{Rest: true})
	for k := range 5 {
		if x := held.Notes[k]; x.Stroke == music.RestStroke {
			t.Errorf("a rest stroke lands on the held second string: %+v", x)
		}
	}
	rests := 0
	for _, x := range far.Notes {
		if x.Stroke == music.RestStroke {
			rests++
		}
	}
	if rests != 4 {
		t.Errorf("over a held fourth string %d of 4 notes are rest strokes", rests)
	}
	if why := held.Notes[2].Why; !strings.Contains(why, "string 2 still sounds (B3)") {
		t.Errorf("the reason is %q", why)
	}
	// Nothing asked: no stroke is marked.
	for _, x := range c(line(.5, gScale), pluck.Options{}).Notes {
		if x.Stroke != music.NoStroke {
			t.Errorf("unasked: %+v", x)
		}
	}
}

// TestAnyMusic: on music without sense the rules still hold, and the checker, written apart, agrees.
func TestAnyMusic(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	for round := range 150 {
		var notes []n
		at := 0.0
		for at < 16 {
			step := []float64{.25, .25, .5, 1}[rng.IntN(4)]
			strs := rng.Perm(6)[:[]int{1, 1, 1, 1, 2, 2, 3, 4, 6}[rng.IntN(9)]]
			for _, s := range strs {
				notes = append(notes, n{at: at, long: step * float64(1+rng.IntN(3)), str: s + 1, fret: rng.IntN(5)})
			}
			at += step
		}
		s := score(80, notes...)
		o := pluck.Options{NoA: round%3 == 0, Rest: round%2 == 0}
		plan := assign(t, s, o)
		again := assign(t, s, o)
		if fingers(plan) != fingers(again) {
			t.Fatal("the same music is plucked otherwise")
		}
		for _, c := range plan.Notes {
			if c.Finger == "" || o.NoA && c.Finger == "a" {
				t.Fatalf("round %d: %+v", round, c)
			}
		}
		plan.Write(s)
		for _, f := range playable.Check(s, guitar.Standard(), guitar.AdultHand()) {
			switch f.Kind {
			case playable.RepeatedPluck, playable.PluckTwice, playable.PluckCrossed, playable.RestLands, playable.RestNowhere, playable.PluckedSlur:
				if f.Kind == playable.PluckTwice && strings.HasPrefix(f.Text[strings.Index(f.Text, ": ")+2:], "p ") {
					continue // more strings than fingers, with gaps: p must do what it can
				}
				t.Errorf("round %d: %s: %s", round, f.Kind, f.Text)
			}
		}
	}
}

// TestWithoutStrings: a score that marks no string is plucked by pitch; places that are given win.
func TestWithoutStrings(t *testing.T) {
	s := score(100, line(.5, cScale)...)
	for k := range s.Parts[0].Notes {
		x := &s.Parts[0].Notes[k]
		x.String, x.Fret, x.HasFret = 0, 0, false
	}
	if got := fingers(assign(t, s, pluck.Options{})); got != "mimimimi" {
		t.Errorf("without strings: %s", got)
	}
	chord := score(100, n{0, 1, 2, 5, nil}, n{0, 1, 1, 0, nil}) // E4 twice: only places tell which string
	plan, err := pluck.Assign(chord, map[string]guitar.Place{"n1": {String: 1}, "n2": {String: 2, Fret: 5}}, pluck.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got := fingers(plan); len(got) != 2 {
		t.Errorf("unison: %s", got)
	}
}

// TestWrite: letters go where the right hand's belong, once, and the left hand's digits stay.
func TestWrite(t *testing.T) {
	s := score(100, line(.5, "1/1 1/3 1/1")...)
	notes := s.Parts[0].Notes
	notes[0].Fingers = []music.Fingering{{Text: "1"}, {Text: "a"}}
	notes[1].Fingers = []music.Fingering{{Text: "3"}}
	plan := assign(t, s, pluck.Options{Rest: true})
	plan.Write(s)
	if got := fmt.Sprint(notes[0].Plucks, notes[0].Fingers, notes[1].Fingers); got != "[a] [{1 false false }] [{3 false false }]" {
		t.Errorf("written %s", got)
	}
	if notes[1].Stroke() != plan.Notes[1].Stroke || !plan.Notes[0].Given || plan.Notes[1].Given {
		t.Errorf("%+v, written %q", plan.Notes, notes[1].Stroke())
	}
	if again := fingers(assign(t, s, pluck.Options{})); again != fingers(plan) {
		t.Errorf("marks that were written are not kept: %s, then %s", fingers(plan), again)
	}
}

// TestNothingToPluck: an empty score and one of rests have an empty plan.
func TestNothingToPluck(t *testing.T) {
	if plan := assign(t, &music.Score{}, pluck.Options{}); len(plan.Notes) != 0 {
		t.Errorf("%+v", plan)
	}
}

func FuzzParsePattern(f *testing.F) {
	for _, s := range []string{"pima", "p(im)a", "p-i m,a", "((", "p(ima"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, in string) {
		steps, err := pluck.ParsePattern(in)
		if err != nil {
			if !errors.Is(err, pluck.ErrPattern) {
				t.Errorf("%q: %v", in, err)
			}
			return
		}
		again := ""
		for _, s := range steps {
			if len(s) > 1 {
				s = "(" + s + ")"
			}
			again += s
		}
		back, err := pluck.ParsePattern(again)
		if err != nil || fmt.Sprint(back) != fmt.Sprint(steps) {
			t.Errorf("%q is %v, but %q is %v (%v)", in, steps, again, back, err)
		}
	})
}

func BenchmarkAssign(b *testing.B) {
	var notes []n
	for k := range 2000 {
		notes = append(notes, n{at: float64(k) * .25, long: .25 * float64(1+k%3), str: 1 + (k*7)%6, fret: k % 5})
	}
	s := score(100, notes...)
	for b.Loop() {
		if _, err := pluck.Assign(s, nil, pluck.Options{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N), "ms/2000-notes")
}
