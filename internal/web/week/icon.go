package week

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"net/http"
	"strconv"
)

// The colours of tokens.css, for where no style sheet reaches: a phone's home screen.
var (
	paper  = color.RGBA{0xfb, 0xf8, 0xf1, 0xff}
	ink    = color.RGBA{0x21, 0x1e, 0x19, 0xff}
	accent = color.RGBA{0x0d, 0x5c, 0x73, 0xff}
)

// iconSizes are the edges of the icons in pixels that phones ask for.
var iconSizes = []int{180, 192, 512}

// icon is GET /week/icon/{edge}: our own drawing for the home screen.
func (w *week) icon(rw http.ResponseWriter, r *http.Request) {
	edge, err := strconv.Atoi(r.PathValue("edge"))
	drawn, ok := w.icons[edge]
	if err != nil || !ok {
		http.NotFound(rw, r)
		return
	}
	rw.Header().Set("Content-Type", "image/png")
	rw.Header().Set("Cache-Control", "public, max-age=86400")
	rw.Write(drawn()) //nolint:errcheck // the reader has gone: nothing to tell
}

// drawIcon is a guitar between a call and its answer, as PNG. All of it lies in the inner four fifths, so that a phone
// may cut the picture to its own shape.
func drawIcon(edge int) []byte {
	const fine = 4 // points across a pixel
	img := image.NewRGBA(image.Rect(0, 0, edge, edge))
	for y := range edge {
		for x := range edge {
			var sum [3]int
			for i := range fine * fine {
				c := iconAt((float64(x)+(float64(i%fine)+.5)/fine)/float64(edge), (float64(y)+(float64(i/fine)+.5)/fine)/float64(edge))
				sum[0], sum[1], sum[2] = sum[0]+int(c.R), sum[1]+int(c.G), sum[2]+int(c.B)
			}
			img.SetRGBA(x, y, color.RGBA{uint8(sum[0] / (fine * fine)), uint8(sum[1] / (fine * fine)), uint8(sum[2] / (fine * fine)), 0xff})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		panic(err) // a buffer takes everything, and the picture has a size
	}
	return b.Bytes()
}

// iconAt is the colour at a place; x to the right and y down, both from 0 to 1.
func iconAt(x, y float64) color.RGBA {
	around := func(cx, cy float64) float64 { return math.Hypot(x-cx, y-cy) }
	// The call on the left and the answer on the right, each a sixth of a ring.
	const ring, width = .36, .034
	if d := around(.5, .54); math.Abs(d-ring) < width/2 && math.Abs(y-.54) < ring/2 {
		if x < .5 {
			return ink
		}
		return accent
	}
	body := math.Min(around(.5, .5)-.115, around(.5, .67)-.155)
	neck := math.Abs(x-.5) < .024 && y > .17 && y < .5
	head := math.Abs(x-.5) < .042 && y > .13 && y < .2
	switch {
	case around(.5, .57) < .048:
		return paper
	case body < 0, neck, head:
		return ink
	}
	return paper
}
