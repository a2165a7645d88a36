package sound

import (
	"fmt"
	"math"
	"math/big"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/music"
)

// exactSample is where a place of n/d quarters lies at a tempo, by integer arithmetic.
func exactSample(n, d int64, bpm int64) int {
	num := new(big.Int).Mul(big.NewInt(n), big.NewInt(60*RateHz))
	den := big.NewInt(d * bpm)
	num.Add(num.Lsh(num, 1), den) // round half up: (2a+b)/2b
	return int(new(big.Int).Div(num, den.Lsh(den, 1)).Int64())
}

// TestFiveMinutes: music and click stay together, to the sample, for five minutes at three tempos.
func TestFiveMinutes(t *testing.T) {
	for _, bpm := range []int64{40, 97, 208} {
		bars := int(5*bpm/4) + 1
		body := strings.Repeat("E2 E2 E2 E2 |", bars)
		s := abc(t, head("Five minutes", "M:4/4\nL:1/8\nQ:1/4=60\nK:C\n"+body+"\n"))
		a := rendered(t, s, Options{Bpm: float64(bpm), Click: true, Silent: true})
		if len(a.Notes) != 4*bars || len(a.Clicks) != 4*bars {
			t.Fatalf("%d notes and %d clicks in %d bars", len(a.Notes), len(a.Clicks), bars)
		}
		for i := range a.Notes {
			want := exactSample(int64(i), 1, bpm)
			if a.Notes[i].At != want || a.Clicks[i].At != want {
				t.Fatalf("%d bpm, beat %d: note at %d, click at %d, want %d", bpm, i, a.Notes[i].At, a.Clicks[i].At, want)
			}
		}
		last := float64(a.Notes[len(a.Notes)-1].At) / RateHz
		if last < 300 {
			t.Errorf("only %.1f s", last)
		}
		if got := 60 * float64(len(a.Notes)-1) / last; math.Abs(got/float64(bpm)-1) > 1e-6 {
			t.Errorf("tempo of the notes: %.5f", got)
		}
	}
}

// onsets finds where sound begins after at least 20 ms of nothing.
func onsets(pcm []float32, floor float32) []int {
	var out []int
	quiet := RateHz
	for i, v := range pcm {
		if max(v, -v) <= floor {
			quiet++
			continue
		}
		if quiet > RateHz/50 {
			out = append(out, i)
		}
		quiet = 0
	}
	return out
}

// TestOnsetsAreHeardWhereTheyAre looks at the sound itself: short notes and clicks between silences
// begin on the samples that the score and the tempo give.
func TestOnsetsAreHeardWhereTheyAre(t *testing.T) {
	s := abc(t, head("Short notes", "M:4/4\nL:1/16\nQ:1/4=60\nK:C\n"+strings.Repeat(".e z3 .B z3 .G z3 .E z3 |", 5)+"\n"))
	for _, bpm := range []int64{61, 97} {
		a := rendered(t, s, Options{Bpm: float64(bpm), Guitar: Strings})
		got := onsets(a.Left, 0)
		if len(got) != 20 {
			t.Fatalf("%d bpm: %d onsets, want 20", bpm, len(got))
		}
		for i, at := range got {
			if want := exactSample(int64(i), 1, bpm); at != want {
				t.Errorf("%d bpm, note %d begins at sample %d, want %d", bpm, i, at, want)
			}
		}
		// The clicks alone.
		c := rendered(t, s, Options{Bpm: float64(bpm), Mute: []string{"1"}, Click: true})
		for i, at := range onsets(c.Left, 0) {
			if want := exactSample(int64(i), 1, bpm); at != want {
				t.Errorf("%d bpm, click %d begins at sample %d, want %d", bpm, i, at, want)
			}
		}
	}
}

