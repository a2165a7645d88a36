package amend

import (
	"fmt"
	"math"
	"slices"

	"antiphon/internal/ear"
)

// ignore drops all that was heard or missed between two moments: talk, tuning, a sister at the piano.
// A pass that loses its beginning or end becomes shorter; one that loses its middle is two passes no
// more and no less than before, since what was skipped over says nothing.
func (e *editor) ignore(c Correction) (string, error) {
	if c.FromS >= e.h.DurationS && e.h.DurationS > 0 {
		return "", fmt.Errorf("the take is only %s long.", clockTime(e.h.DurationS))
	}
	inside := func(s float64) bool { return s >= c.FromS-1e-9 && s <= c.ToS+1e-9 }
	was := len(e.h.Played) + len(e.h.Missed)
	e.h.Played = slices.DeleteFunc(e.h.Played, func(n ear.Played) bool { return inside(n.OnsetS) })
	e.h.Missed = slices.DeleteFunc(e.h.Missed, func(m ear.Missed) bool { return inside(m.ExpectedS) })
	dropped := was - len(e.h.Played) - len(e.h.Missed)
	e.pulse = e.pulse || dropped > 0
	if dropped > 0 {
		e.trim()
	}
	said := fmt.Sprintf("From %s to %s nothing counts", clockTime(c.FromS), clockTime(c.ToS))
	switch dropped {
	case 0:
		said += "; nothing had been heard there"
	case 1:
		said += "; one note was dropped"
	default:
		said += fmt.Sprintf("; %d notes were dropped", dropped)
	}
	return said + ".", nil
}

// trim makes the passes as long as what is left of them, and mends the jumps between them.
func (e *editor) trim() {
	first, last := map[int]*ear.Played{}, map[int]*ear.Played{}
	for i := range e.h.Played {
		n := &e.h.Played[i]
		if n.Note < 0 {
			continue
		}
		if first[n.Pass] == nil {
			first[n.Pass] = n
		}
		last[n.Pass] = n
	}
	var passes []ear.Pass
	shorter := map[int]bool{}
	for _, p := range e.h.Passes {
		a, b := first[p.N], last[p.N]
		if a == nil {
			continue
		}
		if a.OnsetS > p.StartS+1e-3 {
			p.StartS, p.FromBar, shorter[p.N] = a.OnsetS, e.h.Score[a.Note].Bar, true
		}
		if b.OnsetS < p.EndS-1e-3 {
			p.EndS, p.ToBar, shorter[p.N] = b.OnsetS, e.h.Score[b.Note].Bar, true
		}
		p.Complete = p.Complete && !shorter[p.N]
		passes = append(passes, p)
	}
	e.h.Played = slices.DeleteFunc(e.h.Played, func(n ear.Played) bool { return first[n.Pass] == nil })
	e.h.Missed = slices.DeleteFunc(e.h.Missed, func(m ear.Missed) bool {
		a := first[m.Pass]
		return a == nil || m.ExpectedS < a.OnsetS-1 || m.ExpectedS > last[m.Pass].OnsetS+1
	})
	var jumps []ear.Jump
	for i := 1; i < len(passes); i++ {
		a, b := passes[i-1], passes[i]
		if j, ok := e.jumpBetween(a, b); ok {
			jumps = append(jumps, j)
			continue
		}
		if j, ok := e.newJump(a, b, last[a.N], first[b.N]); ok {
			jumps = append(jumps, j)
		}
	}
	e.h.Passes, e.h.Jumps = passes, jumps
}

// jumpBetween is the jump that was heard from one pass into the next.
func (e *editor) jumpBetween(a, b ear.Pass) (ear.Jump, bool) {
	for _, j := range e.h.Jumps {
		if math.Abs(j.ResumeS-b.StartS) < 0.5 && math.Abs(j.StopS-a.EndS) < 0.5 {
			return j, true
		}
	}
	return ear.Jump{}, false
}

// newJump tells how the player came from one pass to a later one when what lay between does not count;
// ok is false where the music simply went on.
func (e *editor) newJump(a, b ear.Pass, last, first *ear.Played) (ear.Jump, bool) {
	j := ear.Jump{FromBar: a.ToBar, ToBar: b.FromBar, StopS: a.EndS, ResumeS: b.StartS, Confidence: 1}
	from, to := e.h.Score[last.Note], e.h.Score[first.Note]
	switch {
	case to.Onset.Cmp(from.Onset) <= 0:
		j.Kind = ear.Restart
	case to.BarIndex > from.BarIndex+1:
		j.Kind = ear.Skip
	default:
		return j, false
	}
	return j, true
}

// noRestart takes a restart back. Where the next pass goes on behind the place of the stop, the two are
// one pass; else they stay two, since the same notes were played again, and the ear is to seek another way.
func (e *editor) noRestart(c Correction, r *Result) (string, error) {
	best, far := -1, 0.5
	for i, j := range e.h.Jumps {
		if d := math.Abs(j.ResumeS - c.AtS); j.Kind == ear.Restart && d < far {
			best, far = i, d
		}
	}
	if best < 0 {
		return fmt.Sprintf("At %s nobody went back, as it is heard.", clockTime(c.AtS)), nil
	}
	j := e.h.Jumps[best]
	e.h.Jumps = slices.Delete(e.h.Jumps, best, best+1)
	said := fmt.Sprintf("At %s it was no restart", clockTime(j.ResumeS))
	for i := 1; i < len(e.h.Passes); i++ {
		a, b := &e.h.Passes[i-1], e.h.Passes[i]
		if math.Abs(b.StartS-j.ResumeS) > 0.5 || !e.goesOn(a.N, b.N) {
			continue
		}
		a.EndS, a.ToBar = b.EndS, b.ToBar
		a.Complete = false
		for k := range e.h.Played {
			if e.h.Played[k].Pass == b.N {
				e.h.Played[k].Pass = a.N
			}
		}
		for k := range e.h.Missed {
			if e.h.Missed[k].Pass == b.N {
				e.h.Missed[k].Pass = a.N
			}
		}
		e.h.Passes = slices.Delete(e.h.Passes, i, i+1)
		e.pulse = true
		return said + "; the two passes are one.", nil
	}
	if h, err := hint(e.score, c); err == nil {
		r.Hints = append(r.Hints, h)
	}
	return said + ": the take is heard once more with that.", nil
}

// goesOn reports whether every written note of pass b comes after those of pass a.
func (e *editor) goesOn(a, b int) bool {
	lastA, firstB := math.Inf(-1), math.Inf(1)
	for _, n := range e.h.Played {
		if n.Note < 0 {
			continue
		}
		q := e.h.Score[n.Note].Onset.Q()
		switch n.Pass {
		case a:
			lastA = max(lastA, q)
		case b:
			firstB = min(firstB, q)
		}
	}
	return firstB > lastA
}
