package engrave

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// listener hears what a figure is drawn with.
type listener struct {
	fills      int
	texts      []string
	unseenText string
}

func (l *listener) fill([]segment, affine)                       { l.fills++ }
func (l *listener) stroke([]segment, affine, float64, []float64) {}
func (l *listener) text(s string, _ style, _ float64, _ point, _ affine) {
	l.texts = append(l.texts, s)
}

func (l *listener) unseen(s string, _ style, _ float64, _ point, _ affine) { l.unseenText += s }

// TestFlatSign: the text font has no flat sign, and a pen never gets one as text: it is drawn, in its
// place, as high as it stands over its bowl in print (taller than wide; common practice, no source).
func TestFlatSign(t *testing.T) {
	f, err := openFonts()
	if errors.Is(err, ErrNoLibrary) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	for s := regular; s < styles; s++ {
		b, adv := f.glyphBox('♭', s)
		if b.empty() || b.y0 > -600 || b.y1 > 100 || b.x0 < 0 || b.x1 > adv || b.height() < 1.8*b.width() {
			t.Errorf("%s: the flat is %+v, %v wide", s.name(), b, adv)
		}
		if want := f.width("si", s, 100) + adv/10; math.Abs(f.width("si♭", s, 100)-want) > 1e-6 {
			t.Errorf("%s: si♭ is %v wide, want %v", s.name(), f.width("si♭", s, 100), want)
		}
	}
	root := element("g")
	for _, text := range []string{"si♭", "B♭♭", "Etude in B♭ major", "fa♯", "♭"} {
		n := root.add("text", "x", "10", "y", "20", "font-size", "30", "text-anchor", "middle")
		n.text = text
	}
	var l listener // text that is unseen is there to be selected in a PDF
	(&figure{root: root, fonts: f}).draw(&l, identity())
	if got := strings.Join(l.texts, "|"); l.fills != 5 || got != "si|B|Etude in B| major|fa♯" || l.unseenText != "♭♭♭♭♭" {
		t.Errorf("%d signs were drawn, and as text %q", l.fills, got)
	}
}