// TestRecordedNotesAreHeardWhereTheyAre: what a sound font gives swells, so its onset is known to
// about a millisecond: the first rise of the sound, sought here in another way than when it was cut.
func TestRecordedNotesAreHeardWhereTheyAre(t *testing.T) {
	needsFont(t)
	s := abc(t, head("Apart", "M:4/4\nL:1/4\nQ:1/4=60\nK:C\nE,z G,z | B,z Ez | Gz Bz | ez gz |\n"))
	a := rendered(t, s, Options{Guitar: Recorded})
	for _, n := range a.Notes {
		from := n.At - samples(.03)
		best, at := 0.0, 0
		var before float64
		for i := max(1, from); i < n.At+samples(.03); i++ { // steepest growth of a fast envelope
			d := float64(a.Left[i] - a.Left[i-1])
			e := .98*before + d*d
			if g := e - before; g > best*1.0000001 && e > before {
				best, at = max(best, g), i
			}
			before = e
		}
		peak := best
		before = 0
		for i := max(1, from); i <= at; i++ {
			d := float64(a.Left[i] - a.Left[i-1])
			if d*d > peak/30 {
				at = i
				break
			}
		}
		if off := float64(at-n.At) / RateHz * 1000; math.Abs(off) > 4 {
			t.Errorf("note %d begins %.2f ms from its place", n.Midi, off)
		}
	}
}

// TestMetre: where the clicks fall and which are accented, by hand.
func TestMetre(t *testing.T) {
	for _, c := range []struct {
		name, abc string
		countIn   int
		want      string // clicks in quarters with their accents; | before the music
	}{
		{"four quarters", "M:4/4\nL:1/4\nK:C\nCDEF|\n", 1, "-4! -3 -2+ -1 | 0! 1 2+ 3"},
		{"three quarters", "M:3/4\nL:1/4\nK:C\nCDE|FGA|\n", 1, "-3! -2 -1 | 0! 1 2 3! 4 5"},
		{"two halves", "M:2/2\nL:1/4\nK:C\nCDEF|\n", 1, "-4! -2 | 0! 2"},
		{"six eighths beat in dotted quarters", "M:6/8\nL:1/8\nK:C\nCDEFGA|\n", 1, "-3! -3/2 | 0! 3/2"},
		{"twelve eighths", "M:12/8\nL:1/8\nK:C\nCDEFGACDEFGA|\n", 0, "| 0! 3/2 3+ 9/2"},
		{"a pickup", "M:4/4\nL:1/4\nK:C\nG|CDEF|GFE|\n", 1, "-7! -6 -5+ -4 -3! -2 -1+ | 0 1! 2 3+ 4 5! 6 7+"},
		{"a pickup of an eighth in six", "M:6/8\nL:1/8\nK:C\nG|CDEFGA|CDEFG|\n", 1, "-11/2! -4 -5/2! -1 | 1/2! 2 7/2! 5"},
		{"three and two eighths", "M:3+2/8\nL:1/8\nK:C\nCDEFG|\n", 0, "| 0! 1/2 1 3/2+ 2"},
		{"three eighths", "M:3/8\nL:1/8\nK:C\nCDE|\n", 0, "| 0! 1/2 1"},
		{"a repeat in the middle of a bar", "M:4/4\nL:1/4\nK:C\nG|CDEF|GFE:|\n", 0, "| 0 1! 2 3+ 4 5! 6 7+ 8 9! 10 11+ 12 13! 14 15+"},
	} {
		s := abc(t, head(c.name, c.abc))
		r, err := newRoute(s, Options{})
		if err != nil {
			t.Fatal(err)
		}
		beat, _, _ := r.opening()
		var got []string
		show := func(p []pulse) {
			for _, p := range p {
				got = append(got, p.at.String()+[3]string{"", "+", "!"}[p.accent])
			}
		}
		show(r.countIn(c.countIn, beat))
		got = append(got, "|")
		show(r.beats(r.length, beat))
		if text := strings.Join(got, " "); text != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, text, c.want)
		}
	}
}

