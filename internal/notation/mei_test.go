package notation_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"path/filepath"
	"strings"
	"testing"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// meiNode is an element of an MEI file as encoding/xml sees it.
type meiNode struct {
	XMLName xml.Name
	Attrs   []xml.Attr `xml:",any,attr"`
	Kids    []meiNode  `xml:",any"`
	Text    string     `xml:",chardata"`
}

func (n *meiNode) attr(name string) string {
	for _, a := range n.Attrs {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func (n *meiNode) all(name string, visit func(*meiNode)) {
	if n.XMLName.Local == name {
		visit(n)
	}
	for i := range n.Kids {
		n.Kids[i].all(name, visit)
	}
}

func mei(t testing.TB, s *music.Score, o notation.MEIOptions) *meiNode {
	t.Helper()
	var b bytes.Buffer
	if err := notation.WriteMEI(&b, s, o); err != nil {
		t.Fatal(err)
	}
	var root meiNode
	if err := xml.Unmarshal(b.Bytes(), &root); err != nil {
		t.Fatalf("not well-formed: %v\n%s", err, clipped(b.Bytes()))
	}
	return &root
}

// checkMEI holds what every MEI file of ours must have: ids that are unique, references that lead
// somewhere, every sounding note once, and staves as announced.
func checkMEI(t testing.TB, name string, bars int, root *meiNode) {
	t.Helper()
	ids := map[string]int{}
	staves := map[string]bool{}
	var walk func(n *meiNode)
	walk = func(n *meiNode) {
		if id := n.attr("id"); id != "" {
			if ids[id]++; ids[id] > 1 {
				t.Errorf("%s: id %s stands twice", name, id)
			}
		}
		if n.XMLName.Local == "staffDef" {
			staves[n.attr("n")] = true
		}
		for i := range n.Kids {
			walk(&n.Kids[i])
		}
	}
	walk(root)
	measures := 0
	root.all("measure", func(m *meiNode) {
		measures++
		m.all("staff", func(st *meiNode) {
			if !staves[st.attr("n")] {
				t.Errorf("%s: staff %s is not announced", name, st.attr("n"))
			}
		})
		for i := range m.Kids {
			k := &m.Kids[i]
			for _, a := range []string{"startid", "endid", "plist"} {
				for _, ref := range strings.Fields(k.attr(a)) {
					if ids[strings.TrimPrefix(ref, "#")] == 0 {
						t.Errorf("%s: a %s leads to %s, which is not there", name, k.XMLName.Local, ref)
					}
				}
			}
		}
	})
	if measures != bars {
		t.Errorf("%s: %d bars, want %d", name, measures, bars)
	}
}

// meiPitch are the pitches of the MEI Guidelines: pname and oct, with the accidental written or heard.
func meiPitch(n *meiNode) string {
	accid := ""
	for i := range n.Kids {
		if k := &n.Kids[i]; k.XMLName.Local == "accid" {
			if accid = k.attr("accid"); accid == "" {
				accid = k.attr("accid.ges")
			}
		}
	}
	sign := map[string]string{"s": "#", "f": "b", "x": "##", "ff": "bb"}[accid]
	return strings.ToUpper(n.attr("pname")) + sign + n.attr("oct")
}

// TestMEIHasEveryNote compares pitch and length of every note of a score with two voices, tuplets, a
// grace note, chords and ties, counted by hand from the ABC text.
func TestMEIHasEveryNote(t *testing.T) {
	s := read(t, []byte("X:1\nT:All <sorts> & \"signs\"\nM:4/4\nL:1/4\nK:D\n!1!F (3A/B/c/ {e}d2-|d [Fce]2 =C|z4|]\n"))
	root := mei(t, s, notation.MEIOptions{})
	checkMEI(t, "tune", len(s.Bars), root)
	var got []string
	root.all("note", func(n *meiNode) {
		d := n.attr("dur")
		if n.attr("grace") != "" {
			d += "g"
		}
		got = append(got, meiPitch(n)+":"+d)
	})
	want := "F#4:4 A4:8 B4:8 C#5:8 E5:8g D5:2 D5:4 F#4: C#5: E5: C4:4"
	if strings.Join(got, " ") != want {
		t.Errorf("notes are %s\nwant %s", strings.Join(got, " "), want)
	}
	count := map[string]int{}
	for _, name := range []string{"tuplet", "beam", "chord", "tie", "fing", "mRest"} {
		root.all(name, func(*meiNode) { count[name]++ })
	}
	for name, n := range map[string]int{"tuplet": 1, "chord": 1, "tie": 1, "fing": 1, "mRest": 1} {
		if count[name] != n {
			t.Errorf("%d of <%s>, want %d", count[name], name, n)
		}
	}
	root.all("chord", func(n *meiNode) {
		if n.attr("dur") != "2" {
			t.Errorf("the chord lasts %q, want a half", n.attr("dur"))
		}
	})
	root.all("tuplet", func(n *meiNode) {
		if n.attr("num") != "3" || n.attr("numbase") != "2" {
			t.Errorf("the triplet is %s:%s", n.attr("num"), n.attr("numbase"))
		}
	})
	root.all("title", func(n *meiNode) {
		if n.Text != s.Title {
			t.Errorf("the title is %q, want %q", n.Text, s.Title)
		}
	})
}

// TestMEIEverything writes the score that has every sign, in all ways.
func TestMEIEverything(t *testing.T) {
	s := readFile(t, "everything.musicxml")
	for _, o := range []notation.MEIOptions{{}, {Bare: true}, {Tab: true}, {Bare: true, Tab: true, Breaks: []int{2, 4}}} {
		root := mei(t, s, o)
		checkMEI(t, "everything", len(s.Bars), root)
		count := func(name string) (n int) {
			root.all(name, func(*meiNode) { n++ })
			return n
		}
		for _, name := range []string{"fing", "dir", "tempo", "harm", "reh"} {
			if n := count(name); (n > 0) == o.Bare {
				t.Errorf("%+v: %d of <%s>", o, n, name)
			}
		}
		for _, name := range []string{"slur", "tie", "dynam", "hairpin", "arpeg", "fermata", "trill", "ending", "tuplet", "gliss"} {
			if count(name) == 0 {
				t.Errorf("%+v: no <%s>", o, name)
			}
		}
		if (count("tabGrp") > 0) != o.Tab {
			t.Errorf("%+v: %d of <tabGrp>", o, count("tabGrp"))
		}
		if count("sb") != len(o.Breaks) {
			t.Errorf("%+v: %d of <sb>", o, count("sb"))
		}
		var a, b bytes.Buffer
		if errors.Join(notation.WriteMEI(&a, s, o), notation.WriteMEI(&b, s, o)) != nil || !bytes.Equal(a.Bytes(), b.Bytes()) {
			t.Errorf("%+v: the same score gives other bytes", o)
		}
	}
}

// TestMEIPassage writes every passage of the score with every sign: nothing in it leads out of it, and
// its notes have the ids of the whole score.
func TestMEIPassage(t *testing.T) {
	s := readFile(t, "everything.musicxml")
	ids := map[string]bool{}
	mei(t, s, notation.MEIOptions{}).all("note", func(n *meiNode) { ids[n.attr("id")] = true })
	for from := range s.Bars {
		for until := from + 1; until <= len(s.Bars); until++ {
			root := mei(t, s, notation.MEIOptions{From: from, Until: until})
			checkMEI(t, "passage", until-from, root)
			root.all("note", func(n *meiNode) {
				if !ids[n.attr("id")] {
					t.Errorf("bars %d to %d: id %s is not one of the whole score", from, until, n.attr("id"))
				}
			})
		}
	}
}

// TestMEIOddLengths: a note as long as no plain note is written as several that are tied, and ties on
// from the last of them; lengths that only a performance has are drawn to the nearest sixteenth.
func TestMEIOddLengths(t *testing.T) {
	score := func(lengths ...music.Beats) *music.Score {
		s := &music.Score{Parts: []music.Part{{ID: "P1", Staves: 1}}}
		at := music.Beats{}
		for i, l := range lengths {
			n := music.Note{Start: at, Duration: l, Voice: "1", Staff: 1, Pitch: music.Pitch{Step: "CDEFGAB"[i%7], Octave: 4}}
			s.Parts[0].Notes = append(s.Parts[0].Notes, n)
			at = at.Add(l)
		}
		s.Bars = []music.Bar{{Number: "1", Length: at}}
		return s
	}
	write := func(s *music.Score) (durs string, ties int) {
		root := mei(t, s, notation.MEIOptions{})
		checkMEI(t, "odd", len(s.Bars), root)
		var list []string
		root.all("note", func(n *meiNode) { list = append(list, n.attr("dur")+strings.Repeat(".", len(n.attr("dots")))) })
		root.all("tie", func(*meiNode) { ties++ })
		return strings.Join(list, " "), ties
	}
	q := music.Quarters
	plain := []music.Beats{q(1, 1), q(1, 1), q(1, 1), q(1, 1), q(1, 1)}
	if durs, ties := write(score(append(plain, q(5, 2))...)); durs != "4 4 4 4 4 2 8" || ties != 1 {
		t.Errorf("two and a half quarters are written as %s with %d ties", durs, ties)
	}
	if durs, ties := write(score(q(909, 1000), q(1091, 1000), q(487, 1000), q(1513, 1000))); durs != "4 4 8 4." || ties != 0 {
		t.Errorf("a performance is written as %s with %d ties", durs, ties)
	}
}

// TestMEIBeams: a score without beams is beamed as is common practice, no source.
func TestMEIBeams(t *testing.T) {
	for _, c := range []struct{ abc, want string }{
		{"M:4/4\nL:1/8\nK:C\nCDEF GABc|]", "4 4"},
		{"M:4/4\nL:1/8\nK:C\nCD E/F/G ABc2|]", "2 3 2"}, // sixteenths: by the beat in their half
		{"M:3/4\nL:1/8\nK:C\nCDEFGA|]", "6"},
		{"M:6/8\nL:1/8\nK:C\nCDE FGA|]", "3 3"},
		{"M:3/8\nL:1/8\nK:C\nCDE|]", "3"},
		{"M:2/4\nL:1/8\nK:C\nCzEF|]", "2"},
		{"M:4/4\nL:1/4\nK:C\nCDEF|]", ""},
	} {
		s := read(t, []byte("X:1\n"+c.abc+"\n"))
		var got []string
		mei(t, s, notation.MEIOptions{}).all("beam", func(n *meiNode) { got = append(got, itoa(len(n.Kids))) })
		if strings.Join(got, " ") != c.want {
			t.Errorf("%q: beams of %v, want %q", c.abc, got, c.want)
		}
	}
}

// TestMEITablature: strings and frets of a C major scale where nothing is stated, as any method for
// guitar has it in first position (common practice, no source), and stated ones kept.
func TestMEITablature(t *testing.T) {
	s := read(t, []byte("X:1\nM:4/4\nL:1/4\nK:C clef=treble-8\nC, D, E, F,|G, A, B, C|D E F G|]\n"))
	on := 0 // the fingerboard
	for _, n := range s.Sounding() {
		if n.Midi >= 40 { // E2, the lowest string
			on++
		}
	}
	places := map[string]string{}
	mei(t, s, notation.MEIOptions{Tab: true}).all("note", func(n *meiNode) {
		if n.attr("tab.course") != "" {
			places[n.attr("id")] = n.attr("tab.course") + "/" + n.attr("tab.fret")
		}
	})
	first := map[string]string{"C3": "5/3", "D3": "4/0", "E3": "4/2", "F3": "4/3", "G3": "3/0", "A3": "3/2", "B3": "2/0", "C4": "2/1", "D4": "2/3", "E4": "1/0", "F4": "1/1", "G4": "1/3"}
	for _, n := range s.Sounding() {
		if want := first[n.Name]; want != "" && places[notation.TabID(n.ID)] != want {
			t.Errorf("%s stands at %s, want %s", n.Name, places[notation.TabID(n.ID)], want)
		}
	}
	if len(places) != on {
		t.Errorf("%d places for %d notes", len(places), on)
	}
}

func TestMEIRefuses(t *testing.T) {
	if err := notation.WriteMEI(io.Discard, &music.Score{}, notation.MEIOptions{}); !errors.Is(err, notation.ErrUnwritable) {
		t.Errorf("an empty score: %v", err)
	}
	s := &music.Score{Bars: []music.Bar{{Length: music.Quarters(4, 1)}}, Parts: []music.Part{{ID: "P1"}}}
	for range 30 {
		s.Parts[0].Notes = append(s.Parts[0].Notes, music.Note{Duration: music.Quarters(4, 1), Voice: "1", Staff: 1, Pitch: music.Pitch{Step: 'C', Octave: 4}})
	}
	if err := notation.WriteMEI(io.Discard, s, notation.MEIOptions{}); !errors.Is(err, notation.ErrUnwritable) {
		t.Errorf("thirty notes of one voice at once: %v", err)
	}
}

// FuzzWriteMEI: whatever score can be read is written as well-formed MEI with its ids in order, or
// refused as unwritable.
func FuzzWriteMEI(f *testing.F) {
	f.Add([]byte("X:1\nM:6/8\nL:1/16\nK:Ebmin\n!1!C!2!D!3!E!4!F .G ~A T B HC|[1 (3abc :|[2 {d}[ce]8|]\n"))
	files, _ := filepath.Glob("testdata/*.musicxml")
	for _, name := range files {
		s := readFile(f, filepath.Base(name))
		f.Add(written(f, s))
	}
	f.Fuzz(func(t *testing.T, in []byte) {
		s, _, err := notation.Read(bytes.NewReader(in), "fuzz", notation.Limits{Notes: 2000, Bars: 200, Elements: 50_000, Bytes: 200_000})
		if err != nil {
			return
		}
		var b bytes.Buffer
		if err := notation.WriteMEI(&b, s, notation.MEIOptions{Tab: true}); err != nil {
			if !errors.Is(err, notation.ErrUnwritable) {
				t.Errorf("an error without a kind: %v", err)
			}
			return
		}
		var root meiNode
		if err := xml.Unmarshal(b.Bytes(), &root); err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
		checkMEI(t, "fuzz", len(s.Bars), &root)
	})
}

// TestMEIHairpinsInARow: a hairpin that begins where another ends has the same number in most files, and
// its start stands before or after the other's stop. Both are drawn, each to its own end.
func TestMEIHairpinsInARow(t *testing.T) {
	q := music.Quarters
	wedge := func(at int64, text string) music.Direction {
		return music.Direction{At: q(at, 1), Kind: music.Wedge, Text: text, Number: 1}
	}
	for _, dirs := range [][]music.Direction{
		{wedge(0, "crescendo"), wedge(2, "stop"), wedge(2, "diminuendo"), wedge(3, "stop")},
		{wedge(0, "crescendo"), wedge(2, "diminuendo"), wedge(2, "stop"), wedge(3, "stop")},
	} {
		s := &music.Score{Bars: []music.Bar{{Number: "1", Length: q(4, 1)}}, Parts: []music.Part{{ID: "P1", Staves: 1, Directions: dirs}}}
		for k := range int64(4) {
			s.Parts[0].Notes = append(s.Parts[0].Notes, music.Note{Start: q(k, 1), Duration: q(1, 1), Voice: "1", Staff: 1, Pitch: music.Pitch{Step: 'C', Octave: 4}})
		}
		var got []string
		mei(t, s, notation.MEIOptions{}).all("hairpin", func(n *meiNode) {
			got = append(got, n.attr("form")+" "+n.attr("tstamp")+" "+n.attr("tstamp2"))
		})
		if strings.Join(got, ", ") != "cres 1 0m+3, dim 3 0m+4" {
			t.Errorf("hairpins %q", got)
		}
	}
}
