package exercise

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// file is a score of one guitar as another program might write it: bars are their inside.
func file(t testing.TB, attributes string, bars ...string) *music.Score {
	t.Helper()
	var b strings.Builder
	b.WriteString(`<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>G</part-name></score-part></part-list><part id="P1">`)
	for i, bar := range bars {
		fmt.Fprintf(&b, `<measure number="%d">`, i+1)
		if i == 0 {
			if !strings.Contains(attributes, "<divisions>") {
				attributes = "<divisions>2</divisions>" + attributes
			}
			divisions, rest, _ := strings.Cut(attributes, "</divisions>")
			fmt.Fprintf(&b, "<attributes>"+divisions+"</divisions><time><beats>3</beats><beat-type>4</beat-type></time>%s</attributes>", rest)
		}
		b.WriteString(bar + "</measure>")
	}
	b.WriteString("</part></score-partwise>")
	s, _, err := notation.Read(strings.NewReader(b.String()), "file", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// n is a note: a step with its octave, and a length in eighths.
func n(pitch string, eighths int, more string) string {
	return fmt.Sprintf("<note><pitch><step>%c</step><octave>%c</octave></pitch><duration>%d</duration>%s</note>", pitch[0], pitch[1], eighths, more)
}

// heard is what sounds in a score, from a moment on: onset, length and pitch.
func heard(s *music.Score) []string {
	var out []string
	for _, n := range s.Sounding() {
		out = append(out, fmt.Sprintf("%s+%s %s", n.Onset, n.Duration, n.Name))
	}
	return out
}

// TestPassageIsTheMusic: a passage played plainly is the same music as in the score.
func TestPassageIsTheMusic(t *testing.T) {
	for _, c := range []struct {
		name  string
		score *music.Score
		bars  string
		want  string
	}{
		{"the whole study", study(t), "1-4", ""},
		{"a tie within", file(t, "", n("C4", 6, `<tie type="start"/>`), n("C4", 2, `<tie type="stop"/>`)+n("D4", 4, "")), "1-2", "0+4 C4, 4+2 D4"},
		{"a tie into it is struck", file(t, "", n("C4", 6, `<tie type="start"/>`), n("C4", 2, `<tie type="stop"/>`)+n("D4", 4, "")), "2", "0+1 C4, 1+2 D4"},
		{"a tie out of it ends", file(t, "", n("C4", 6, `<tie type="start"/>`), n("C4", 2, `<tie type="stop"/>`)+n("D4", 4, "")), "1", "0+3 C4"},
		{"two notes are two", file(t, "", n("C4", 2, "")+n("C4", 4, "")), "1", "0+1 C4, 1+2 C4"},
		{"a pickup stands before the bar line", file(t, "", n("G3", 2, ""), n("C4", 6, "")), "1-2", "2+1 G3, 3+3 C4"},
		{"written an octave higher", file(t, `<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>`, n("C5", 6, "")), "1", "0+3 C4"},
		{"a triplet", file(t, "<divisions>6</divisions>", strings.Repeat(`<note><pitch><step>C</step><octave>4</octave></pitch><duration>2</duration><type>eighth</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification></note>`, 3)+n("D4", 12, "")), "1", "0+1/3 C4, 1/3+1/3 C4, 2/3+1/3 C4, 1+2 D4"},
	} {
		p, err := ReadBars(c.bars)
		if err != nil {
			t.Fatal(err)
		}
		s, err := Vary(c.score, p, nil, Wishes{})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		got, want := strings.Join(heard(s), ", "), c.want
		if want == "" {
			want = strings.Join(heard(c.score), ", ")
		}
		if got != want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, want)
		}
		for _, x := range s.Sounding() {
			if x.String == 0 || x.Fret < 0 || x.Finger == "" || x.Pluck == "" {
				t.Errorf("%s: %s has no place or finger", c.name, x.Name)
			}
		}
		if back, forgiven, err := notation.Read(bytes.NewReader(written1(t, s)), "x", notation.Limits{}); err != nil || len(forgiven) > 0 || !slices.Equal(heard(back), heard(s)) {
			t.Errorf("%s: read again: %v %v", c.name, err, forgiven)
		}
	}
}

// TestMarksOfThePassageStay: string, fret, finger, pluck and accent come along; where there are none
// they are found.
func TestMarksOfThePassageStay(t *testing.T) {
	s, err := Vary(study(t), Passage{From: "2", To: "3"}, nil, Wishes{})
	if err != nil {
		t.Fatal(err)
	}
	p, f, r := places(s)
	wantP, wantF, wantR := "", "", ""
	full := study(t)
	full.Parts[0].Notes = slices.DeleteFunc(full.Parts[0].Notes, func(n music.Note) bool { return n.Bar != 1 && n.Bar != 2 })
	wantP, wantF, wantR = places(full)
	if p != wantP || f != wantF || r != wantR {
		t.Errorf("got %s | %s | %s\nwant %s | %s | %s", p, f, r, wantP, wantF, wantR)
	}
	if bpm, marked := s.TempoAt(music.Beats{}); !marked || bpm != 70 {
		t.Errorf("begins at %v", bpm)
	}
	if g := GoalOf(study(t), Passage{From: "2"}); g != 100 {
		t.Errorf("goal %v, want the tempo of the piece", g)
	}
}

