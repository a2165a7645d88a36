package engrave

import (
	"bytes"
	"compress/zlib"
	"context"
	"errors"
	"image"
	"image/png"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf16"
)

// unpacked is a PDF with its streams inflated.
func unpacked(t *testing.T, pdf []byte) string {
	t.Helper()
	var b strings.Builder
	for _, part := range bytes.Split(pdf, []byte("endstream")) {
		head, stream, ok := bytes.Cut(part, []byte("stream\n"))
		b.Write(head)
		if !ok {
			continue
		}
		if z, err := zlib.NewReader(bytes.NewReader(stream)); err == nil {
			data, err := io.ReadAll(z)
			if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
				t.Fatal(err)
			}
			b.Write(data)
		} else {
			b.Write(stream)
		}
	}
	return b.String()
}

// utf16be is a text as a PDF with Identity-H fonts has it.
func utf16be(s string) string {
	var b []byte
	for _, u := range utf16.Encode([]rune(s)) {
		b = append(b, byte(u>>8), byte(u))
	}
	return string(b)
}

func TestPDF(t *testing.T) {
	e := engraver(t)
	for _, c := range []struct {
		paper          Paper
		widthPt, higPt float64
		source         string
	}{
		{A4(), 595.28, 841.89, "ISO 216: 210 by 297 mm, at 72 points an inch"},
		{Letter(), 612, 792, "ANSI/ASME Y14.1: 8.5 by 11 inches"},
	} {
		var b bytes.Buffer
		made := time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC)
		s := bars(samples(t)["study"], 60)
		if err := e.PDF(context.Background(), &b, s, Options{Paper: c.paper, Tab: TabShown, Made: made}); err != nil {
			t.Fatal(err)
		}
		pdf := unpacked(t, b.Bytes())
		box := regexp.MustCompile(`/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]`).FindStringSubmatch(pdf)
		if box == nil {
			t.Fatalf("%s: no MediaBox", c.paper.Name)
		}
		w, _ := strconv.ParseFloat(box[1], 64)
		h, _ := strconv.ParseFloat(box[2], 64)
		if w < c.widthPt-0.5 || w > c.widthPt+0.5 || h < c.higPt-0.5 || h > c.higPt+0.5 {
			t.Errorf("%s is %v by %v points, want %v by %v (%s)", c.paper.Name, w, h, c.widthPt, c.higPt, c.source)
		}
		if n := strings.Count(pdf, "/Type /Page\n"); n < 3 || n > 8 {
			t.Errorf("60 bars with tablature take %d pages", n)
		}
		for _, want := range []string{"/FontFile2", "/ToUnicode", "/Identity-H"} {
			if !strings.Contains(pdf, want) {
				t.Errorf("%s: the fonts are not embedded with a way back to text: no %s", c.paper.Name, want)
			}
		}
		for _, text := range []string{s.Title, "rit.", "72"} {
			if !strings.Contains(strings.NewReplacer(`\(`, "(", `\)`, ")").Replace(pdf), utf16be(text)) {
				t.Errorf("%s: %q cannot be selected", c.paper.Name, text)
			}
		}
		var again bytes.Buffer
		if err := e.PDF(context.Background(), &again, s, Options{Paper: c.paper, Tab: TabShown, Made: made}); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(b.Bytes(), again.Bytes()) {
			t.Errorf("%s: the same score gives other bytes the second time", c.paper.Name)
		}
	}
}

// TestPNG looks for ink where the SVG has note heads, and for none in the margins.
func TestPNG(t *testing.T) {
	e := engraver(t)
	s := samples(t)["round"]
	o := Options{WidthPx: 900}
	svg, err := e.SVG(context.Background(), s, o)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := e.PNG(context.Background(), &b, s, o); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	if img.Bounds().Dx() != 900 {
		t.Errorf("the picture is %d pixels wide", img.Bounds().Dx())
	}
	view := numbers(regexp.MustCompile(`viewBox="([^"]+)"`).FindStringSubmatch(svg)[1])
	k := 900 / view[2]
	heads := 0
	for _, h := range readPicture(t, svg, e.fonts).things {
		if h.kind != "head" {
			continue
		}
		heads++
		c := h.boxes[0]
		if !dark(img, c.midX()*k, c.midY()*k) && !dark(img, (c.x0+0.15*c.width())*k, c.midY()*k) {
			t.Errorf("no ink at the head of %s", h.note)
		}
	}
	if heads < 50 {
		t.Errorf("only %d heads were looked at", heads)
	}
	for x := range 900 {
		if dark(img, float64(x), 0) || dark(img, float64(x), float64(img.Bounds().Dy()-1)) {
			t.Fatalf("ink at the edge, x = %d", x)
		}
	}
}

