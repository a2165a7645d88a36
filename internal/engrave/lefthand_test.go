package engrave

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// fingered reads a tune and gives its sounding notes, in their order, "string/fret/finger".
func fingered(t *testing.T, abc string, places ...string) *music.Score {
	t.Helper()
	s, _, err := notation.Read(bytes.NewReader([]byte(abc)), "tune.abc", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	written := s.Written()
	if len(written) != len(places) {
		t.Fatalf("%d notes, %d places", len(written), len(places))
	}
	for i, p := range places {
		n := &s.Parts[written[i][0].Part].Notes[written[i][0].Note]
		n.String, n.Fret, n.HasFret = int(p[0]-'0'), int(p[2]-'0'), true
		n.Fingers = []music.Fingering{{Text: p[4:]}}
	}
	return s
}

// TestLeftSigns reads positions and barres off fingerings that every method for guitar teaches: F major
// as a whole barre at the first fret, A minor on three strings at the fifth, the first notes of the
// first string in fifth position. Common practice, no source.
func TestLeftSigns(t *testing.T) {
	const head = "X:1\nM:4/4\nL:1/4\nK:C clef=treble-8\n"
	for _, c := range []struct {
		name, abc string
		places    []string
		want      string
	}{
		{"a whole barre", head + "[F,,C,F,A,CF]4|]\n", []string{"6/1/1", "5/3/3", "4/3/4", "3/2/2", "2/1/1", "1/1/1"}, "barre CI"},
		{"a small barre", head + "[CEA]2 [CEA]2|]\n", []string{"3/5/1", "2/5/1", "1/5/1", "3/5/1", "2/5/1", "1/5/1"}, "barre ½CV"},
		{"a barre that opens up", head + "F,,3 C-|[F,C]4|]\n", []string{"6/1/1", "2/1/1", "4/3/3"}, ""}, // the first F has ended: no finger lies across
		{"held together", head + "[F,,-C]2 [F,,F]2|]\n", []string{"6/1/1", "2/1/1", "1/1/1"}, "barre CI"},
		{"fifth position", head + "A, B c A|]\n", []string{"3/2/2", "1/7/3", "1/8/4", "1/5/1"}, "position V"},
		{"there and back", head + "A c F E|]\n", []string{"1/5/1", "1/8/4", "1/1/1", "1/0/0"}, "position V, position I"},
		{"first position", head + "E F G E|]\n", []string{"1/0/0", "1/1/1", "1/3/3", "1/0/0"}, ""},
		{"second position", head + "A, B, ^C D|]\n", []string{"3/2/1", "3/4/3", "2/2/1", "2/3/2"}, ""},
		{"a stretch is no shift", head + "A c ^c A|]\n", []string{"1/5/1", "1/8/4", "1/9/4", "1/5/1"}, "position V"},
	} {
		var got []string
		for _, g := range leftSigns(fingered(t, c.abc, c.places...), nil) {
			got = append(got, string(g.kind)+" "+g.text)
		}
		if strings.Join(got, ", ") != c.want {
			t.Errorf("%s: %v, want %q", c.name, got, c.want)
		}
	}
	s := fingered(t, head+"A c c A|]\n", "1/5/1", "1/8/4", "1/8/4", "1/5/1")
	if got := leftSigns(s, []sign{{kind: positionSign, text: "V"}}); len(got) > 0 {
		t.Errorf("an editor has printed a position, and still: %v", got)
	}
	s.Parts[0].Notes[0].String, s.Parts[0].Notes[1].String = 0, 0
	if got := leftSigns(s, nil); len(got) > 0 {
		t.Errorf("half of the notes have no place, and still: %v", got)
	}
}

// TestWorkedOutFingering: on the page, a fingering that was worked out has its barre with a line, and of
// its string numbers only those that a player needs.
func TestWorkedOutFingering(t *testing.T) {
	e := engraver(t)
	s := fingered(t, "X:1\nT:Worked out\nM:4/4\nL:1/4\nK:C clef=treble-8\n[CEA]2 [CEA]2|A c c A|]\n",
		"3/5/1", "2/5/1", "1/5/1", "3/5/1", "2/5/1", "1/5/1", "1/5/1", "1/8/4", "1/8/4", "1/5/1")
	svg, err := e.SVG(context.Background(), s, Options{})
	if err != nil {
		t.Fatal(err)
	}
	p := readPicture(t, svg, e.fonts)
	count := map[string]int{}
	for _, m := range p.things {
		count[m.kind]++
	}
	if !strings.Contains(svg, ">½CV<") || !strings.Contains(svg, "stroke-dasharray") {
		t.Error("no barre with its line")
	}
	if count["string"] > 2*2 { // circle and number
		t.Errorf("%d pieces of string numbers, want those of two at most", count["string"])
	}
	if count["lh"] != 10 {
		t.Errorf("%d fingers, want 10", count["lh"])
	}
	for _, c := range p.collisions() {
		t.Error(c)
	}
}
