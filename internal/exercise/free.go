package exercise

import (
	"slices"

	"antiphon/internal/hands"
	"antiphon/internal/music"
)

// fingerFree gives string, fret and finger to the notes that no position tells, all at once. Places
// and fingers that are there already stay.
func (s *sheet) fingerFree() error {
	missing := false
	for _, t := range s.tones {
		missing = missing || !t.Harmonic.Present && (t.String == 0 || t.finger() < 0)
	}
	if !missing {
		return nil
	}
	return s.fingered(func(score *music.Score) error {
		o := hands.Options{Instrument: s.guitar, Hand: s.player.hand, Skills: s.player.skills}
		f, err := hands.Finger(score, o)
		if err == nil && !s.fromScore {
			f = calmer(score, f, o)
		}
		if err != nil {
			return unplayable(s.lineOfPlace(), "no fingering was found (%v); ask for fewer notes or mark fingers in the score", err)
		}
		for _, told := range f.Told {
			if told.Kind == hands.Unplayable || told.Kind == hands.BeyondSkill {
				return unplayable(s.lineOfPlace(), "%s", told.Text)
			}
		}
		f.Write(score)
		return nil
	})
}

// mostTries bounds how often a line is fingered anew, and longestLine how long it may be for that.
const (
	mostTries   = 24
	longestLine = 160
)

// calmer looks for a fingering of a composed line with fewer shifts: a scale in print goes on in one
// position as long as it can and does not slide from fret to fret on one finger (common practice, no
// source). A fingered piece is left as it is.
func calmer(score *music.Score, f *hands.Fingering, o hands.Options) *hands.Fingering {
	if len(f.Notes) > longestLine || len(f.Told) > 0 {
		return f
	}
	tried := map[hands.Wish]bool{}
	for range mostTries {
		slide, ok := slideIn(f, tried)
		if !ok {
			break
		}
		tried[slide] = true
		without := o
		without.Forbid = append(slices.Clone(o.Forbid), slide)
		if g, err := hands.Finger(score, without); err == nil && len(g.Told) == 0 && shiftsIn(g) < shiftsIn(f) {
			f, o = g, without
		}
	}
	return f
}

// slideIn finds a note that a finger comes to from another fret of the same string.
func slideIn(f *hands.Fingering, tried map[hands.Wish]bool) (hands.Wish, bool) {
	for i := 1; i < len(f.Notes); i++ {
		a, b := f.Notes[i-1], f.Notes[i]
		w := hands.Wish{Note: b.ID, String: b.Place.String, Finger: b.Finger}
		if b.Finger > 0 && a.Finger == b.Finger && a.Place.String == b.Place.String && a.Place.Fret != b.Place.Fret && !tried[w] {
			return w, true
		}
	}
	return hands.Wish{}, false
}

// shiftsIn counts how often the hand has another place than before.
func shiftsIn(f *hands.Fingering) (shifts int) {
	at, known := 0, false
	for _, n := range f.Notes {
		if n.Finger < 1 {
			continue
		}
		if here := n.Place.Fret - n.Finger; !known || here != at {
			if known {
				shifts++
			}
			at, known = here, true
		}
	}
	return shifts
}

// lineOfPlace is the line of the recipe that says where the hand plays; a passage has none.
func (s *sheet) lineOfPlace() string {
	if s.fromScore {
		return ""
	}
	return "position"
}
