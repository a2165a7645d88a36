package listen

import (
	"context"
	"errors"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/difficulty"
	"antiphon/internal/guitar"
	"antiphon/internal/hands"
	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/plan/skills"
	"antiphon/internal/pluck"
	"antiphon/internal/studio"
)

// demands works out what scores ask of the hands, for plans, until none is left that changed since. A score that cannot be
// fingered is kept as one of which nothing is known, so that it is not tried again.
func (h *Hands) demands(ctx context.Context, v studio.Viewer) error {
	type way struct {
		work studio.WorkID
		own  studio.FingeringID
	}
	tried := map[way]bool{}
	for {
		works, err := h.desk.Unprofiled(ctx, v)
		if err != nil {
			return err
		}
		works = slices.DeleteFunc(works, func(w studio.Work) bool { return tried[way{w.ID, w.Own}] })
		if len(works) == 0 {
			return h.desk.CountBars(ctx, v) // of hearings from before bars were counted
		}
		for _, w := range works {
			tried[way{w.ID, w.Own}] = true
			if err := errors.Join(ctx.Err(), unlessOver(h.desk.KeepDemand(ctx, v, w, demandOf(w)))); err != nil {
				return err
			}
		}
	}
}

// easiest is the fingering that asks least: in first position and without barre where the piece, with the marks in it,
// can be played so. What a piece needs is what it cannot be played without.
func easiest(s *music.Score) (*hands.Fingering, error) {
	f, err := hands.Finger(s, hands.Options{Skills: hands.Skills{FirstPosition: true, NoBarre: true, NoStretch: true}})
	if err == nil && !slices.ContainsFunc(f.Told, func(t hands.Told) bool { return t.Kind != hands.Assumed && t.Kind != hands.Released }) {
		return f, nil
	}
	return hands.Finger(s, hands.Options{})
}

// strains are what may tire a hand where a drill asks for much of it.
var strains = []string{string(difficulty.SmallBarre), string(difficulty.FullBarre), string(difficulty.Stretching), string(difficulty.FourthFinger)}

// demandOf fingers a score as it stands, with the marks that are in it, and measures that.
func demandOf(w studio.Work) studio.Demand {
	s, _, err := notation.Read(strings.NewReader(w.Score), w.Title, notation.Limits{})
	if err != nil {
		return studio.Demand{Why: "The score cannot be read."}
	}
	dm := studio.Demand{Bars: len(s.Bars)}
	if dm.Bars > 0 {
		dm.LastBar = s.Bars[dm.Bars-1].Number
	}
	dm.Numbers = numbersOf(s)
	f, err := easiest(s)
	if err != nil {
		dm.Why = "There is nothing in this score that could be fingered on a guitar."
		return dm
	}
	f.Write(s)
	places := map[string]guitar.Place{}
	for _, n := range f.Notes {
		if n.Finger >= 0 {
			places[n.ID] = n.Place
		}
	}
	right, err := pluck.Assign(s, places, pluck.Options{Instrument: f.Instrument})
	if err == nil { // without it only the right hand's skills are not known
		for i := range right.Notes {
			if n := &right.Notes[i]; places[n.ID].String == 0 {
				n.Finger, n.Stroke = "", music.NoStroke
			}
		}
		right.Write(s)
	}
	report := difficulty.Profile(s, f.Instrument, guitar.Hand{}, difficulty.Options{})
	dm.Skills, dm.Load = skills.FromProfile(report), report.Load
	dm.Where = whereIn(s, report, dm.Skills)
	dm.Strain = slices.ContainsFunc(dm.Skills, func(x string) bool { return slices.Contains(strains, x) })
	return dm
}

// numbersOf are the numbers of the bars as they are printed; nil where they are 1, 2, 3 and so on.
func numbersOf(s *music.Score) []string {
	var out []string
	plain := true
	for i, b := range s.Bars {
		out = append(out, b.Number)
		plain = plain && b.Number == strconv.Itoa(i+1)
	}
	if plain {
		return nil
	}
	return out
}

// whereIn are the bars that ask each of these skills, as runs: the first and the last bar of each, counted from 0.
func whereIn(s *music.Score, report difficulty.Report, names []string) map[string][]int {
	out := map[string][]int{}
	for _, need := range report.Skills {
		name := string(need.Skill)
		if !slices.Contains(names, name) {
			continue
		}
		var runs []int
		next := 0 // numbers may come twice in a score, and stand here in its order
		for _, number := range need.Bars {
			for next < len(s.Bars) && s.Bars[next].Number != number {
				next++
			}
			if next == len(s.Bars) {
				break
			}
			if n := len(runs); n > 0 && runs[n-1] == next-1 {
				runs[n-1] = next
			} else {
				runs = append(runs, next, next)
			}
			next++
		}
		out[name] = runs
	}
	return out
}
