package exercise

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/music"
	"antiphon/internal/pluck"

	"pgregory.net/rapid"
)

func keynotes() []string {
	return []string{"C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"}
}

// TestEveryKeyAndMode: all 12 keys × 9 modes are spelled with each letter once, the natural modes by
// the key signature alone, the others by raising sixth or seventh; each either composes or says why
// not, and those that compose are all different.
func TestEveryKeyAndMode(t *testing.T) {
	made, refused := map[string]string{}, 0
	positions := []string{"1", "2", "5", "7"}
	for _, note := range keynotes() {
		for _, m := range modes() {
			name := note + " " + m.name
			k, err := readKey(name)
			if err != nil { // more than seven signs: the other name of the keynote has fewer
				p, ok := errors.AsType[*Problem](err)
				if !ok {
					t.Fatal(err)
				}
				_, other, _ := strings.Cut(p.Say, "write it as ")
				if k, err = readKey(other); err != nil {
					t.Fatalf("%s: %v, and then %v", name, p, err)
				}
				name = other
			}
			for _, down := range []bool{false, true} {
				for d := range 7 {
					p := k.note(3, d, down)
					if want := letters[(strings.IndexByte(letters, k.step)+d)%7]; p.Step != want {
						t.Errorf("%s: degree %d is %s, want a kind of %c", name, d+1, p.Name(), want)
					}
					raised := 0
					if m.name == "harmonic minor" && d == 6 || m.name == "melodic minor" && d >= 5 && !down {
						raised = 1
					}
					if want := signature(p.Step, k.fifths) + raised; p.Alter != want {
						t.Errorf("%s: degree %d is %s, but the signature of %d fifths makes it %+d", name, d+1, p.Name(), k.fifths, want)
					}
				}
			}
			for i := range 2 * len(positions) {
				text := fmt.Sprintf("pattern: scale\nkey: %s\nposition: %s\noctaves: %d\n", name, positions[i/2], 1+i%2)
				s, err := Compose(recipe(t, text))
				if err != nil {
					if p, ok := errors.AsType[*Problem](err); !ok || p.Kind != OutOfRange {
						t.Errorf("%s", err)
					}
					refused++
					continue
				}
				sound(t, s)
				out := string(written1(t, s))
				if was, ok := made[out]; ok {
					t.Errorf("%q is the same as %q", text, was)
				}
				made[out] = text
			}
		}
	}
	if all := 12 * 9 * 2 * len(positions); len(made)+refused != all || refused > all/3 {
		t.Errorf("%d made and %d refused of %d", len(made), refused, all)
	}
	t.Logf("%d made, %d refused", len(made), refused)
}

// TestEveryFormula: each right-hand pattern of 3, 4 and 6 notes (6, 21 and 183 by the reference, 2.2)
// gives an exercise of its own on one chord, and cycles exactly.
func TestEveryFormula(t *testing.T) {
	for _, c := range []struct{ n, want int }{{3, 6}, {4, 21}, {6, 183}} {
		seen := map[string]bool{}
		for _, f := range pluck.Formulas(c.n, false) {
			s := composed(t, fmt.Sprintf("pattern: chords\nchords: C Am\nright-hand: %s\n", f))
			_, _, r := places(s)
			got := strings.ReplaceAll(r, " ", "")
			if strings.Repeat(f, len(got)/len(f)) != got {
				t.Errorf("%s does not cycle: %s", f, got)
			}
			seen[string(written1(t, s))] = true
		}
		if len(seen) != c.want {
			t.Errorf("%d notes: %d different exercises, want %d", c.n, len(seen), c.want)
		}
	}
}

