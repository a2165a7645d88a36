package exercise

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestScalesInFirstPosition: the two scales worked in the reference (section 2.3: finger = fret, a rule,
// not a book).
func TestScalesInFirstPosition(t *testing.T) {
	for _, c := range []struct{ recipe, places, fingers string }{
		{"pattern: scale\nkey: C major\noctaves: 1\ndirection: up\n", "5/3,4/0,4/2,4/3,3/0,3/2,2/0,2/1", "3 0 2 3 0 2 0 1"},
		{"pattern: scale\nkey: G major\noctaves: 2\ndirection: up\n", "6/3,5/0,5/2,5/3,4/0,4/2,4/4,3/0,3/2,2/0,2/1,2/3,1/0,1/2,1/3", "3 0 2 3 0 2 4 0 2 0 1 3 0 2 3"},
	} {
		s := composed(t, c.recipe)
		if p, f, _ := places(s); p != c.places || f != c.fingers {
			t.Errorf("%q:\n got %s, fingers %s\nwant %s, fingers %s", c.recipe, p, f, c.places, c.fingers)
		}
		sound(t, s)
	}
}

// TestWholeScores looks at lines whose notes are known from the theory of music (from memory).
func TestWholeScores(t *testing.T) {
	for _, c := range []struct{ name, recipe, notes string }{
		{"melodic minor comes down plain", "pattern: scale\nkey: A melodic minor\noctaves: 1\n", "A2 B2 C3 D3 E3 F#3 G#3 A3 G3 F3 E3 D3 C3 B2 A2"},
		{"harmonic minor keeps the raised seventh", "pattern: scale\nkey: E harmonic minor\noctaves: 1\n", "E2 F#2 G2 A2 B2 C3 D#3 E3 D#3 C3 B2 A2 G2 F#2 E2"},
		{"E sharp has its own letter", "pattern: scale\nkey: F# major\noctaves: 1\ndirection: up\n", "F#2 G#2 A#2 B2 C#3 D#3 E#3 F#3"},
		{"double sharp", "pattern: scale\nkey: G# harmonic minor\noctaves: 1\ndirection: up\n", "G#2 A#2 B2 C#3 D#3 E3 F##3 G#3"},
		{"flats", "pattern: scale\nkey: Eb minor\noctaves: 1\ndirection: up\n", "Eb3 F3 Gb3 Ab3 Bb3 Cb4 Db4 Eb4"},
		{"beyond the keynotes", "pattern: scale\nkey: C major\nstart: 5/3\noctaves: 1\nabove: 1\nbelow: 2\n", "C3 D3 E3 F3 G3 A3 B3 C4 D4 C4 B3 A3 G3 F3 E3 D3 C3 B2 A2 B2 C3"},
		{"thirds", "pattern: thirds\nkey: C major\noctaves: 1\n", "C3 E3 D3 F3 E3 G3 F3 A3 G3 B3 A3 C4 C4 A3 B3 G3 A3 F3 G3 E3 F3 D3 E3 C3"},
		{"sixths go up from low to high", "pattern: sixths\nkey: C major\noctaves: 1\ndirection: up\n", "C3 A3 D3 B3 E3 C4"},
		{"triad", "pattern: arpeggio\nkey: G major\noctaves: 2\n", "G2 B2 D3 G3 B3 D4 G4 D4 B3 G3 D3 B2 G2"},
		{"a figure upside down on the way back", "pattern: degrees\ndegrees: 1 2 3 1\nkey: C major\noctaves: 1\ndirection: down\n", "C4 B3 A3 C4 B3 A3 G3 B3 A3 G3 F3 A3 G3 F3 E3 G3 F3 E3 D3 F3 E3 D3 C3 E3 C3"},
		{"a figure on the way up comes home to the upper keynote", "pattern: degrees\ndegrees: 1 2 3 1\nkey: C major\noctaves: 1\ndirection: up\n", "C3 D3 E3 C3 D3 E3 F3 D3 E3 F3 G3 E3 F3 G3 A3 F3 G3 A3 B3 G3 A3 B3 C4 A3 C4"},
		{"a figure once, where it stands", "pattern: degrees\ndegrees: 1 2 3 4 5 4 3 2 1\nkey: C major\nstart: 5/3\ndirection: once\n", "C3 D3 E3 F3 G3 F3 E3 D3 C3"},
		{"below the keynote and above", "pattern: degrees\ndegrees: 1 0 -1 0 1 9\nkey: C major\nstart: 5/3\ndirection: once\n", "C3 B2 A2 B2 C3 D4"},
		{"chromatic: sharps up, flats down", "pattern: chromatic\nstrings: 1\n", "E4 F4 F#4 G4 G#4 G4 Gb4 F4 E4"},
		{"open strings", "pattern: open strings\n", "E2 A2 D3 G3 B3 E4 B3 G3 D3 A2 E2"},
		{"a dorian scale on an open string", "pattern: scale\nkey: D dorian\nstart: 4/0\noctaves: 1\ndirection: up\n", "D3 E3 F3 G3 A3 B3 C4 D4"},
	} {
		s := composed(t, c.recipe)
		if got := names(s); got != c.notes {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.notes)
		}
		sound(t, s)
	}
}

