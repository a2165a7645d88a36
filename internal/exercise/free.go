package exercise

import (
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
		f, err := hands.Finger(score, hands.Options{Instrument: s.guitar, Hand: s.player.hand, Skills: s.player.skills})
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

// lineOfPlace is the line of the recipe that says where the hand plays; a passage has none.
func (s *sheet) lineOfPlace() string {
	if s.fromScore {
		return ""
	}
	return "position"
}
