package engrave

import (
	"bytes"
	"testing"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// TestPlace puts the systems of a score on somebody else's page, where they draw what PDF draws of them.
func TestPlace(t *testing.T) {
	e := engraver(t)
	s := samples(t)["round"]
	p, err := e.Place(t.Context(), s, Options{}, 120)
	if err != nil {
		t.Fatal(err)
	}
	if n := p.Systems(); n < 2 || n > 12 {
		t.Fatalf("%d systems", n)
	}
	doc := fpdf.New("P", "mm", "A4", "")
	doc.SetCreationDate(time.Unix(0, 0))
	doc.AddPage()
	if f := e.TextFont(doc); f != "Tinos" {
		t.Errorf("the font is %q", f)
	}
	y := 10.0
	var drawn bytes.Buffer
	for i := range p.Systems() {
		if h := p.HeightMm(i); h < 5 || h > 40 {
			t.Errorf("system %d is %v mm high", i, h)
		}
		p.Put(doc, i, 20, y)
		y += p.HeightMm(i) + p.GapMm()
	}
	if err := doc.Output(&drawn); err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count([]byte(unpacked(t, drawn.Bytes())), []byte(" c\n")); n < 200 {
		t.Errorf("only %d curves were drawn", n)
	}
	for r, want := range map[rune]bool{'ñ': true, '¿': true, 'Á': true, '♯': true, '漢': false} {
		if e.Writes(r) != want {
			t.Errorf("%c: writes it is %v", r, !want)
		}
	}
}