// TestFaultsWithoutMarks: where the score says nothing of the hands, they are found first.
func TestFaultsWithoutMarks(t *testing.T) {
	bare := study(t)
	for i := range bare.Parts[0].Notes {
		n := &bare.Parts[0].Notes[i]
		n.String, n.Fret, n.HasFret, n.Fingers, n.Plucks = 0, 0, false, nil, nil
	}
	for _, text := range []string{"unevenness on i", "late thumb", "shift", "missed string", "rushing"} {
		fault, err := ReadFault(text)
		if err != nil {
			t.Fatal(err)
		}
		s, reason, err := Practise(bare, Passage{From: "1", To: "4"}, fault, Wishes{})
		if err != nil || reason == "" {
			t.Errorf("%s: %v", text, err)
			continue
		}
		sound(t, s)
	}
}

// TestNewRightHand: another pattern for the melody leaves notes and left hand alone, and the bass to p.
func TestNewRightHand(t *testing.T) {
	was := study(t)
	s, err := Vary(was, Passage{From: "1", To: "2"}, nil, Wishes{RightHand: "a m"})
	if err != nil {
		t.Fatal(err)
	}
	_, _, r := places(s)
	if r != "p a m a m a m p a m a m a m" {
		t.Errorf("plucked %s", r)
	}
	full := study(t)
	full.Parts[0].Notes = slices.DeleteFunc(full.Parts[0].Notes, func(n music.Note) bool { return n.Bar > 1 })
	if !slices.Equal(heard(s), heard(full)) {
		t.Errorf("another right hand changed the notes:\n%v\n%v", heard(s), heard(full))
	}
}

// TestNames are spoken under the notes and come back from MusicXML: letters, or do re mi.
func TestNames(t *testing.T) {
	for kind, want := range map[string]string{"letters": "E F♯ G A B C D♯ E", "do-re-mi": "mi fa♯ sol la si do re♯ mi"} {
		s := composed(t, "pattern: scale\nkey: E harmonic minor\noctaves: 1\ndirection: up\nnames: "+kind+"\n")
		back, _, err := notation.Read(bytes.NewReader(written1(t, s)), "x", notation.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, n := range back.Parts[0].Notes {
			for _, l := range n.Lyrics {
				got = append(got, l.Text)
			}
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%s: %s, want %s", kind, strings.Join(got, " "), want)
		}
	}
	s := composed(t, "pattern: chords\nchords: C\nright-hand: (pima)\nrhythm: whole\nnames: letters\n")
	if l := s.Parts[0].Notes[0].Lyrics; len(l) != 1 || l[0].Text != "C G C E" {
		t.Errorf("a chord is said as %v", l)
	}
}

// TestDynamicsAndTone stand where the plan has them.
func TestDynamicsAndTone(t *testing.T) {
	at := func(s *music.Score, kinds ...music.DirectionKind) string {
		var out []string
		for _, d := range s.Parts[0].Directions {
			if slices.Contains(kinds, d.Kind) {
				out = append(out, fmt.Sprintf("%s %s", d.At, d.Text))
			}
		}
		return strings.Join(out, ", ")
	}
	scale := "pattern: scale\nkey: G major\nstart: 6/3\n"
	for _, c := range []struct{ line, want string }{
		{"dynamics: mf", "0 mf"},
		{"dynamics: terraced f p every 1 bar", "0 f, 4 p, 8 f, 12 p"},
		{"dynamics: echo f p every 2 bars", "0 f, 8 p, 16 f, 24 p"},
		{"dynamics: crescendo p f", "0 p, 0 crescendo, 14 f, 14 stop"},
		{"dynamics: swell p f", "0 p, 0 crescendo, 8 f, 8 stop, 8 diminuendo, 14 p, 14 stop"},
		{"tone: over the neck, near the bridge every 2 bars", "0 sul tasto, 8 sul ponticello"},
		{"tone: over the hole", "0 naturale"},
	} {
		s := composed(t, scale+c.line+"\n")
		got := strings.Split(at(s, music.Dynamic, music.Wedge, music.Words), ", ")
		want := strings.Split(c.want, ", ")
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", c.line, got, want)
		}
		sound(t, s)
	}
	// An echo is the same notes again.
	echo := composed(t, scale+"dynamics: echo f p every 1 bar\n")
	for b := 0; b < len(echo.Bars); b += 2 {
		loud, soft := "", ""
		for _, n := range echo.Sounding() {
			switch n.BarIndex {
			case b:
				loud += n.Name + n.Finger + " "
			case b + 1:
				soft += n.Name + n.Finger + " "
			}
		}
		if loud == "" || loud != soft {
			t.Errorf("bar %d: %s and its echo %s", b+1, loud, soft)
		}
	}
}

