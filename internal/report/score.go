package report

import "antiphon/internal/music"

// Note is one note of the score in the contract. What the score does not say is null.
type Note struct {
	ID        string  `json:"id"`
	Part      string  `json:"part"`
	Voice     string  `json:"voice"`
	Bar       string  `json:"bar"`
	OnsetQ    float64 `json:"onset_q"`    // quarters from the start of the written score
	DurationQ float64 `json:"duration_q"` // ties added up
	Midi      int     `json:"midi"`       // sounding pitch
	Name      string  `json:"name"`
	String    *int    `json:"string"` // 1 is the highest
	Fret      *int    `json:"fret"`
	Finger    *string `json:"finger"` // left hand
	Pluck     *string `json:"pluck"`  // right hand
	Grace     bool    `json:"grace"`
	Cue       bool    `json:"cue"`
}

// Notes gives the notes of a score as the contract has them; never nil.
func Notes(sounding []music.Sounding) []Note {
	notes := make([]Note, 0, len(sounding))
	for _, s := range sounding {
		n := Note{ID: s.ID, Part: s.Part, Voice: s.Voice, Bar: s.Bar, OnsetQ: rounded(s.Onset.Q(), 6), DurationQ: rounded(s.Duration.Q(), 6),
			Midi: s.Midi, Name: s.Name, Grace: s.Grace, Cue: s.Cue}
		if s.String > 0 {
			n.String = &s.String
			if s.Fret >= 0 {
				n.Fret = &s.Fret
			}
		}
		if s.Finger != "" {
			n.Finger = &s.Finger
		}
		if s.Pluck != "" {
			n.Pluck = &s.Pluck
		}
		notes = append(notes, n)
	}
	return notes
}
