package week

import (
	"encoding/json"
	"math"
)

// drawn is what a teacher draws on the picture of a take: places are shares of its width and height.
type drawn struct {
	W, H   float64 // of the picture in pixels: they give the angles
	Shapes []struct {
		Kind string
		P    [][2]float64
	}
}

// ends is how many places each shape has.
var ends = map[string]int{"line": 2, "arrow": 2, "angle": 3}

// drawing says what was drawn, for who does not see it; "" where nothing was, or it makes no sense.
func (r *reader) drawing(frame json.RawMessage) (string, error) {
	var d drawn
	if len(frame) == 0 || json.Unmarshal(frame, &d) != nil || d.W <= 0 || d.H <= 0 {
		return "", nil
	}
	var shapes []string
	for _, s := range d.Shapes {
		n := ends[s.Kind]
		if n == 0 || len(s.P) != n {
			return "", nil
		}
		var blanks []any
		if s.Kind == "angle" {
			blanks = append(blanks, int(math.Round(degrees(s.P, d.W, d.H))))
		}
		words, err := r.Say("drawn."+s.Kind, blanks...)
		if err != nil {
			return "", err
		}
		shapes = append(shapes, words)
	}
	if len(shapes) == 0 {
		return "", nil
	}
	return r.Say("take.drawn", r.And(shapes))
}

// degrees at the corner of an angle, 0 to 180: the second of three places on a picture of w by h.
func degrees(p [][2]float64, w, h float64) float64 {
	ux, uy := (p[0][0]-p[1][0])*w, (p[0][1]-p[1][1])*h
	vx, vy := (p[2][0]-p[1][0])*w, (p[2][1]-p[1][1])*h
	return math.Abs(math.Atan2(ux*vy-uy*vx, ux*vx+uy*vy)) * 180 / math.Pi
}
