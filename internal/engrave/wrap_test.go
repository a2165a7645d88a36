package engrave

import (
	"context"
	"errors"
	"regexp"
	"strings"
	"testing"

	"antiphon/internal/music"
)

// TestWrapped: nothing is lost, no line is too wide unless it is one word, and there is no line more
// than needed.
func TestWrapped(t *testing.T) {
	f, err := openFonts()
	if errors.Is(err, ErrNoLibrary) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	const text = "Andante con molto espressivo e sempre rubato, quasi improvvisando"
	for _, width := range []float64{1, 100, 150, 220, 300, 400, 1000} {
		lines := f.wrapped(text, regular, 20, width)
		if got := strings.Join(lines, " "); got != text {
			t.Errorf("%v wide: %q", width, got)
		}
		sum := 0.0
		for _, l := range lines {
			w := f.width(l, regular, 20)
			sum += w
			if w > width && strings.Contains(l, " ") {
				t.Errorf("%q is %.0f wide, and may be %.0f", l, w, width)
			}
		}
		if width >= 220 && float64(len(lines)-1)*width > sum*1.25 {
			t.Errorf("%v wide: %d lines", width, len(lines))
		}
	}
}

// TestLongHeadings: title, composer, heading and words stay on a phone's page, however long they are.
func TestLongHeadings(t *testing.T) {
	e := engraver(t)
	s := *samples(t)["round"]
	long := strings.Repeat("an exceedingly long line of words ", 4)
	s.Title, s.Composer = "Title: "+long, "By "+long
	s.Parts = []music.Part{s.Parts[0]}
	s.Parts[0].Directions = append([]music.Direction{{Kind: music.Words, Text: "Heading: " + long, Placed: "above"}, {Kind: music.Words, Text: "play " + long, Placed: "below"}}, s.Parts[0].Directions...)
	svg, err := e.SVG(context.Background(), &s, Options{WidthPx: 390})
	if err != nil {
		t.Fatal(err)
	}
	p := readPicture(t, svg, e.fonts)
	view := numbers(regexp.MustCompile(`viewBox="([^"]+)"`).FindStringSubmatch(svg)[1])
	for _, word := range []string{"Title:", "By", "Heading:", "play"} {
		if !strings.Contains(svg, word) {
			t.Errorf("%q is not on the page", word)
		}
	}
	seen := 0
	for _, m := range p.things {
		if m.text == "" {
			continue
		}
		seen++
		for _, b := range m.boxes {
			if b.x0 < view[0]-1 || b.x1 > view[0]+view[2]+1 {
				t.Errorf("%q reaches from %.0f to %.0f on a page from %.0f to %.0f", m.text, b.x0, b.x1, view[0], view[0]+view[2])
			}
		}
	}
	if seen < 30 {
		t.Errorf("only %d texts were looked at", seen)
	}
}
