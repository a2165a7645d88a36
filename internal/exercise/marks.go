package exercise

import (
	"slices"

	"antiphon/internal/music"
	"antiphon/internal/playable"
	"antiphon/internal/pluck"
)

// fingered lets fill choose marks in the written score, and takes them over into the sheet.
func (s *sheet) fingered(fill func(*music.Score) error) error {
	score, err := s.lay()
	if err != nil {
		return err
	}
	if err := fill(score); err != nil {
		return err
	}
	type id struct {
		at    music.Beats
		voice string
		pitch music.Pitch
	}
	marks := map[id]music.Note{}
	for _, n := range score.Parts[0].Notes {
		if n.Pitched() && !n.TieStop && !n.Grace {
			marks[id{n.Start, n.Voice, n.Pitch}] = n
		}
	}
	for i := range s.tones {
		t := &s.tones[i]
		if n, ok := marks[id{t.Start, t.Voice, t.Pitch}]; ok {
			t.String, t.Fret, t.HasFret, t.Fingers, t.Plucks = n.String, n.Fret, n.HasFret, n.Fingers, n.Plucks
		}
	}
	return nil
}

// pluckByRule gives right-hand fingers to the notes that have none.
func (s *sheet) pluckByRule() error {
	return s.fingered(func(score *music.Score) error {
		plan, err := pluck.Assign(score, nil, pluck.Options{Instrument: s.guitar, NoA: slices.Contains(s.player.limits, playable.NoA)})
		if err != nil {
			return unplayable("right-hand", "no right hand was found for the passage (%v); mark p, i, m and a in the score", err)
		}
		plan.Write(score)
		return nil
	})
}
