// Package skills says what a student is ready for, what stands between the student and a work, and what
// would build it.
//
// Needs come from what a work's fingering asks (difficulty) and can be edited by the teacher; a missing
// skill is a gap in the way, never a verdict on hands. It knows no clock.
package skills

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"antiphon/internal/difficulty"
	"antiphon/internal/plan/memory"
)

// Work is a work or an exercise, as far as the way to it matters.
type Work struct {
	ID     string
	Title  string
	Needs  []string // skills
	Builds []string // skills that it trains
	After  []string // ids of works that must be known before
	Load   float64  // how much it asks; the least is chosen first
}

// FromProfile lists the skills that a fingered score asks, those asked in one bar in twenty or more, or in two bars of
// a short one: a single odd bar is a place to help with, not a reason to wait.
func FromProfile(r difficulty.Report) []string {
	var out []string
	for _, n := range r.Skills {
		if len(n.Bars) >= 2 && 20*len(n.Bars) >= len(r.Bars) {
			out = append(out, string(n.Skill))
		}
	}
	return out
}

// Student is what a student can do.
type Student struct {
	Chance  map[string]float64 // that a skill is known; from memory.Mastered on it counts
	Played  map[string]bool    // works that are or were learnt, by id
	Without map[string]bool    // skills that these hands do not have and need not get: an injury, a small hand
}

func (s Student) knows(skill string) bool { return s.Chance[skill] >= memory.Mastered }

// Missing lists in words what is in the way of a work; nothing: the student is ready.
func Missing(w Work, s Student, title func(id string) string) []string {
	var out []string
	for _, n := range w.Needs {
		switch {
		case s.Without[n]:
			out = append(out, n+", which is left out for these hands")
		case !s.knows(n):
			out = append(out, n)
		}
	}
	for _, a := range w.After {
		if !s.Played[a] {
			out = append(out, title(a))
		}
	}
	return out
}

// Step is one work on the way to another.
type Step struct {
	Work   string   // id
	Builds []string // what of the missing it is there for; none: it must be known before
}

// Errors of a way.
var (
	ErrUnknown = errors.New("no such work")
	ErrCircle  = errors.New("works that come after each other in a circle")
)

// Way is what stands between a student and a work.
type Way struct {
	Steps   []Step   // in an order in which they can be learnt; the work itself is not among them
	Nothing []string // missing skills that no work builds
	Closed  []string // skills that the work needs and these hands do without: see Instead
}

// Shelf is all that can be asked.
type Shelf struct {
	works []Work
	at    map[string]int
}

// NewShelf refuses works that wait for each other in a circle, or for one that is not there.
func NewShelf(works []Work) (*Shelf, error) {
	s := &Shelf{works: works, at: map[string]int{}}
	for i, w := range works {
		s.at[w.ID] = i
	}
	state := make([]int, len(works))
	var visit func(i int, way []string) error
	visit = func(i int, way []string) error {
		way = append(way, works[i].ID)
		if state[i] == 1 {
			return fmt.Errorf("%w: %s", ErrCircle, strings.Join(way, " after "))
		}
		if state[i] == 2 {
			return nil
		}
		state[i] = 1
		for _, a := range works[i].After {
			k, ok := s.at[a]
			if !ok {
				return fmt.Errorf("%w: %s, after which %s comes", ErrUnknown, a, works[i].ID)
			}
			if err := visit(k, way); err != nil {
				return err
			}
		}
		state[i] = 2
		return nil
	}
	for i := range works {
		if err := visit(i, nil); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// Title of a work; its id where it has none.
func (s *Shelf) Title(id string) string {
	if i, ok := s.at[id]; ok && s.works[i].Title != "" {
		return s.works[i].Title
	}
	return id
}

// Ready lists the works that a student has not played and is ready for, the least demanding first.
func (s *Shelf) Ready(st Student) []Work {
	var out []Work
	for _, w := range s.works {
		if !st.Played[w.ID] && len(Missing(w, st, s.Title)) == 0 {
			out = append(out, w)
		}
	}
	slices.SortStableFunc(out, func(a, b Work) int { return cmp.Compare(a.Load, b.Load) })
	return out
}

// Between finds the way to a work: for every missing skill the least demanding work that builds it and can be reached
// itself, and the works that come before.
func (s *Shelf) Between(id string, st Student) (Way, error) {
	i, ok := s.at[id]
	if !ok {
		return Way{}, fmt.Errorf("%w: %s", ErrUnknown, id)
	}
	var way Way
	w := &walk{s, st, map[string]bool{}, map[int]bool{}, map[string]bool{}, &way}
	for _, n := range s.works[i].Needs {
		if st.Without[n] {
			way.Closed = append(way.Closed, n)
		}
	}
	w.before(i)
	return way, nil
}

type walk struct {
	s       *Shelf
	st      Student
	built   map[string]bool // skills that the way builds already
	on      map[int]bool    // works on the way, or being looked at
	nothing map[string]bool
	way     *Way
}

// before puts on the way all that a work needs.
func (w *walk) before(i int) {
	work := &w.s.works[i]
	w.on[i] = true
	for _, a := range work.After {
		if k := w.s.at[a]; !w.st.Played[a] && !w.on[k] {
			w.before(k)
			w.way.Steps = append(w.way.Steps, Step{Work: a})
		}
	}
	for _, n := range work.Needs {
		if w.st.knows(n) || w.built[n] || w.st.Without[n] || w.nothing[n] {
			continue
		}
		k := w.builder(n)
		if k < 0 {
			w.nothing[n] = true
			w.way.Nothing = append(w.way.Nothing, n)
			continue
		}
		w.before(k)
		w.built[n] = true
		w.way.Steps = append(w.way.Steps, Step{Work: w.s.works[k].ID, Builds: []string{n}})
	}
}

// builder is the least demanding work that builds a skill without needing it, and is not on the way.
func (w *walk) builder(skill string) int {
	best := -1
	for i := range w.s.works {
		c := &w.s.works[i]
		if w.on[i] || !slices.Contains(c.Builds, skill) || slices.Contains(c.Needs, skill) {
			continue
		}
		if slices.ContainsFunc(c.Needs, func(n string) bool { return w.st.Without[n] }) {
			continue
		}
		if best < 0 || w.missing(i) < w.missing(best) || w.missing(i) == w.missing(best) && c.Load < w.s.works[best].Load {
			best = i
		}
	}
	return best
}

func (w *walk) missing(i int) int { return len(Missing(w.s.works[i], w.st, w.s.Title)) }

// Instead lists works for hands that do without what a work needs: those that need none of it, nearest in load first.
func (s *Shelf) Instead(id string, st Student) []Work {
	i, ok := s.at[id]
	if !ok {
		return nil
	}
	var out []Work
	for _, w := range s.works {
		if w.ID != id && !st.Played[w.ID] && !slices.ContainsFunc(w.Needs, func(n string) bool { return st.Without[n] }) {
			out = append(out, w)
		}
	}
	off := func(w Work) float64 { return max(w.Load-s.works[i].Load, s.works[i].Load-w.Load) }
	slices.SortStableFunc(out, func(a, b Work) int { return cmp.Compare(off(a), off(b)) })
	return out
}
