package engrave

import (
	"bytes"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestCard: the words stand in the middle, within the card, on paper.
func TestCard(t *testing.T) {
	if !Available() {
		t.Skip("built without the text font: run make assets")
	}
	for name, c := range map[string]struct {
		title string
		w, h  int
	}{"lying": {"2. Himno de la alegría", 1280, 720}, "standing": {"3. The long title of a piece that has many words", 404, 720}, "endless": {strings.Repeat("word ", 100) + strings.Repeat("x", 300), 320, 240}, "none": {"", 64, 64}} {
		b, err := Card(c.title, c.w, c.h)
		if err != nil {
			t.Fatal(err)
		}
		if dir := os.Getenv("ANTIPHON_SHOW"); dir != "" {
			if err := os.WriteFile(filepath.Join(dir, "card-"+name+".png"), b, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		img, err := png.Decode(bytes.NewReader(b))
		if err != nil || img.Bounds().Dx() != c.w || img.Bounds().Dy() != c.h {
			t.Fatalf("%s: %v, %v", name, img.Bounds(), err)
		}
		x0, x1, y0, y1, ink := c.w, 0, c.h, 0, 0
		for y := range c.h {
			for x := range c.w {
				if dark(img, float64(x), float64(y)) {
					ink++
					x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
				}
			}
		}
		if c.title == "" {
			if ink > 0 {
				t.Errorf("%s: %d dark points", name, ink)
			}
			continue
		}
		if ink < c.w*c.h/500 || x0 < c.w/20 || x1 > c.w-c.w/20 || y0 < c.h/20 || y1 > c.h-c.h/20 {
			t.Errorf("%s: %d dark points from %d,%d to %d,%d of %d by %d", name, ink, x0, y0, x1, y1, c.w, c.h)
		}
		if off := (x0+x1)/2 - c.w/2; off < -c.w/40 || off > c.w/40 {
			t.Errorf("%s: %d to the side", name, off)
		}
	}
}
