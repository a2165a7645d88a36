package engrave

import (
	"bytes"
	"context"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

func TestWords(t *testing.T) {
	for _, c := range []struct{ name, abc, want string }{
		{"beats", "M:4/4\nL:1/4\nK:G\nG F/2G/2 A2|", "Bar 1. Beat 1: G4, 1 beat. Beat 2: F sharp 4, 1/2 of a beat. Beat 2 1/2: G4, 1/2 of a beat. Beat 3: A4, 2 beats."},
		{"a chord", "M:3/4\nL:1/4\nK:C\n[CEG]3|", "Bar 1. Beat 1: C4, E4 and G4, 3 beats."},
		{"in six", "M:6/8\nL:1/8\nK:C\nC3 D2E|", "Bar 1. Beat 1: C4, 1 beat. Beat 2: D4, 2/3 of a beat. Beat 2 2/3: E4, 1/3 of a beat."},
		{"silence", "M:4/4\nL:1/4\nK:C\nz4|", "Bar 1. Silence."},
	} {
		s, _, err := notation.Read(bytes.NewReader([]byte("X:1\n"+c.abc+"\n")), "tune.abc", notation.Limits{})
		if err != nil {
			t.Fatal(c.name, err)
		}
		if w := Words(s, 0, 0, Speech{}); len(w) == 0 || w[0].Say != c.want {
			t.Errorf("%s: %+v, want %q", c.name, w, c.want)
		}
	}
}

// TestNothingInline: a page whose policy allows no style of its own can hold the picture.
func TestNothingInline(t *testing.T) {
	e := engraver(t)
	inline := regexp.MustCompile(`<style|\sstyle=|<script|\son[a-z]+=|https?://`)
	for name, s := range samples(t) {
		svg, err := e.SVG(context.Background(), s, Options{WidthPx: 560, Names: Letters, Under: 5})
		if err != nil {
			t.Fatal(err)
		}
		svg = strings.Replace(svg, `xmlns="http://www.w3.org/2000/svg"`, "", 1)
		if bad := inline.FindString(svg); bad != "" {
			t.Errorf("%s: %q", name, bad)
		}
	}
}

// TestUnder: the room below each system is empty, as wide as it says, and the bars lie inside.
func TestUnder(t *testing.T) {
	e := engraver(t)
	for name, s := range samples(t) {
		const under = 5.0
		svg, err := e.SVG(context.Background(), s, Options{WidthPx: 560, Under: under})
		if err != nil {
			t.Fatal(err)
		}
		systems := regexp.MustCompile(`class="system" transform="translate\(\d+ (\d+)\)" data-left="(\d+)" data-right="(\d+)" data-top="(-?\d+)" data-low="(-?\d+)" data-room="(\d+)"`).FindAllStringSubmatch(svg, -1)
		if len(systems) == 0 {
			t.Fatalf("%s: no system says where it lies", name)
		}
		last := 0.0
		for i, m := range systems {
			var v [6]float64
			for k := range v {
				v[k], _ = strconv.ParseFloat(m[k+1], 64)
			}
			if v[5] != under*space {
				t.Errorf("%s, system %d: room %v", name, i, v[5])
			}
			if top := v[0] + v[3]; top < last {
				t.Errorf("%s, system %d begins at %v in the room of the one above, that ends at %v", name, i, top, last)
			}
			last = v[0] + v[4] + v[5]
		}
		if n := strings.Count(svg, "data-bar="); n != len(s.Bars) {
			t.Errorf("%s: %d of %d bars say where they lie", name, n, len(s.Bars))
		}
	}
}

// TestWordsOfAnotherLanguage: every word of a bar comes from the speech that is given, the names of the notes too.
func TestWordsOfAnotherLanguage(t *testing.T) {
	s, _, err := notation.Read(strings.NewReader("X:1\nM:4/4\nL:1/4\nK:G\nF/2G/2 [CE]2 z|_B4|z4|\n"), "tune.abc", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	s.Parts[0].Notes[0].Fingers = []music.Fingering{{Text: "2"}}
	s.Parts[0].Notes[0].Plucks = []string{"i"}
	in := Speech{Bar: "Compás %s.", Silence: "Silencio.", Grace: "Nota de adorno: %s.", Beat: "Pulso %s", One: "1 pulso", Part: "%s de un pulso", More: "%s pulsos",
		For: "%s durante %s", And: " y ", Finger: "%s dedo %s", Open: "%s al aire", With: "%s con %s", Sharp: "sostenido", Flat: "bemol", DoubleSharp: "doble sostenido", DoubleFlat: "doble bemol", Names: DoReMi}
	want := []string{"Compás 1. Pulso 1: fa sostenido 4 dedo 2 con i, 1/2 de un pulso. Pulso 1 1/2: sol 4, 1/2 de un pulso. Pulso 2: do 4 y mi 4, 2 pulsos.",
		"Compás 2. Pulso 1: si bemol 4, 4 pulsos.", "Compás 3. Silencio."}
	for i, w := range Words(s, 0, 0, in) {
		if w.Say != want[i] {
			t.Errorf("%q, want %q", w.Say, want[i])
		}
	}
}