// drawRecipe draws a recipe of which most can be played.
func drawRecipe(t *rapid.T) string {
	var b strings.Builder
	put := func(key, value string) {
		if value != "" {
			fmt.Fprintf(&b, "%s: %s\n", key, value)
		}
	}
	pick := func(name string, values ...string) string { return rapid.SampledFrom(values).Draw(t, name) }
	pattern := pick("pattern", "scale", "degrees", "thirds", "sixths", "arpeggio", "chromatic", "open strings", "chords")
	put("pattern", pattern)
	put("key", pick("note", keynotes()...)+" "+pick("mode", "major", "minor", "harmonic minor", "melodic minor", "dorian", "mixolydian"))
	switch pattern {
	case "degrees":
		put("degrees", pick("degrees", "1 2 3 1", "1 3 2 4", "1 2 3 4 5", "3 1"))
	case "chords":
		put("chords", pick("chords", "C G7 C", "Am Dm E7 Am", "G", "[Em, x32010/x32010]"))
	case "open strings":
		put("strings", pick("strings", "", "6 5 4", "1 2 3 2"))
	}
	put("octaves", pick("octaves", "", "1", "2"))
	put("above", pick("above", "", "", "1", "3"))
	put("below", pick("below", "", "", "1", "2"))
	put("direction", pick("direction", "", "up", "down", "up-down", "down-up"))
	put("position", pick("position", "", "", "1", "2", "5"))
	put("each", pick("each", "", "", "2", "4"))
	put("right-hand", pick("right-hand", "", "auto", "i m", "m a", "p i m a", "p (im)", "none"))
	put("stroke", pick("stroke", "", "", "rest", "free", "p free, i m a rest"))
	put("bass", pick("bass", "", "", "", "held"))
	put("rhythm", pick("rhythm", "", "quarters", "eighths", "triplets", "long-short", "short-long", "quarter eighth eighth", "dotted-quarter eighth", "half quarter-rest quarter", "sixteenths"))
	put("time", pick("time", "", "", "3/4", "2/4", "6/8", "5/4", "2/2"))
	put("tempo", pick("tempo", "", "60", "72.5"))
	put("dynamics", pick("dynamics", "", "", "mf", "terraced f p", "echo f p every 1 bar", "crescendo p f", "swell p f every 2 bars"))
	put("accents", pick("accents", "", "", "beats", "every 3"))
	put("tone", pick("tone", "", "", "over the neck", "over the hole, near the bridge every 1 bar"))
	put("repeat", pick("repeat", "", "2", "3"))
	put("rounds", pick("rounds", "", "", "2"))
	put("names", pick("names", "", "letters", "do-re-mi"))
	put("variants", pick("variants", "", "", "", "backwards", "[plain, slow-fast]", "long-short", "there-and-back"))
	return b.String()
}

// TestAnyRecipe: whatever a recipe asks, it is either composed and keeps every promise, the same each
// time, or refused in one sentence.
func TestAnyRecipe(t *testing.T) {
	made, all := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		text := drawRecipe(t)
		all++
		s, err := Compose(recipe(t, text))
		if err != nil {
			if p, ok := errors.AsType[*Problem](err); !ok || p.Say == "" || strings.Contains(p.Error(), "\n") {
				t.Fatalf("%v\n%s", err, text)
			}
			return
		}
		made++
		sound(t, s)
		again, err := Compose(recipe(t, text))
		if err != nil || !bytes.Equal(written1(t, s), written1(t, again)) {
			t.Fatalf("other bytes the second time (%v)\n%s", err, text)
		}
		oneRight(t, s, text)
	})
	if made < all/3 {
		t.Errorf("only %d of %d recipes composed", made, all)
	}
}

// oneRight: no i, m or a plucks two single notes on end, but for the seam where a repeat or a
// written-out round begins again after a long note.
func oneRight(t fataler, s *music.Score, text string) {
	if strings.Contains(text, "chords") && strings.Contains(text, "backwards") || strings.Contains(text, "there-and-back") {
		return // turned round, the first finger meets itself at the seam
	}
	var last music.Note
	for _, n := range s.Parts[0].Notes {
		if !n.Pitched() || n.TieStop || n.Chord || len(n.Plucks) == 0 {
			continue
		}
		if len(last.Plucks) > 0 && last.Plucks[0] == n.Plucks[0] && n.Plucks[0] != "p" && last.End() == n.Start && !strings.Contains(text, "(") && !strings.Contains(text, "chords") {
			t.Errorf("bar %d: %s plucks twice on end\n%s", n.Bar+1, n.Plucks[0], text)
		}
		last = n
	}
}

// drawSheet draws a short one- or two-voice passage.
func drawSheet(t *rapid.T) *sheet {
	text := fmt.Sprintf("pattern: %s\nkey: %s\noctaves: 1\nrhythm: %s\ndegrees: 1 3 2\ntime: %s\n",
		rapid.SampledFrom([]string{"scale", "degrees", "thirds"}).Draw(t, "pattern"), rapid.SampledFrom([]string{"C major", "E minor", "G mixolydian"}).Draw(t, "key"),
		rapid.SampledFrom([]string{"eighths", "quarters", "quarter eighth eighth"}).Draw(t, "rhythm"), rapid.SampledFrom([]string{"4/4", "2/4"}).Draw(t, "time"))
	s, err := recipe(t, text).sheet()
	if err != nil {
		t.Fatalf("%v", err)
	}
	return s
}