// TestStartFinger: the example of the reference (25, 14): C major one octave up, begun with m one bad
// crossing, with i two.
func TestStartFinger(t *testing.T) {
	s := composed(t, "pattern: scale\nkey: C major\noctaves: 1\ndirection: up\nright-hand: auto\n")
	if _, _, r := places(s); r != "m i m i m i m i" {
		t.Errorf("plucked %s", r)
	}
	strs := []int{5, 4, 4, 4, 3, 3, 2, 2}
	m, i := strings.Fields("m i m i m i m i"), strings.Fields("i m i m i m i m")
	if a, b := badCrossings(strs, m), badCrossings(strs, i); a != 1 || b != 2 {
		t.Errorf("bad crossings %d and %d, want 1 and 2", a, b)
	}
}

// TestExamples: the recipes that come with the program all compose, keep every promise and differ.
func TestExamples(t *testing.T) {
	all, err := Examples()
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 12 || len(all) > 20 {
		t.Errorf("%d recipes", len(all))
	}
	seen := map[string]string{}
	for _, e := range all {
		s, err := Compose(e.Recipe)
		if err != nil {
			t.Errorf("%s: %v", e.Name, err)
			continue
		}
		sound(t, s)
		out := written1(t, s)
		again, err := Compose(e.Recipe)
		if err != nil || !bytes.Equal(out, written1(t, again)) {
			t.Errorf("%s: the same recipe gives other bytes", e.Name)
		}
		if other, ok := seen[string(out)]; ok {
			t.Errorf("%s and %s are the same", e.Name, other)
		}
		seen[string(out)] = e.Name
		if e.Recipe.Title == "" || e.Recipe.Trains == "" {
			t.Errorf("%s has no title or does not say what it trains", e.Name)
		}
		valid(t, e.Name, out)
	}
}

// valid checks against the W3C schema of MusicXML 4.0 where it is at hand.
func valid(t *testing.T, name string, score []byte) {
	t.Helper()
	shared := os.Getenv("ANTIPHON_SHARED")
	xsd := filepath.Join(shared, "standards", "musicxml", "musicxml.xsd")
	if _, err := os.Stat(xsd); shared == "" || err != nil {
		return
	}
	if _, err := exec.LookPath("xmllint"); err != nil {
		return
	}
	cmd := exec.Command("xmllint", "--nonet", "--noout", "--schema", xsd, "-")
	cmd.Stdin = bytes.NewReader(score)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("%s: not valid by the W3C schema: %s", name, out[:min(len(out), 500)])
	}
}

