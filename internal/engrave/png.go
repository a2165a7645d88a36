package engrave

import (
	"context"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"

	"golang.org/x/image/vector"

	"antiphon/internal/music"
)

// mostPixels of a picture: some 100 MB while it is being made.
const mostPixels = 25_000_000

// PNG engraves the whole score as a picture o.WidthPx wide, black on white.
func (e *Engraver) PNG(ctx context.Context, w io.Writer, s *music.Score, o Options) error {
	o = o.filled()
	units := o.WidthPx / spacePx(o) * space
	l, err := e.drawn(ctx, s, o, units)
	if err != nil {
		return err
	}
	f := l.strip(units)
	k := o.WidthPx / f.width
	height := math.Ceil(f.height * k)
	if height*o.WidthPx > mostPixels {
		return ErrTooTall
	}
	return f.png(w, k, int(o.WidthPx), int(height))
}

func (f *figure) png(w io.Writer, k float64, width, height int) error {
	p := &brush{img: image.NewRGBA(image.Rect(0, 0, width, height)), fonts: f.fonts, ink: image.NewUniform(color.RGBA{0x11, 0x11, 0x11, 0xff})}
	draw.Draw(p.img, p.img.Bounds(), image.White, image.Point{}, draw.Src)
	f.draw(p, affine{a: k, d: k})
	return png.Encode(w, p.img)
}

// brush draws on pixels.
type brush struct {
	img   *image.RGBA
	fonts *fonts
	ink   *image.Uniform
	r     vector.Rasterizer
}

func (b *brush) polygons(list [][]point) {
	all := nothing()
	for _, poly := range list {
		for _, p := range poly {
			all = all.and(box{p.x, p.y, p.x, p.y})
		}
	}
	if all.empty() {
		return
	}
	x0, y0 := int(math.Floor(all.x0)), int(math.Floor(all.y0))
	r := image.Rect(x0, y0, int(math.Ceil(all.x1))+1, int(math.Ceil(all.y1))+1)
	if r = r.Intersect(b.img.Bounds()); r.Empty() {
		return
	}
	b.r.Reset(r.Dx(), r.Dy())
	for _, poly := range list {
		for i, p := range poly {
			x, y := float32(p.x-float64(r.Min.X)), float32(p.y-float64(r.Min.Y))
			if i == 0 {
				b.r.MoveTo(x, y)
			} else {
				b.r.LineTo(x, y)
			}
		}
		b.r.ClosePath()
	}
	b.r.Draw(b.img, r, b.ink, image.Point{})
}

func (b *brush) fill(path []segment, m affine) {
	list, _ := flat(path, m)
	b.polygons(list)
}

// thinnest line in pixels: a thinner one would be pale grey.
const thinnest = 0.8

func (b *brush) stroke(path []segment, m affine, width float64, dash []float64) {
	w := max(width*m.scale(), thinnest) / 2
	lines, closed := flat(path, m)
	for i, line := range lines {
		if closed[i] {
			line = append(line, line[0])
		}
		for _, piece := range dashed(line, dash, m.scale()) {
			for k := 0; k+1 < len(piece); k++ {
				p, q := piece[k], piece[k+1]
				d := math.Hypot(q.x-p.x, q.y-p.y)
				if d == 0 {
					continue
				}
				nx, ny := -(q.y-p.y)/d*w, (q.x-p.x)/d*w
				ex, ey := 0.0, 0.0
				if len(piece) > 2 && k+2 < len(piece) { // a little longer, so that corners close
					ex, ey = (q.x-p.x)/d*w*0.5, (q.y-p.y)/d*w*0.5
				}
				b.polygons([][]point{{{p.x + nx, p.y + ny}, {q.x + nx + ex, q.y + ny + ey}, {q.x - nx + ex, q.y - ny + ey}, {p.x - nx, p.y - ny}}})
			}
		}
	}
}

// dashed cuts a line into its dashes.
func dashed(line []point, dash []float64, scale float64) (out [][]point) {
	if len(dash) < 2 || dash[0] <= 0 || dash[1] <= 0 {
		return [][]point{line}
	}
	on, left := true, dash[0]*scale
	now := []point{line[0]}
	for k := 0; k+1 < len(line); k++ {
		p, q := line[k], line[k+1]
		for d := math.Hypot(q.x-p.x, q.y-p.y); d > 0; {
			step := min(d, left)
			p = point{p.x + (q.x-p.x)*step/d, p.y + (q.y-p.y)*step/d}
			d, left = d-step, left-step
			if on {
				now = append(now, p)
			}
			if left <= 0 {
				if on {
					out = append(out, now)
				}
				on = !on
				now, left = []point{p}, dash[1]*scale
				if on {
					left = dash[0] * scale
				}
			}
		}
	}
	if on && len(now) > 1 {
		out = append(out, now)
	}
	return out
}

func (b *brush) text(s string, st style, size float64, at point, m affine) {
	x := at.x
	for _, r := range s {
		path, advance := b.fonts.outline(r, st)
		k := size / emUnits
		b.fill(path, m.then(affine{k, 0, 0, k, x, at.y}))
		x += advance * k
	}
}

func (b *brush) unseen(string, style, float64, point, affine) {}
