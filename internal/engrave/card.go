package engrave

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
)

// mostCardText is what a card shows of a text, in characters.
const mostCardText = 200

// Card is a title in ink on paper, as a PNG of that size: what is shown while something only sounds. It
// needs no engraving library, only the text font.
func Card(title string, widthPx, heightPx int) ([]byte, error) {
	f, err := openFonts()
	if err != nil {
		return nil, err
	}
	if r := []rune(title); len(r) > mostCardText {
		title = string(r[:mostCardText]) + "…"
	}
	b := &brush{img: image.NewRGBA(image.Rect(0, 0, max(2, widthPx), max(2, heightPx))), fonts: f, ink: image.NewUniform(color.RGBA{0x1f, 0x1d, 0x1a, 0xff})}
	draw.Draw(b.img, b.img.Bounds(), image.NewUniform(color.RGBA{0xf7, 0xf4, 0xec, 0xff}), image.Point{}, draw.Src)
	w, h := float64(widthPx), float64(heightPx)
	size := min(w/14, h/9)
	lines := f.wrapped(title, regular, size, 0.8*w)
	for n := len(lines); n > 1 && float64(n)*1.25*size > 0.7*h; n = len(lines) {
		size *= 0.8
		lines = f.wrapped(title, regular, size, 0.8*w)
	}
	for _, l := range lines { // a word that is wider than the card
		if wide := f.width(l, regular, size); wide > 0.9*w {
			size *= 0.9 * w / wide
		}
	}
	y := (h-float64(len(lines)-1)*1.25*size)/2 + 0.33*size
	for _, l := range lines {
		b.text(l, regular, size, point{(w - f.width(l, regular, size)) / 2, y}, identity())
		y += 1.25 * size
	}
	var out bytes.Buffer
	if err := png.Encode(&out, b.img); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}