// TestTempos: the tempo counts the beat of the opening; tempo changes keep their proportion; a
// fermata holds where no click goes on.
func TestTempos(t *testing.T) {
	second := func(a *Audio, i int) float64 { return float64(a.Notes[i].At) / RateHz }
	six := abc(t, head("Six", "M:6/8\nL:1/8\nK:C\nC3 D3|E3 F3|\n"))
	a := rendered(t, six, Options{Bpm: 60, Silent: true})
	verify(t, []check{{"dotted quarters at 60", second(a, 3), 3, 1e-4, "three beats of one second"}})
	// a mark that counts quarters in six-eight: 66 quarters are 44 dotted quarters, and that is said
	odd := abc(t, head("Six in quarters", "M:6/8\nL:1/8\nQ:1/4=96\nK:C\nC3 D3|E3 F3|\n"))
	for _, c := range []struct {
		s    *music.Score
		o    Options
		says bool
	}{{odd, Options{Bpm: 66, Click: true, Silent: true}, true}, {odd, Options{Bpm: 66, Silent: true}, false}, {six, Options{Bpm: 60, Click: true, Silent: true}, false}} {
		said := strings.Contains(strings.Join(rendered(t, c.s, c.o).Remarks, " "), "at 66 the click falls 44 times a minute")
		if said != c.says {
			t.Errorf("%s, click %v: said %v", c.s.Title, c.o.Click, said)
		}
	}
	two := abc(t, head("Two tempos", "M:4/4\nL:1/4\nQ:1/4=60\nK:C\nCDEF|[Q:1/4=120]GABc|\n"))
	verify(t, []check{
		{"as marked", second(rendered(t, two, Options{Silent: true}), 7), 4 + 1.5, 1e-4, "four beats of 1 s, three of 0.5 s"},
		{"at half", second(rendered(t, two, Options{Silent: true, Bpm: 30}), 7), 8 + 3, 1e-4, "in proportion"},
	})
	hold := abc(t, head("Held", "M:4/4\nL:1/4\nQ:1/4=60\nK:C\nCD!fermata!E2|C4|\n"))
	verify(t, []check{
		{"held", second(rendered(t, hold, Options{Silent: true}), 3), 5, 1e-4, "half of two beats longer: our choice"},
		{"not held with a click", second(rendered(t, hold, Options{Silent: true, Click: true}), 3), 4, 1e-4, "the beat goes on"},
	})
}

// TestLadder: each tempo has its count-in and its music, one after another, to the sample.
func TestLadder(t *testing.T) {
	s := abc(t, head("Rungs", "M:3/4\nL:1/4\nQ:1/4=60\nK:C\nG|CDE|FG:|\n"))
	a := rendered(t, s, Options{Ladder: []float64{60, 66, 72.5}, CountIn: 1, Silent: true})
	if len(a.Rungs) != 3 || len(a.Notes) != 3*12 {
		t.Fatalf("%d rungs, %d notes", len(a.Rungs), len(a.Notes))
	}
	for k, r := range a.Rungs {
		beat := 60 / r.Bpm * RateHz
		if got := float64(r.Start-r.CountIn) / beat; math.Abs(got-5) > 1e-3 { // a bar of three, and two before the pickup
			t.Errorf("rung %d: %.3f beats of count-in, want 5", k, got)
		}
		if got := float64(r.End-r.Start) / beat; math.Abs(got-12) > 1e-3 {
			t.Errorf("rung %d: %.3f beats of music, want 12", k, got)
		}
		if k > 0 && r.CountIn <= a.Rungs[k-1].End {
			t.Errorf("rung %d begins before the last has ended", k)
		}
		for i, n := range a.Notes[12*k : 12*k+12] {
			if want := r.Start + int(math.Round(float64(i)*beat)); n.At != want {
				t.Errorf("rung %d, note %d at %d, want %d", k, i, n.At, want)
			}
		}
	}
}

