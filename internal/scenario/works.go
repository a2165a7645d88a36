package scenario

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"antiphon/internal/exercise"
	"antiphon/internal/hands"
	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/rehearse"
)

// Piece is one work of the library.
type Piece struct {
	Name     string // in this package
	Title    string
	Composer string
	Rights   string
	Recipe   string // of an exercise
	MusicXML string // with its fingering
	Score    *music.Score
}

// lowered are melodies that lie too high for first position as they were written down.
var lowered = map[string]int{"row-your-boat": 5, "three-blind-mice": 5, "pont-d-avignon": 5, "london-bridge": 5, "new-britain": 7, "scarborough-fair": 7}

// Pieces makes the library: traditional melodies, studies of our own, exercises from recipes, each fingered.
func Pieces() ([]Piece, error) {
	var used []string
	var drills []string
	for _, h := range Households() {
		for _, l := range h.Learners {
			used = append(used, l.Course...)
			drills = append(drills, l.Drill)
		}
	}
	tunes, err := rehearse.Tunes()
	if err != nil {
		return nil, err
	}
	studies, err := rehearse.Studies(40)
	if err != nil {
		return nil, err
	}
	var out []Piece
	for i, p := range append(tunes, studies...) {
		if !slices.Contains(used, p.Name) {
			continue
		}
		if p.Name == "au-clair" {
			p = auClair()
			p.Name = "au-clair"
		}
		made := Piece{Name: p.Name, Title: p.Title, Composer: "traditional", Rights: "traditional, free to use"}
		if i >= len(tunes) {
			made.Composer, made.Rights = TeacherName, "our own"
		}
		if made.Score, err = fingered(lower(p, lowered[p.Name]).MusicXML(), made.Composer); err != nil {
			return nil, fmt.Errorf("scenario: %s: %w", p.Name, err)
		}
		out = append(out, made)
	}
	slices.Sort(drills)
	for _, name := range slices.Compact(drills) {
		e, ok, err := exercise.ExampleNamed(name)
		if err != nil || !ok {
			return nil, fmt.Errorf("scenario: no recipe %s: %w", name, err)
		}
		s, err := exercise.Compose(e.Recipe)
		if err != nil {
			return nil, fmt.Errorf("scenario: %s: %w", name, err)
		}
		out = append(out, Piece{Name: name, Title: s.Title, Composer: TeacherName, Rights: "our own", Recipe: string(e.Source), Score: s})
	}
	for i := range out {
		var b bytes.Buffer
		if err := notation.WriteMusicXML(&b, out[i].Score); err != nil {
			return nil, fmt.Errorf("scenario: %s: %w", out[i].Name, err)
		}
		out[i].MusicXML = b.String()
	}
	return out, nil
}

// fingered reads a score and writes the fingering into it, for a beginner where that is possible.
func fingered(xml, composer string) (*music.Score, error) {
	s, _, err := notation.Read(strings.NewReader(xml), "score.musicxml", notation.Limits{})
	if err != nil {
		return nil, err
	}
	s.Composer = composer
	f, err := hands.Finger(s, hands.Options{Minimax: true})
	if err != nil {
		return nil, err
	}
	f.Write(s)
	return s, nil
}

// lower moves a melody down by semitones that are a fourth (5) or a fifth (7).
func lower(p rehearse.Piece, semitones int) rehearse.Piece {
	if semitones == 0 {
		return p
	}
	p.Notes = slices.Clone(p.Notes)
	for i := range p.Notes {
		p.Notes[i].Midi -= semitones
		p.Notes[i].String, p.Notes[i].Fret = 0, 0
	}
	switch semitones {
	case 5:
		p.Fifths++
	case 7:
		p.Fifths--
	}
	return p
}