// TestRefused: what cannot be read or played is refused with a line and a way out.
func TestRefused(t *testing.T) {
	for _, c := range []struct {
		recipe string
		kind   Kind
		line   int
		words  string
	}{
		{"", BadRecipe, 0, "empty"},
		{"# nothing\n", BadRecipe, 0, "empty"},
		{"key: C major\n", BadRecipe, 0, "pattern"},
		{"pattern: scale\nrythm: eighths\n", BadRecipe, 2, `did you mean "rhythm"`},
		{"pattern: scale\ncolour: red\n", BadRecipe, 2, "there are title"},
		{"pattern: scale\n\n\nkey: C major\nkey: D major\n", BadRecipe, 5, "line 4 already"},
		{"pattern: scale\nkey:\n  name: C\n", BadRecipe, 3, "nested"},
		{"pattern: [scale, [thirds]]\n", BadRecipe, 1, "nested"},
		{"pattern: &a scale\n", BadRecipe, 1, "nested"},
		{"pattern: !!str scale\n", BadRecipe, 1, "nested"},
		{"pattern: scale\n---\npattern: scale\n", BadRecipe, 3, "second recipe"},
		{"- scale\n", BadRecipe, 1, "key: value"},
		{"pattern: [scale\n", BadRecipe, 1, "not written as a recipe"},
		{"pattern: \x00\n", BadRecipe, 0, "no text"},
		{strings.Repeat("# a long recipe\n", 4000), BadRecipe, 0, "larger than"},
		{"pattern: scales\n", BadRecipe, 1, "choose scale, degrees"},
		{"pattern: scale\noctaves: 9\n", BadRecipe, 2, "1 to 3"},
		{"pattern: scale\ntempo: fast\n", BadRecipe, 2, "20 to 240"},
		{"pattern: scale\ntempo: NaN\n", BadRecipe, 2, "20 to 240"},
		{"pattern: scale\nkey: H minor\n", BadRecipe, 2, "no note"},
		{"pattern: scale\nkey: C happy\n", BadRecipe, 2, "no mode"},
		{"pattern: scale\nkey: G# major\n", BadRecipe, 2, "Ab major"},
		{"pattern: scale\nkey: Fb minor\n", BadRecipe, 2, "write it as E minor"},
		{"pattern: scale\nkey: D major\nstart: 6/3\n", BadRecipe, 3, "6/3 is G"},
		{"pattern: scale\nkey: D major\nstart: 9/3\n", BadRecipe, 3, "no place"},
		{"pattern: scale\nkey: C major\nstart: D2\n", BadRecipe, 3, "no start"},
		{"pattern: scale\nkey: C major\nposition: 2\noctaves: 2\n", OutOfRange, 3, "has no B4"},
		{"pattern: scale\nkey: C major\nposition: free\noctaves: 3\nstart: C4\n", OutOfRange, 4, "the guitar has no"},
		{"pattern: scale\nkey: C major\nposition: 0\n", BadRecipe, 3, "1 to 12"},
		{"pattern: scale\nkey: C major\nposition: 1\nstart: 6/8\n", OutOfRange, 4, "position I"},
		{"pattern: degrees\n", BadRecipe, 1, "degrees:"},
		{"pattern: degrees\ndegrees: 1 12\noctaves: 1\n", BadRecipe, 2, "does not fit"},
		{"pattern: scale\nright-hand: i i\n", Unplayable, 2, "twice on end"},
		{"pattern: scale\nright-hand: i m i\n", Unplayable, 2, "ends and begins"},
		{"pattern: scale\nright-hand: (ii) m\n", BadRecipe, 2, "two notes at once"},
		{"pattern: scale\nright-hand: (im) p\n", Unplayable, 2, "notes at once: 1, fingers for them: 2"},
		{"pattern: scale\nright-hand: xyz\n", BadRecipe, 2, "cannot be read"},
		{"pattern: scale\nstroke: hard\n", BadRecipe, 2, "rest, free"},
		{"pattern: scale\nstroke: i rest, i free\n", BadRecipe, 2, "two strokes"},
		{"pattern: scale\nright-hand: none\nstroke: rest\n", BadRecipe, 3, "needs a finger"},
		{"pattern: chords\nchords: C\nstroke: rest\n", Unplayable, 3, "still to sound"},
		{"pattern: chords\n", BadRecipe, 1, "chords:"},
		{"pattern: chords\nchords: C Zm\n", BadRecipe, 2, "no chord here"},
		{"pattern: chords\nchords: D\nright-hand: p6 i\n", Unplayable, 3, "leaves out"},
		{"pattern: chords\nchords: C\nright-hand: (p1i3)\n", Unplayable, 3, "reach over"},
		{"pattern: scale\nrhythm: eighth triplet\n", BadRecipe, 2, "threes"},
		{"pattern: scale\nrhythm: swing\n", BadRecipe, 2, "no length"},
		{"pattern: scale\nrhythm: quarter-rest\n", BadRecipe, 2, "rests only"},
		{"pattern: scale\ntime: 4/5\n", BadRecipe, 2, "time signature"},
		{"pattern: scale\ntogether: yes\n", BadRecipe, 2, "only thirds"},
		{"pattern: scale\ndynamics: crescendo f p\n", BadRecipe, 2, "other way round"},
		{"pattern: scale\ndynamics: echo f\n", BadRecipe, 2, "two marks"},
		{"pattern: scale\ndynamics: terraced f p every other bar\n", BadRecipe, 2, "whole number"},
		{"pattern: scale\ntone: on the moon\n", BadRecipe, 2, "no place to pluck"},
		{"pattern: scale\neach: 99\n", BadRecipe, 2, "1 to 16"},
		{"pattern: scale\nvariants: sideways\n", BadRecipe, 2, "choose plain"},
		{"pattern: scale\ntime: 5/4\nrhythm: quarters\nvariants: long-short\n", BadRecipe, 4, "pairs"},
		{"pattern: chromatic\ndirection: once\n", BadRecipe, 2, "only a figure"},
		{"pattern: scale\nright-hand: i m\nbass: held\n", BadRecipe, 3, "plucks nothing"},
		{"pattern: scale\naccents: often\n", BadRecipe, 2, "every 3"},
		{"pattern: scale\nnames: solfa\n", BadRecipe, 2, "letters or do-re-mi"},
		{"pattern: scale\nkey: G major\nrhythm: whole\neach: 16\n", BadRecipe, 0, "bars long"},
	} {
		r, err := Read([]byte(c.recipe), "r.yaml")
		if err == nil {
			_, err = Compose(r)
		}
		p, ok := errors.AsType[*Problem](err)
		if !ok {
			t.Errorf("%.60q: %v, want a problem about %q", c.recipe, err, c.words)
			continue
		}
		if p.Kind != c.kind || p.Line != c.line || !strings.Contains(p.Say, c.words) || p.Name != "r.yaml" || strings.Contains(p.Error(), "\n") || p.Err == nil {
			t.Errorf("%.60q:\n got %s, line %d: %v\nwant %s, line %d: …%s…", c.recipe, p.Kind, p.Line, p, c.kind, c.line, c.words)
		}
	}
}