// TestRound: every player plays the same, so many bars later, and sits elsewhere.
func TestRound(t *testing.T) {
	s := abc(t, head("Round", "M:2/4\nL:1/4\nQ:1/4=60\nK:C\nCD|EC|EF|G2|\n"))
	a := rendered(t, s, Options{EnterAfter: 2, Entries: 3, Click: true, Silent: true})
	byPlayer := map[int][]int{}
	for _, n := range a.Notes {
		byPlayer[n.Player] = append(byPlayer[n.Player], n.At)
	}
	for k := 1; k <= 3; k++ {
		slices.Sort(byPlayer[k])
		if len(byPlayer[k]) != 7 || byPlayer[k][0] != (k-1)*4*RateHz {
			t.Errorf("player %d: %d notes from %d", k, len(byPlayer[k]), byPlayer[k][0])
		}
	}
	if len(a.Clicks) != 16 { // 8 beats and two entries of 4
		t.Errorf("%d clicks, want 16: the beat goes on for those who came later", len(a.Clicks))
	}
	a = rendered(t, s, Options{EnterAfter: 2, Entries: 2, Guitar: Strings})
	energy := func(pcm []float32) (e float64) {
		for _, v := range pcm[:4*RateHz] { // the leader alone
			e += float64(v) * float64(v)
		}
		return e
	}
	if l, r := energy(a.Left), energy(a.Right); l < 4*r {
		t.Errorf("the leader is heard in the middle: %.3g left, %.3g right", l, r)
	}
}

