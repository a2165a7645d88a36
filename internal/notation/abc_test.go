package notation_test

import (
	"fmt"
	"strings"
	"testing"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// notesOf is a tune in short: names of pitches with lengths in quarters.
func notesOf(s *music.Score) string {
	var out []string
	for _, n := range s.Sounding() {
		g := ""
		if n.Grace {
			g = "~"
		}
		out = append(out, fmt.Sprintf("%s%s:%v@%v", g, n.Name, n.Duration, n.Onset))
	}
	return strings.Join(out, " ")
}

// Rules of The abc music standard 2.1 (2011), by section; tunes our own.
func TestABC(t *testing.T) {
	head := "X:1\nT:Test\n"
	cases := []struct{ name, tune, want, source string }{
		{"pitches", "M:4/4\nL:1/4\nK:C\nC,CcC'|", "C3:1@0 C4:1@1 C5:1@2 C5:1@3", "4.1: C is middle C, c an octave above"},
		{"lengths", "M:none\nL:1/8\nK:C\nA2A A/2A/ A// A3/2 A/4|", "A4:1@0 A4:1/2@1 A4:1/4@3/2 A4:1/4@7/4 A4:1/8@2 A4:3/4@17/8 A4:1/8@23/8", "4.3"},
		{"unit length under 3/4", "M:2/4\nK:C\nC|", "C4:1/4@0", "3.1.7: a meter under 0.75 makes it 1/16"},
		{"unit length from 3/4 on", "M:6/8\nK:C\nC|", "C4:1/2@0", "3.1.7"},
		{"broken rhythm", "M:4/4\nL:1/8\nK:C\nA>A A<A A>>A|", "A4:3/4@0 A4:1/4@3/4 A4:1/4@1 A4:3/4@5/4 A4:7/8@2 A4:1/8@23/8", "4.4"},
		{"accidentals in a bar", "M:4/4\nL:1/4\nK:G\n=F f F, ^F|F|", "F4:1@0 F5:1@1 F3:1@2 F#4:1@3 F#4:1@4", "4.2 and 11.3: to the end of the bar, by default in all octaves"},
		{"accidentals in one octave", "%%propagate-accidentals octave\nM:4/4\nL:1/4\nK:G\n=F f F F|", "F4:1@0 F#5:1@1 F4:1@2 F4:1@3", "11.3"},
		{"triplet", "M:4/4\nL:1/8\nK:C\n(3ABc d2|", "A4:1/3@0 B4:1/3@1/3 C5:1/3@2/3 D5:1@1", "4.13: three notes in the time of two"},
		{"other tuplets", "M:6/8\nL:1/8\nK:C\n(2AB (4ABcd|(5ABcde|", "A4:3/4@0 B4:3/4@3/4 A4:3/8@3/2 B4:3/8@15/8 C5:3/8@9/4 D5:3/8@21/8 A4:3/10@3 B4:3/10@33/10 C5:3/10@18/5 D5:3/10@39/10 E5:3/10@21/5", "4.13: 2 in 3, 4 in 3, and 5 in 3 in compound time"},
		{"six in compound time", "M:6/8\nL:1/8\nK:C\n(6ABcdef|", "A4:1/6@0 B4:1/6@1/6 C5:1/6@1/3 D5:1/6@1/2 E5:1/6@2/3 F5:1/6@5/6", "4.13: six in the time of two"},
		{"general tuplet", "M:4/4\nL:1/8\nK:C\n(3:2:2A2B c|", "A4:2/3@0 B4:1/3@2/3 C5:1/2@1", "4.13: (p:q:r"},
		{"tie over the bar keeps its sharp", "M:2/4\nL:1/4\nK:C\nA^F-|F F|", "A4:1@0 F#4:2@1 F4:1@3", "4.11"},
		{"chord", "M:4/4\nL:1/4\nK:C\n[CEG]2 [C2E2]/|", "C4:2@0 E4:2@0 G4:2@0 C4:1@2 E4:1@2", "4.17: lengths inside and outside multiply"},
		{"grace notes", "M:4/4\nL:1/4\nK:C\n{/ga}f f|", "~G5:0@0 ~A5:0@0 F5:1@0 F5:1@1", "4.12"},
		{"rests", "M:3/4\nL:1/4\nK:C\nz A x|Z2|A|", "A4:1@1 A4:1@9", "4.5: Z2 rests two bars"},
		{"guitar clef", "M:4/4\nL:1/4\nK:C clef=treble-8\nC|", "C3:1@0", "4.6: the 8 below the clef transposes"},
		{"transposition", "M:4/4\nL:1/4\nK:C transpose=-2\nD|", "C4:1@0", "4.6"},
		{"overlay", "M:2/4\nL:1/4\nK:C\nAB&C2|G2|", "C4:2@0 A4:1@0 B4:1@1 G4:2@2", "7.4: voice overlay"},
		{"inline fields", "M:2/4\nL:1/4\nK:C\nFF|[K:D][M:3/4][L:1/8]FFFF|", "F4:1@0 F4:1@1 F#4:1/2@2 F#4:1/2@5/2 F#4:1/2@3 F#4:1/2@7/2", "3.2"},
		{"global accidentals", "M:4/4\nL:1/4\nK:D =c ^g\ncgfG|", "C5:1@0 G#5:1@1 F#5:1@2 G#4:1@3", "3.1.14"},
		{"decorations stand for letters", "M:4/4\nL:1/4\nK:C\n.A ~B Tc Hd|", "A4:1@0 B4:1@1 C5:1@2 D5:1@3", "4.14"},
		{"comments and continuation", "M:4/4\nL:1/4\nK:C\nAB\\\n% between\ncd | % after\ne|", "A4:1@0 B4:1@1 C5:1@2 D5:1@3 E5:1@4", "2.2.5, 2.2.6"},
	}
	for _, c := range cases {
		s := read(t, []byte(head+c.tune+"\n"))
		if got := notesOf(s); got != c.want {
			t.Errorf("%s (%s):\n got %s\nwant %s", c.name, c.source, got, c.want)
		}
		validate(t, c.name, written(t, s))
	}
}

// The table of keys and modes in ABC 2.1, 3.1.14, which is the circle of fifths.
func TestABCKeys(t *testing.T) {
	table := map[int]string{
		7: "C# A#m G#Mix D#Dor E#Phr F#Lyd B#Loc", 6: "F# D#m C#Mix G#Dor A#Phr BLyd E#Loc", 3: "A F#m EMix BDor C#Phr DLyd G#Loc",
		1: "G Em DMix ADor BPhr CLyd F#Loc", 0: "C Am GMix DDor EPhr FLyd BLoc", -1: "F Dm CMix GDor APhr BbLyd ELoc",
		-4: "Ab Fm EbMix BbDor CPhr DbLyd GLoc", -7: "Cb Abm GbMix DbDor EbPhr FbLyd BbLoc",
	}
	for fifths, keys := range table {
		for _, k := range strings.Fields(keys) {
			for _, form := range []string{k, strings.NewReplacer("Mix", " mixolydian", "Dor", " dorian", "Phr", " phr", "m", " minor").Replace(k)} {
				if strings.Contains(form, " minorix") {
					continue
				}
				s := read(t, []byte("X:1\nT:K\nM:4/4\nL:1/4\nK:"+form+"\nC|\n"))
				var got *music.Key
				for _, a := range s.Parts[0].Attributes {
					if a.Key != nil {
						got = a.Key
					}
				}
				if got == nil || got.Fifths != fifths {
					t.Errorf("K:%s has %+v, want %d fifths", form, got, fifths)
				}
			}
		}
	}
}

func TestABCForm(t *testing.T) {
	s := read(t, []byte("%abc-2.1\n\nX:7\nT:A walk\nT:in two parts\nC:Nobody\nM:3/4\nL:1/8\nQ:\"Slowly\" 3/8=40\nK:G\n"+
		"D2|:\"G\"G2 A2 B2|\"^held\"!mf!d6|[1 !4!c4 D2:|[2 !D.C.!G6|]\n\nX:8\nT:Another\nK:C\nC|\n"))
	if s.Title != "A walk" || s.Subtitle != "in two parts" || s.Composer != "Nobody" {
		t.Errorf("titles %q %q %q", s.Title, s.Subtitle, s.Composer)
	}
	var numbers []string
	for _, b := range s.Bars {
		numbers = append(numbers, b.Number)
	}
	if got := strings.Join(numbers, " "); got != "0 1 2 3 4" {
		t.Errorf("bars %q, want a pickup and four", got)
	}
	if got, want := fmt.Sprint(s.Performed()), "[{0 3} {1 2} {4 4} {0 2} {4 4}]"; got != want {
		t.Errorf("performed %v, want %v: first ending, second ending, da capo without repeats", got, want)
	}
	if q, marked := s.TempoAt(music.Beats{}); !marked || q != 60 {
		t.Errorf("tempo %v, want 40 dotted quarters, which are 60 quarters", q)
	}
	kinds := map[music.DirectionKind]string{}
	for _, d := range s.Parts[0].Directions {
		kinds[d.Kind] += d.Text + ";"
	}
	if kinds[music.Harmony] != "G;" || !strings.Contains(kinds[music.Words], "held;") || kinds[music.Dynamic] != "mf;" {
		t.Errorf("directions %v", kinds)
	}
	found := false
	for _, n := range s.Sounding() {
		found = found || n.Finger == "4" && n.Name == "C5"
	}
	if !found {
		t.Error("no note with the fourth finger")
	}
}

// 2.2.2: fields at the top of a file hold for its tunes; free text between tunes is none of them.
func TestABCFileHeader(t *testing.T) {
	s := read(t, []byte("%abc-2.1\nL:1/4\nC:Trad.\n\nA collection of walks.\n\nX:3\nT:Walk\nM:2/4\nK:C\nCD|\n\nNo tune.\n"))
	if got := notesOf(s); got != "C4:1@0 D4:1@1" || s.Composer != "Trad." || s.Title != "Walk" {
		t.Errorf("%s by %q, %q", got, s.Composer, s.Title)
	}
}

func TestABCVoices(t *testing.T) {
	s := read(t, []byte("X:1\nT:Two and one\n%%score (1 2) 3\nM:2/4\nL:1/4\nV:1\nV:2\nV:3 name=\"Second guitar\" clef=treble-8\nK:C\n"+
		"[V:1] ce|dd|\n[V:2] C2|D2|\nV:3\nGG|G2|\n"))
	if len(s.Parts) != 2 || s.Parts[1].Name != "Second guitar" {
		t.Fatalf("parts %d", len(s.Parts))
	}
	var got []string
	for _, n := range s.Sounding() {
		got = append(got, n.Part+"/"+n.Voice+":"+n.Name)
	}
	want := "P1/2:C4 P1/1:C5 P2/1:G3 P1/1:E5 P2/1:G3 P1/2:D4 P1/1:D5 P2/1:G3 P1/1:D5"
	if strings.Join(got, " ") != want {
		t.Errorf("got %v\nwant %v", strings.Join(got, " "), want)
	}
}

func TestABCForgives(t *testing.T) {
	_, forgiven, err := notation.Read(strings.NewReader("X:1\nT:Odd\nM:4/4\nL:1/4\nK:C\nA§B [CE|\nw:la la\n"), "x.abc", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	all := fmt.Sprint(forgiven)
	for _, want := range []string{"§", "chord is not closed", "words and symbols"} {
		if !strings.Contains(all, want) {
			t.Errorf("forgave %v, nothing about %q", all, want)
		}
	}
}