func pitches(s *sheet) []string {
	var out []string
	for _, t := range s.tones {
		out = append(out, t.Pitch.Name())
	}
	return out
}

func rhythms(s *sheet) []string {
	var out []string
	for _, t := range s.tones {
		out = append(out, t.Start.String()+"+"+t.Duration.String())
	}
	return out
}

// TestVariantsKeepWhatTheyPromise.
func TestVariantsKeepWhatTheyPromise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSheet(t)
		must := func(v *sheet, err error) *sheet {
			if err != nil {
				t.Fatalf("%v", err)
			}
			v.sort()
			return v
		}
		back := must(s.backwards())
		want := pitches(s)
		slices.Reverse(want)
		if !slices.Equal(pitches(back), want) || back.end() != s.end() {
			t.Errorf("backwards: %v, want %v", pitches(back), want)
		}
		if twice := must(back.backwards()); !slices.Equal(pitches(twice), pitches(s)) || !slices.Equal(rhythms(twice), rhythms(s)) {
			t.Errorf("backwards of backwards is not the same")
		}
		for _, long := range []bool{true, false} {
			v := must(s.lean(long))
			if !slices.Equal(pitches(v), pitches(s)) || v.bars != s.bars || v.end() != s.end() {
				t.Errorf("leant: pitches or bars have changed")
			}
			for _, x := range v.tones { // on the beat stays on the beat
				if n, d := x.Start.Fraction(); d == 1 && n%2 == 0 && !slices.ContainsFunc(s.tones, func(y tone) bool { return y.Start == x.Start && y.Pitch == x.Pitch }) {
					t.Errorf("leant: %s moved onto a beat at %s", x.Pitch.Name(), x.Start)
				}
			}
		}
		slow := must(s.slow())
		if !slices.Equal(pitches(slow), pitches(s)) || slow.bars != 2*s.bars || slow.tones[len(slow.tones)-1].Start != s.tones[len(s.tones)-1].Start.Mul(2, 1) {
			t.Errorf("slow: not twice as long")
		}
		if v, err := s.slowFast(); err == nil {
			if v.bars != 3*s.bars || len(v.tones) != 2*len(s.tones) {
				t.Errorf("slow and fast: %d bars, %d notes of %d and %d", v.bars, len(v.tones), s.bars, len(s.tones))
			}
		}
		right := must(s.withRight("m a"))
		if !slices.Equal(pitches(right), pitches(s)) || !slices.Equal(rhythms(right), rhythms(s)) {
			t.Errorf("another right hand changed pitch or rhythm")
		}
		for k, x := range right.tones {
			if x.pluck() != []string{"m", "a"}[k%2] {
				t.Errorf("note %d is plucked by %s", k+1, x.pluck())
			}
		}
		named := s.clone()
		if err := named.sayAloud("do-re-mi"); err != nil || !slices.Equal(pitches(named), pitches(s)) || !slices.Equal(rhythms(named), rhythms(s)) {
			t.Errorf("names changed the notes (%v)", err)
		}
	})
}

// TestOrderOfDegrees: a scale goes by steps and turns only at its ends; a figure keeps its shape on
// every degree.
func TestOrderOfDegrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		octaves, above, below := rapid.IntRange(1, 3).Draw(t, "octaves"), rapid.IntRange(0, 7).Draw(t, "above"), rapid.IntRange(0, 7).Draw(t, "below")
		direction := rapid.SampledFrom([]string{"up", "down", "up-down", "down-up"}).Draw(t, "direction")
		line := walk(-below, octaves, above, direction)
		low, high := 0, 0
		for i, d := range line {
			low, high = min(low, d.at), max(high, d.at)
			if i > 0 && abs(d.at-line[i-1].at) != 1 {
				t.Errorf("from degree %d to %d", line[i-1].at, d.at)
			}
			if i > 0 && d.down != (d.at < line[i-1].at) {
				t.Errorf("degree %d is on the wrong way", d.at)
			}
		}
		if low != -below || high != 7*octaves+above {
			t.Errorf("from %d to %d", low, high)
		}
		shape := rapid.SliceOfN(rapid.IntRange(0, 4), 2, 5).Draw(t, "shape")
		for _, g := range moving(shape, -below, 7*octaves+above, direction) {
			for k := range g {
				want := shape[k] - shape[0]
				if g[0].down {
					want = -want
				}
				if g[k].at-g[0].at != want || g[k].at < -below || g[k].at > 7*octaves+above {
					t.Errorf("shape %v became %v", shape, g)
				}
			}
		}
	})
}