// TestRepeats: as written, or each bar once with the last endings.
func TestRepeats(t *testing.T) {
	s := abc(t, head("Endings", "M:2/4\nL:1/4\nQ:1/4=60\nK:C\n|:CD|[1 EF:|[2 GA|Bc|\n"))
	notes := func(opt Options) (out []int) {
		opt.Silent = true
		for _, n := range rendered(t, s, opt).Notes {
			out = append(out, n.Midi)
		}
		return out
	}
	for _, c := range []struct {
		name string
		opt  Options
		want []int
	}{
		{"written", Options{}, []int{60, 62, 64, 65, 60, 62, 67, 69, 71, 72}},
		{"once", Options{Repeats: Once}, []int{60, 62, 67, 69, 71, 72}},
		{"bars 1 to 3 go round", Options{Loop: &Loop{"1", "3"}}, []int{60, 62, 67, 69}},
		{"the first ending goes round", Options{Loop: &Loop{"2", "2"}}, []int{64, 65}},
	} {
		if got := notes(c.opt); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestFigures(t *testing.T) {
	const q = RateHz // a quarter at 60
	for _, c := range []struct {
		name, abc string
		want      string // midi@sample, in order
	}{
		{"a chord at once", "[CEG]4|\n", "60@0 64@0 67@0"},
		{"a rolled chord, lowest on the beat", "z !arpeggio![CEG]3|\n", fmt.Sprintf("60@%d 64@%d 67@%d", q, q+1824, q+2*1824)},
		{"a grace note before the beat", "C{B,}D E2|\n", fmt.Sprintf("60@0 59@%d 62@%d 64@%d", q-3600, q, 2*q)},
		{"a grace note before everything", "{B,}C4|\n", "59@0 60@3600"},
		{"tied notes are one", "C2-C2|\n", "60@0"},
	} {
		s := abc(t, head(c.name, "M:4/4\nL:1/4\nQ:1/4=60\nK:C\n"+c.abc))
		var got []string
		for _, n := range rendered(t, s, Options{Silent: true}).Notes {
			got = append(got, fmt.Sprintf("%d@%d", n.Midi, n.At))
		}
		if text := strings.Join(got, " "); text != c.want {
			t.Errorf("%s: got %s, want %s", c.name, text, c.want)
		}
	}
}

// TestDynamics: marks, hairpins and accents in dB.
func TestDynamics(t *testing.T) {
	s := abc(t, head("Loud and soft", "M:4/4\nL:1/4\nQ:1/4=60\nK:C\n!p!CD!f!EF|!p!!<(!CDE!<)!F|!f!G!>!G!sfz!GG|\n"))
	var got []float64
	for _, n := range rendered(t, s, Options{Silent: true}).Notes {
		got = append(got, n.Db)
	}
	if len(got) != 12 {
		t.Fatalf("%d notes", len(got))
	}
	want := []float64{-8, -8, 4, 4, -8, -4, 0, 4, 4, 7, 9, 4}
	for i := range want {
		if math.Abs(got[i]-want[i]) > .01 {
			t.Errorf("note %d: %.2f dB, want %.2f (steps of 4 dB, accents of 3 and 5: our choice)", i+1, got[i], want[i])
		}
	}
}

// TestLigados: short slurs are played by the left hand alone, long arches are plucked.
func TestLigados(t *testing.T) {
	s := abc(t, head("Slurs", "M:4/4\nL:1/4\nQ:1/4=60\nK:C\n(CD)(ED)|(CDEFGABc)|\n"))
	sounds := s.Sounding()
	var got []string
	for i, to := range touches(s, sounds, Options{}) {
		if to.slurred {
			got = append(got, sounds[i].ID)
		}
	}
	if text := strings.Join(got, " "); text != "n2 n4" {
		t.Errorf("slurred: %s, want n2 n4", text)
	}
}

// TestStrings: notes get a free string where they lie lowest, and end when it is struck again.
func TestStringsInUse(t *testing.T) {
	s := &music.Score{}
	*s = *abc(t, head("Held", "M:4/4\nL:1/4\nQ:1/4=60\nK:C\n[E4c4]|EF E2|\n"))
	a := rendered(t, s, Options{Silent: true})
	on := func(i int) int { return a.Notes[i].String }
	if on(0) == on(1) {
		t.Errorf("two notes of a chord on string %d", on(0))
	}
	for i, n := range a.Notes {
		for _, m := range a.Notes[i+1:] {
			if n.String == m.String && n.Until > m.At {
				t.Errorf("note %d still sounds on string %d when it is struck again", n.Midi, n.String)
			}
		}
	}
}

// TestMute: by voice, part, part's name, voice of a part, or the number of a part.
func TestMute(t *testing.T) {
	s := abc(t, head("Two", "M:3/4\nL:1/4\nQ:1/4=90\nK:G\nV:1 name=\"Upper\"\nGBd|c2A|\nV:2 name=\"Lower\"\nG,3|D,3|\n"))
	for _, c := range []struct {
		mute []string
		want int
	}{
		{nil, 7}, {[]string{"2"}, 5}, {[]string{"P1"}, 2}, {[]string{"lower"}, 5}, {[]string{"P1/1"}, 2}, {[]string{"Upper/1"}, 2},
	} {
		if got := len(rendered(t, s, Options{Silent: true, Mute: c.mute}).Notes); got != c.want {
			t.Errorf("without %q there are %d notes, want %d", c.mute, got, c.want)
		}
	}
	for _, name := range []string{"3", "P1/2", "", "0", "/"} {
		if _, err := Render(t.Context(), s, Options{Silent: true, Mute: []string{name}}); err == nil {
			t.Errorf("a voice %q was found", name)
		}
	}
}

// TestSameStringAtOnce: a score that puts a chord on one string is played all the same.
func TestSameStringAtOnce(t *testing.T) {
	s := abc(t, head("Wrong", "M:4/4\nL:1/4\nQ:1/4=60\nK:C\n[EG]4|\n"))
	for i := range s.Parts[0].Notes {
		s.Parts[0].Notes[i].String = 1
	}
	for _, n := range rendered(t, s, Options{Silent: true}).Notes {
		if n.Until-n.At != 4*RateHz {
			t.Errorf("note %d sounds for %d samples", n.Midi, n.Until-n.At)
		}
	}
}

// TestArpeggiosRing: broken chords ring to the end of the bar, or until their string is needed; tunes do not.
func TestArpeggiosRing(t *testing.T) {
	s := abc(t, head("Broken", "M:4/4\nL:1/4\nQ:1/4=60\nK:C\nC,G,B,E|CDEG|\n"))
	notes := rendered(t, s, Options{Silent: true}).Notes
	for i, n := range notes {
		want := (i + 1) * RateHz
		if i < 4 {
			want = 4 * RateHz
		}
		if n.Until != want {
			t.Errorf("note %d (%d) sounds until %.2f s, want %.2f", i, n.Midi, float64(n.Until)/RateHz, float64(want)/RateHz)
		}
	}
}