func FuzzRead(f *testing.F) {
	all, err := Examples()
	if err != nil {
		f.Fatal(err)
	}
	for _, e := range all {
		f.Add(e.Source)
	}
	f.Add([]byte("pattern: scale\nkey: &a [*a]\n"))
	f.Add([]byte("? [a]\n: b\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := Read(data, "f")
		if err != nil {
			if _, ok := errors.AsType[*Problem](err); !ok {
				t.Fatalf("no problem: %v", err)
			}
			return
		}
		s, err := Compose(r)
		if err != nil {
			if _, ok := errors.AsType[*Problem](err); !ok {
				t.Fatalf("no problem: %v", err)
			}
			return
		}
		sound(t, s)
	})
}

// TestAccents fall on the grid that was asked for, and nowhere else.
func TestAccents(t *testing.T) {
	for _, c := range []struct{ accents, want string }{ // of the first twelve eighths in 4/4
		{"beats", ">.>.>.>.>.>."}, {"bars", ">.......>..."}, {"every 3", ">..>..>..>.."},
	} {
		s := composed(t, "pattern: scale\nkey: G major\naccents: "+c.accents+"\n")
		got := ""
		for _, n := range s.Parts[0].Notes[:12] {
			if accented(n) {
				got += ">"
			} else {
				got += "."
			}
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.accents, got, c.want)
		}
		sound(t, s)
	}
}

