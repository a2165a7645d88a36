package engrave

import (
	"math"
	"strconv"

	"antiphon/internal/music"
)

// metronomeNote draws the note of a metronome mark, its left edge at 0 on the baseline of the text.
func metronomeNote(unit music.Beats) *ink {
	name, dots := noteName(unit)
	if name == "" {
		return nil
	}
	const rx, ry = 0.56 * space, 0.38 * space
	head := tilted(rx, ry, -ry)
	k := &ink{kind: "tempo", box: union(pathBoxes(parsePath(head), identity(), 0))}
	hollow := name == "half" || name == "whole"
	if hollow {
		k.draw = append(k.draw, element("path", "d", head, "fill", "none", "stroke", "currentColor", "stroke-width", "34"))
		k.box = k.box.grown(17, 17)
	} else {
		k.draw = append(k.draw, element("path", "d", head, "stroke", "none"))
	}
	right := k.box.x1
	if name != "whole" {
		x, top := k.box.x1-10, -2.75*space
		stem := lineInk("", point{x, -ry * 1.1}, point{x, top}, 20, "")
		k.draw = append(k.draw, stem.draw...)
		k.box = k.box.and(stem.box)
		flags := map[string]int{"eighth": 1, "16th": 2, "32nd": 3}[name]
		for i := range flags {
			y := top + float64(i)*0.62*space
			d := "M" + num(x) + " " + num(y) + "C" + num(x) + " " + num(y+0.6*space) + " " + num(x+0.85*space) + " " + num(y+0.8*space) + " " + num(x+0.6*space) + " " + num(y+1.65*space) +
				"C" + num(x+0.75*space) + " " + num(y+0.95*space) + " " + num(x+0.2*space) + " " + num(y+0.75*space) + " " + num(x) + " " + num(y+0.6*space) + "Z"
			k.draw = append(k.draw, element("path", "d", d, "stroke", "none"))
			k.box = k.box.and(union(pathBoxes(parsePath(d), identity(), 0)))
		}
		if flags > 0 {
			right = k.box.x1
		}
	}
	for i := range dots {
		cx := right + (0.42+0.45*float64(i))*space
		k.draw = append(k.draw, element("circle", "cx", num(cx), "cy", num(-ry), "r", "32"))
		k.box = k.box.and(box{cx - 32, -ry - 32, cx + 32, -ry + 32})
	}
	return k
}

// tilted is an ellipse round 0, cy that leans like a note head, as four curves.
func tilted(rx, ry, cy float64) string {
	const lean, k = -22 * math.Pi / 180, 0.5523
	sin, cos := math.Sincos(lean)
	at := func(x, y float64) string { return num(x*cos-y*sin) + " " + num(x*sin+y*cos+cy) }
	return "M" + at(rx, 0) + "C" + at(rx, k*ry) + " " + at(k*rx, ry) + " " + at(0, ry) +
		"C" + at(-k*rx, ry) + " " + at(-rx, k*ry) + " " + at(-rx, 0) +
		"C" + at(-rx, -k*ry) + " " + at(-k*rx, -ry) + " " + at(0, -ry) +
		"C" + at(k*rx, -ry) + " " + at(rx, -k*ry) + " " + at(rx, 0) + "Z"
}

// noteName is the note, with its dots, that has a length.
func noteName(b music.Beats) (string, int) {
	num, den := b.Fraction()
	for i, name := range []string{"whole", "half", "quarter", "eighth", "16th", "32nd"} {
		whole := music.Quarters(4, int64(1)<<i)
		for dots := range 3 {
			if l := whole.Mul(int64(1)<<(dots+1)-1, int64(1)<<dots); l.Cmp(music.Quarters(num, den)) == 0 {
				return name, dots
			}
		}
	}
	return "", 0
}

func px(v float64) string { return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64) }
