package exercise

import (
	"bytes"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/playable"
)

// fataler is what testing.TB and rapid.T have in common.
type fataler interface {
	Helper()
	Fatalf(format string, args ...any)
	Errorf(format string, args ...any)
}

func recipe(t fataler, text string) Recipe {
	t.Helper()
	r, err := Read([]byte(text), "test")
	if err != nil {
		t.Fatalf("read: %v\n%s", err, text)
	}
	return r
}

func composed(t fataler, text string) *music.Score {
	t.Helper()
	s, err := Compose(recipe(t, text))
	if err != nil {
		t.Fatalf("compose: %v\n%s", err, text)
	}
	return s
}

func written1(t fataler, s *music.Score) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := notation.WriteMusicXML(&b, s); err != nil {
		t.Fatalf("write: %v", err)
	}
	return b.Bytes()
}

// places are "string/fret" in order, fingers "3 0 2".
func places(s *music.Score) (places, fingers, plucks string) {
	var p, f, r []string
	for _, n := range s.Sounding() {
		p = append(p, fmt.Sprintf("%d/%d", n.String, n.Fret))
		f = append(f, n.Finger)
		r = append(r, n.Pluck)
	}
	return strings.Join(p, ","), strings.Join(f, " "), strings.Join(r, " ")
}

func names(s *music.Score) string {
	var out []string
	for _, n := range s.Sounding() {
		out = append(out, n.Name)
	}
	return strings.Join(out, " ")
}

// sound holds what every composed exercise must keep.
func sound(t fataler, s *music.Score) {
	t.Helper()
	in := guitar.Standard()
	for i, b := range s.Bars {
		if b.Length.Cmp(b.Time.Length()) != 0 {
			t.Errorf("bar %s holds %s quarters", b.Number, b.Length)
		}
		filled := map[string]music.Beats{}
		for _, n := range s.Parts[0].Notes {
			if n.Bar != i || n.Chord || n.Grace {
				continue
			}
			if at := b.Start.Add(filled[n.Voice]); at.Cmp(n.Start) != 0 {
				t.Errorf("bar %s, voice %s: a note starts at %s and the one before ends at %s", b.Number, n.Voice, n.Start, at)
			}
			filled[n.Voice] = filled[n.Voice].Add(n.Duration)
			if kind, dots, ratio, ok := written(n.Duration); !n.WholeBar && (!ok || kind != n.Type || dots != n.Dots || ratio != n.Ratio) {
				t.Errorf("bar %s: a note of %s quarters is written as %s with %d dots", b.Number, n.Duration, n.Type, n.Dots)
			}
		}
		for v, sum := range filled {
			if sum.Cmp(b.Length) != 0 {
				t.Errorf("bar %s, voice %s holds %s of %s quarters", b.Number, v, sum, b.Length)
			}
		}
	}
	for _, n := range s.Sounding() {
		if n.String > 0 && n.Fret >= 0 && in.Pitch(n.String, n.Fret) != n.Midi {
			t.Errorf("%s does not lie at %d/%d", n.Name, n.String, n.Fret)
		}
	}
	asPrinted(t, s)
	for _, f := range playable.Check(s, in, guitar.AdultHand()) {
		if f.Level == playable.Impossible {
			t.Errorf("bar %s cannot be played: %s", f.Bar, f.Text)
		}
	}
	out := written1(t, s)
	back, forgiven, err := notation.Read(bytes.NewReader(out), "test", notation.Limits{})
	if err != nil || len(forgiven) > 0 {
		t.Fatalf("read again: %v %v", err, forgiven)
	}
	if !reflect.DeepEqual(s, back) {
		t.Errorf("something is lost in MusicXML: %s", difference(reflect.ValueOf(*s), reflect.ValueOf(*back), "score"))
	}
}

// difference names the first place where two scores differ.
func difference(x, y reflect.Value, at string) string {
	if x.CanInterface() && reflect.DeepEqual(x.Interface(), y.Interface()) {
		return ""
	}
	switch x.Kind() {
	case reflect.Struct:
		for i := range x.NumField() {
			if x.Type().Field(i).IsExported() {
				if d := difference(x.Field(i), y.Field(i), at+"."+x.Type().Field(i).Name); d != "" {
					return d
				}
			}
		}
	case reflect.Slice:
		for i := range min(x.Len(), y.Len()) {
			if d := difference(x.Index(i), y.Index(i), fmt.Sprintf("%s[%d]", at, i)); d != "" {
				return d
			}
		}
		if x.Len() != y.Len() {
			return fmt.Sprintf("%s: %d and %d of them", at, x.Len(), y.Len())
		}
	}
	return fmt.Sprintf("%s: %v and %v", at, x, y)
}

// asPrinted reads the page as a player does: accidentals hold for their line until the bar ends,
// beams and brackets close what they open within the bar.
func asPrinted(t fataler, s *music.Score) {
	t.Helper()
	key := 0
	for _, a := range s.Parts[0].Attributes {
		if a.Key != nil {
			key = a.Key.Fifths
		}
	}
	sharps := map[byte]int{} // by the order of sharps F C G D A E B, of flats backwards
	for i, step := range []byte("FCGDAEB") {
		if i < key {
			sharps[step] = 1
		}
		if i >= 7+key {
			sharps[step] = -1
		}
	}
	signs := map[string]int{"flat-flat": -2, "flat": -1, "natural": 0, "sharp": 1, "double-sharp": 2}
	line := map[string]int{}
	beams := map[int]bool{}
	bracket := false
	order := slices.Clone(s.Parts[0].Notes)
	slices.SortStableFunc(order, func(a, b music.Note) int { return a.Start.Cmp(b.Start) })
	for _, n := range order {
		if !n.Pitched() {
			continue
		}
		at := fmt.Sprintf("%d %c%d", n.Bar, n.Pitch.Step, n.Pitch.Octave)
		if n.Accidental.Name != "" {
			line[at] = signs[n.Accidental.Name]
		}
		shown, ok := line[at]
		if !ok {
			shown = sharps[n.Pitch.Step]
		}
		if shown != n.Pitch.Alter && !n.TieStop {
			t.Errorf("bar %d: %s is printed as if altered by %d", n.Bar+1, n.Pitch.Name(), shown)
		}
	}
	for _, n := range s.Parts[0].Notes {
		for _, b := range n.Beams {
			was := beams[b.Number]
			if (b.Value == "begin" || strings.HasSuffix(b.Value, "hook")) && was || (b.Value == "continue" || b.Value == "end") && !was {
				t.Errorf("bar %d: a beam has %q out of turn", n.Bar+1, b.Value)
			}
			beams[b.Number] = b.Value == "begin" || b.Value == "continue"
			if b.Number > flags(n) {
				t.Errorf("bar %d: a %s has beam %d", n.Bar+1, n.Type, b.Number)
			}
		}
		for _, m := range n.Tuplets {
			if m.Start == bracket {
				t.Errorf("bar %d: a bracket opens or closes twice", n.Bar+1)
			}
			bracket = m.Start
		}
	}
	for _, open := range beams {
		if open {
			t.Errorf("a beam is left open")
		}
	}
	if bracket {
		t.Errorf("a bracket is left open")
	}
}