// TestFree: lines for a hand that moves are fingered as a whole, keep the place that was asked for,
// and lie where the hands can play them.
func TestFree(t *testing.T) {
	for _, text := range []string{
		"pattern: scale\nkey: E major\nposition: free\noctaves: 3\nstart: 6/0\n",
		"pattern: scale\nkey: A minor\nposition: free\nstart: 5/0\noctaves: 2\nabove: 3\n",
		"pattern: thirds\nkey: C major\ntogether: yes\noctaves: 1\nright-hand: (im)\n",
		"pattern: sixths\nkey: G major\ntogether: yes\noctaves: 1\nrhythm: quarters\n",
		"pattern: tenths\nkey: C major\ntogether: yes\noctaves: 1\nabove: 2\nrhythm: halves\nright-hand: (pm)\n",
		"pattern: octaves\nkey: D dorian\ntogether: yes\noctaves: 1\nabove: 3\n",
		"pattern: chords\nchords: x32010 xx0231\n",
	} {
		s := composed(t, text)
		sound(t, s)
		for _, n := range s.Sounding() {
			if n.String == 0 || n.Fret < 0 || n.Finger == "" || n.Pluck == "" {
				t.Errorf("%q: %s has no place or finger", text, n.Name)
			}
		}
		r := recipe(t, text)
		if p, _, _ := places(s); strings.Contains(r.Start, "/") && !strings.HasPrefix(p, r.Start+",") {
			t.Errorf("%q: begins at %s", text, p[:3])
		}
	}
}

// TestForThisPlayer: what is not learnt yet, and what a small hand does not reach, is not asked.
func TestForThisPlayer(t *testing.T) {
	for _, c := range []struct{ recipe, words string }{ // words "" it can be played
		{"pattern: scale\nkey: C major\noctaves: 1\nwithout: fourth finger, barre\n", ""},
		{"pattern: scale\nkey: G major\noctaves: 2\nwithout: fourth finger\n", "finger 4 is used"},
		{"pattern: scale\nkey: G major\noctaves: 2\nposition: free\nwithout: fourth finger\n", ""},
		{"pattern: chords\nchords: C F C\nwithout: barre\n", "lies across"},
		{"pattern: chords\nchords: C F C\n", ""},
		{"pattern: chords\nchords: C\nright-hand: p i m a\nwithout: a\n", "a is used"},
		{"pattern: chords\nchords: G7\nright-hand: (p6i3m2a1)\nspan-mm: 120\n", "mm"},
		{"pattern: chords\nchords: G7\nright-hand: (p6i3m2a1)\nspan-mm: 120\nscale-mm: 440\n", ""},
		{"pattern: scale\nwithout: hands\n", "not known"},
		{"pattern: scale\nspan-mm: 1\n", "80 to 280"},
	} {
		r, err := Read([]byte(c.recipe), "r")
		if err == nil {
			_, err = Compose(r)
		}
		if (err == nil) != (c.words == "") || err != nil && !strings.Contains(err.Error(), c.words) {
			t.Errorf("%q: %v, want %q", c.recipe, err, c.words)
		}
	}
}
