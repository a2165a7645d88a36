package amend

import (
	"fmt"
	"math"
	"slices"

	"antiphon/internal/ear"
	"antiphon/internal/music"
)

// Hints are what corrections tell the ear when the take is heard once more, in order of time. Bars that the
// score has not are left out; Apply tells them.
func Hints(score *music.Score, corrections []Correction) []ear.Hint {
	var out []ear.Hint
	for _, c := range corrections {
		if h, err := hint(score, c); err == nil && h.Kind != "" {
			out = append(out, h)
		}
	}
	slices.SortStableFunc(out, func(a, b ear.Hint) int { return order(a.AtS, b.AtS) })
	return out
}

// hint is what one correction tells the ear; of no kind where it tells nothing.
func hint(score *music.Score, c Correction) (ear.Hint, error) {
	h := ear.Hint{AtS: c.AtS, Bar: -1}
	switch c.Kind {
	case NoRestart:
		h.Kind = ear.NoJump
	case ThisIsBar:
		h.Kind = ear.BarHere
	case RestartHere:
		h.Kind = ear.RestartHere
	}
	if c.Bar != "" {
		if h.Bar = barIndex(score, c.Bar); h.Bar < 0 {
			return h, fmt.Errorf("this score has no bar %s.", c.Bar)
		}
	}
	return h, nil
}

// heeds reports whether the hearing says already what a hint says, as it does after the second hearing.
func (e *editor) heeds(h ear.Hint) bool {
	if h.Kind == ear.RestartHere {
		return slices.ContainsFunc(e.h.Jumps, func(j ear.Jump) bool {
			return j.Kind == ear.Restart && math.Abs(j.ResumeS-h.AtS) < 0.5 && (h.Bar < 0 || barIndex(e.score, j.ToBar) == h.Bar)
		})
	}
	bar, far := -1, 0.5
	for _, n := range e.h.Played {
		if d := math.Abs(n.OnsetS - h.AtS); n.Note >= 0 && d < far {
			bar, far = e.h.Score[n.Note].BarIndex, d
		}
	}
	return bar == h.Bar
}
