package hands

import (
	"slices"

	"antiphon/internal/hands/grip"
	"antiphon/internal/music"
	"antiphon/internal/playable"
)

// mostRounds: so often an answer is worked out anew around what the checker rejects.
const mostRounds = 3

// solveChecked solves, shows the answer to the independent checker, and where that finds something that
// no hand can do, forbids the note there to be taken so and solves again. The answer with the fewest
// such faults is kept, and what is left of them is told.
func solveChecked(s *music.Score, j *job, model *grip.Model, o Options, sounding []music.Sounding, written [][]music.NoteRef) *solved {
	var best *solved
	least := 0
	for range mostRounds {
		v := solve(j, model, o)
		v.faults = v.check(s, o, sounding, written)
		bad := slices.DeleteFunc(slices.Clone(v.faults), func(x playable.Fault) bool {
			return x.Level != playable.Impossible || x.Kind == playable.BrokenLimit
		})
		if best == nil || len(bad) < least {
			best, least = v, len(bad)
		}
		if len(bad) == 0 {
			break
		}
		for _, x := range bad {
			for k, of := range j.of {
				if n := &j.notes[k]; n.Ask == grip.Free() && slices.ContainsFunc(of, func(i int) bool { return sounding[i].ID == x.Notes[0] }) {
					n.Forbid = append(n.Forbid, grip.Stop{String: v.stops[k].String, Finger: v.stops[k].Finger})
				}
			}
		}
	}
	return best
}

// check shows the player's answer to the checker, and gives what concerns notes that were placed.
func (v *solved) check(s *music.Score, o Options, sounding []music.Sounding, written [][]music.NoteRef) []playable.Fault {
	c := *s
	c.Parts = slices.Clone(s.Parts)
	for i := range c.Parts {
		c.Parts[i].Notes = slices.Clone(s.Parts[i].Notes)
	}
	mine := map[string]bool{}
	for k, of := range v.j.of {
		place, finger := placeOf(v.stops[k])
		if finger < 0 {
			continue
		}
		for _, i := range of {
			mine[sounding[i].ID] = true
			for n, r := range written[i] {
				mark(&c.Parts[r.Part].Notes[r.Note], place, finger, n == 0)
			}
		}
	}
	var limits []playable.Limit
	add := func(on bool, l playable.Limit) {
		if on {
			limits = append(limits, l)
		}
	}
	add(o.Skills.NoFourthFinger, playable.NoFourthFinger)
	add(o.Skills.NoBarre, playable.NoBarre)
	add(o.Skills.FirstPosition, playable.FirstPosition)
	add(o.Skills.NoStretch, playable.NoStretch)
	return slices.DeleteFunc(playable.Check(&c, v.j.in, o.Hand, limits...), func(x playable.Fault) bool {
		return slices.ContainsFunc(x.Notes, func(id string) bool { return !mine[id] })
	})
}