// TestLean: three to one, worked by hand; of three in a beat the first two, as in a siciliana.
func TestLean(t *testing.T) {
	for _, c := range []struct{ recipe, lengths string }{
		{"rhythm: eighths\nvariants: long-short\n", "3/4 1/4 3/4 1/4 3/4 1/4 3/4 1/4"},
		{"rhythm: eighths\nvariants: short-long\n", "1/4 3/4 1/4 3/4 1/4 3/4 1/4 3/4"},
		{"rhythm: quarters\nvariants: long-short\n", "3/2 1/2 3/2 1/2 3/2 1/2 3/2 1/2"},
		{"rhythm: eighths\ntime: 6/8\nvariants: long-short\n", "3/4 1/4 1/2 3/4 1/4 1/2 3/4 1/4"},
		{"rhythm: eighths\ntime: 6/8\nvariants: short-long\n", "1/4 3/4 1/2 1/4 3/4 1/2 1/4 3/4"},
		{"rhythm: eighths\nvariants: slow\n", "1 1 1 1 1 1 1 1"},
		{"rhythm: eighths\nvariants: slow-fast\n", "1 1 1 1 1 1 1 1"},
	} {
		s := composed(t, "pattern: scale\nkey: G major\nstart: 6/3\n"+c.recipe)
		var got []string
		for _, n := range s.Sounding()[:8] {
			got = append(got, n.Duration.String())
		}
		if strings.Join(got, " ") != c.lengths {
			t.Errorf("%q: %v, want %s", c.recipe, got, c.lengths)
		}
	}
}

// TestBassHeld: under the fingers the thumb's note lasts as long as it may, and the voices add up.
func TestBassHeld(t *testing.T) {
	s := composed(t, "pattern: chords\nchords: Am E7\nright-hand: p i m a\nbass: held\n")
	sound(t, s)
	var got []string
	for _, n := range s.Sounding() {
		if n.Voice == "2" {
			got = append(got, n.Onset.String()+"+"+n.Duration.String()+" "+n.Name)
		}
		if (n.Voice == "2") != (n.Pluck == "p") {
			t.Errorf("%s is in voice %s", n.Pluck, n.Voice)
		}
	}
	if want := "0+2 A2, 2+2 A2, 4+2 E2, 6+2 E2"; strings.Join(got, ", ") != want {
		t.Errorf("got %v, want %s", got, want)
	}
}

// TestRestStrokes land on quiet strings, and are free where there is no string.
func TestRestStrokes(t *testing.T) {
	s := composed(t, "pattern: scale\nkey: G major\nstart: 6/3\nstroke: rest\n")
	for _, n := range s.Parts[0].Notes {
		want := music.RestStroke
		if n.String == 6 {
			want = music.FreeStroke
		}
		if n.Pitched() && !n.TieStop && n.Stroke() != want {
			t.Errorf("string %d: %q", n.String, n.Stroke())
		}
	}
	s = composed(t, "pattern: chords\nchords: C\nright-hand: p i m a\nstroke: p free, i m a free\n")
	if n := s.Parts[0].Notes[0]; n.Stroke() != music.FreeStroke {
		t.Errorf("free stroke: %q", n.Stroke())
	}
}

// TestChordShapes hold the notes of their names, and nothing else. Intervals by the theory of chords
// (from memory).
func TestChordShapes(t *testing.T) {
	kinds := map[string][]int{"": {0, 4, 7}, "m": {0, 3, 7}, "7": {0, 4, 7, 10}, "m7": {0, 3, 7, 10}, "maj7": {0, 4, 7, 11}}
	for _, name := range chordNames() {
		want, ok := kinds[name[1:]]
		if !ok {
			t.Errorf("%s: what is it?", name)
			continue
		}
		s := composed(t, "pattern: chords\nchords: "+name+"\nright-hand: p i m a\n")
		sound(t, s)
		c, err := readChord(guitar.Standard(), name, 0)
		if err != nil {
			t.Fatal(err)
		}
		root := (music.Pitch{Step: name[0], Octave: 1}).Midi()
		found := map[int]bool{}
		for _, x := range c.notes {
			if x == nil {
				continue
			}
			up := floorMod(x.Pitch.Midi()-root, 12)
			found[up] = true
			if !slices.Contains(want, up) {
				t.Errorf("%s has %s", name, x.Pitch.Name())
			}
		}
		for _, up := range want {
			if !found[up] && !(up == 7 && len(want) == 4) { // a seventh chord may leave its fifth out
				t.Errorf("%s has no note %d semitones above its root", name, up)
			}
		}
		if low := c.notes[c.bass].Pitch.Midi(); floorMod(low-root, 12) != 0 {
			t.Errorf("%s: the bass is not its root", name)
		}
	}
	if len(shapes()) != len(chordNames()) {
		t.Error("a shape is not told, or one is told that is not there")
	}
}