func dark(img image.Image, x, y float64) bool {
	r, g, b, _ := img.At(int(x), int(y)).RGBA()
	return r+g+b < 3*0x6000
}

func TestTooTall(t *testing.T) {
	e := engraver(t)
	err := e.PNG(context.Background(), io.Discard, bars(samples(t)["study"], 300), Options{WidthPx: 3000, Scale: 3})
	if !errors.Is(err, ErrTooTall) {
		t.Errorf("got %v, want ErrTooTall", err)
	}
}

// TestOverlay: what is laid over the score is bound to its notes, says in words what it shows, and
// touches no mark.
func TestOverlay(t *testing.T) {
	e := engraver(t)
	s := samples(t)["round"]
	over := []Overlay{
		{Note: "n1", Kind: Tick, Early: 0.6, Text: "40 ms early", Role: "early"}, {Note: "n2", Kind: Ring, Dashed: true, Text: "not heard", Role: "missed"},
		{Note: "n3", Kind: Label, Text: `F♯ <heard> & "said"`, Role: `x" onload="y`}, {Note: "n4", Kind: Tick, Early: -0.6}, {Note: "nobody", Kind: Ring},
	}
	svg, err := e.SVG(context.Background(), s, Options{Overlay: over})
	if err != nil {
		t.Fatal(err)
	}
	p := readPicture(t, svg, e.fonts)
	for _, c := range p.collisions() {
		if !strings.HasPrefix(c, "thread") && !strings.Contains(c, "touches thread") { // ticks stand on their thread
			t.Error(c)
		}
	}
	for _, want := range []string{`class="overlay ring missed" data-note="n2"><title>not heard</title>`, "stroke-dasharray", `class="overlay tick early" data-note="n1"><title>40 ms early</title>`,
		`class="overlay text xonloady"`, "F♯ &lt;heard&gt; &amp; &quot;said&quot;"} {
		if !strings.Contains(svg, want) {
			t.Errorf("no %s in the picture", want)
		}
	}
	if strings.Contains(svg, "nobody") {
		t.Error("an overlay of a note that does not exist was drawn")
	}
}

// TestPrefix: with a prefix, two scores can stand in one page.
func TestPrefix(t *testing.T) {
	e := engraver(t)
	svg, err := e.SVG(context.Background(), samples(t)["round"], Options{Prefix: "left-", Tab: TabShown})
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range regexp.MustCompile(` (?:id|href)="([^"]+)"`).FindAllStringSubmatch(svg, -1) {
		if !strings.HasPrefix(strings.TrimPrefix(m[1], "#"), "left-") {
			t.Errorf("%s has no prefix", m[0])
		}
	}
	var b bytes.Buffer
	if err := e.PNG(context.Background(), &b, samples(t)["round"], Options{Prefix: "E-", Tab: TabShown}); err != nil {
		t.Fatal(err)
	}
	var plain bytes.Buffer
	if err := e.PNG(context.Background(), &plain, samples(t)["round"], Options{Tab: TabShown}); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(b.Bytes(), plain.Bytes()) {
		t.Error("a prefix changes the picture")
	}
}

// TestLicencesTravel: whatever is embedded has its licence embedded with it, library or not.
func TestLicencesTravel(t *testing.T) {
	var b strings.Builder
	if err := Licences(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"GNU LESSER GENERAL PUBLIC LICENSE", "GNU GENERAL PUBLIC LICENSE", "SIL OPEN FONT LICENSE Version 1.1", "Reserved Font Name \"Leipzig\"",
		"The Tinos Project Authors", "https://github.com/rism-digital/verovio", "--engraver"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the licences do not have %q", want)
		}
	}
}
