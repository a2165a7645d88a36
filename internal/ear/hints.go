package ear

import (
	"errors"
	"fmt"
	"math"
	"sort"
)

// Hint is something that a listener knows better than the ear. The way through the score is sought once more
// under it; what is heard of single notes stays as it is.
type Hint struct {
	Kind HintKind
	AtS  float64 // second of the take
	Bar  int     // index into Score.Bars; for RestartHere -1 where the bar is not known; for NoJump without meaning
}

// HintKind says what a listener knows.
type HintKind string

const (
	BarHere     HintKind = "bar-here"     // what begins at this moment belongs to this bar
	NoJump      HintKind = "no-jump"      // no restart, skip or repeat here: AtS is where one was said to resume
	RestartHere HintKind = "restart-here" // the player went back, and goes on from this moment
)

// ErrHint is returned for a hint that the score or the take has no place for.
var ErrHint = errors.New("the hint has no place")

const (
	hintPrice  = 30.0 // more than any leap and what it leaves unexplained
	hintReachS = 0.4  // a hint is about the nearest clear stroke within this, or else the nearest of all
	noJumpS    = 1.5  // within so many seconds of a hint that says so nobody jumps
	hintBeam   = 40.0 // a way that a hint will favour must not be given up before
)

// guide is what hints say about strokes; nil says nothing.
type guide struct {
	bar     map[int]int  // stroke to bar
	restart map[int]bool // strokes that a restart leads to
	noJump  []bool       // by stroke
}

// newGuide finds the strokes that hints are about.
func newGuide(hints []Hint, r *route, strokes []stroke) (*guide, error) {
	if len(hints) == 0 {
		return nil, nil
	}
	g := &guide{bar: map[int]int{}, restart: map[int]bool{}, noJump: make([]bool, len(strokes))}
	for _, h := range hints {
		if h.Kind == BarHere || h.Kind == RestartHere && h.Bar >= 0 {
			if !r.hasMoment(h.Bar) {
				return nil, fmt.Errorf("%w: bar %d of %d has no note to begin with", ErrHint, h.Bar+1, len(r.score.Bars))
			}
		}
		c := nearestStroke(strokes, h.AtS)
		if c < 0 || math.IsNaN(h.AtS) {
			return nil, fmt.Errorf("%w: nothing was played near %.1f s", ErrHint, h.AtS)
		}
		switch h.Kind {
		case BarHere:
			g.bar[c] = h.Bar
		case RestartHere:
			g.restart[c] = true
			if h.Bar >= 0 {
				g.bar[c] = h.Bar
			}
		case NoJump:
			for i := range strokes {
				if math.Abs(strokes[i].s-h.AtS) <= noJumpS {
					g.noJump[i] = true
				}
			}
		default:
			return nil, fmt.Errorf("%w: there is no kind %q", ErrHint, h.Kind)
		}
	}
	return g, nil
}

func (r *route) hasMoment(bar int) bool {
	i := sort.Search(len(r.moments), func(i int) bool { return r.moments[i].bar >= bar })
	return i < len(r.moments) && r.moments[i].bar == bar
}

// nearestStroke is the clear stroke nearest to a second, -1 where there is no stroke.
func nearestStroke(strokes []stroke, s float64) int {
	best, clear := -1, -1
	for i := range strokes {
		d := math.Abs(strokes[i].s - s)
		if best < 0 || d < math.Abs(strokes[best].s-s) {
			best = i
		}
		if strokes[i].clear > clearStroke && d <= hintReachS && (clear < 0 || d < math.Abs(strokes[clear].s-s)) {
			clear = i
		}
	}
	if clear >= 0 {
		return clear
	}
	return best
}

// placed is what hints give for a stroke being a moment of a bar.
func (g *guide) placed(c, bar int) float64 {
	if g == nil {
		return 0
	}
	switch want, ok := g.bar[c]; {
	case !ok:
		return 0
	case want == bar:
		return hintPrice
	}
	return -hintPrice
}

// jumped is what hints give for arriving at a stroke by a jump, back or onwards.
func (g *guide) jumped(c int, back bool) float64 {
	switch {
	case g == nil:
		return 0
	case g.noJump[c]:
		return -hintPrice
	case back && g.restart[c]:
		return hintPrice
	}
	return 0
}

func (g *guide) beam() float64 {
	if g == nil {
		return beamWidth
	}
	return hintBeam
}

// sureOf makes the jumps certain that a hint has told.
func (h *Hearing) sureOf(hints []Hint) {
	for _, k := range hints {
		for i := range h.Jumps {
			if k.Kind == RestartHere && math.Abs(h.Jumps[i].ResumeS-k.AtS) <= hintReachS {
				h.Jumps[i].Confidence = 1
			}
		}
	}
}
