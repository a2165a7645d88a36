package main

import (
	"fmt"
	"strings"

	"antiphon/internal/exercise"
	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/rehearse"
)

// shelved is a work with its score, and as it is played.
type shelved struct {
	piece rehearse.Piece
	score *music.Score
}

// shelf is a teacher's hundred works: tunes, studies, and exercises many of which differ by little, as the same
// scale in the next key and the same right hand over other chords. others are works of the same sorts that are
// not on the shelf.
func shelf() (works, others []shelved, err error) {
	pieces, err := rehearse.Tunes()
	if err != nil {
		return nil, nil, err
	}
	studies, err := rehearse.Studies(48)
	if err != nil {
		return nil, nil, err
	}
	for _, p := range append(pieces, studies...) {
		score, _, err := notation.Read(strings.NewReader(p.MusicXML()), p.Name+".musicxml", notation.Limits{})
		if err != nil {
			return nil, nil, err
		}
		works = append(works, shelved{p, score})
	}
	for _, r := range recipes() {
		score, err := exercise.Compose(r)
		if err != nil {
			return nil, nil, fmt.Errorf("exercise %s: %w", r.Title, err)
		}
		piece, err := rehearse.FromScore(r.Title, score)
		if err != nil {
			return nil, nil, err
		}
		works = append(works, shelved{piece, score})
	}
	// Every seventh is kept off the shelf: takes of these are of none.
	var kept []shelved
	for i, w := range works {
		if i%7 == 6 {
			others = append(others, w)
		} else if len(kept) < shelfWorks {
			kept = append(kept, w)
		}
	}
	return kept, others, nil
}

const shelfWorks = 100

// pieces are the works as they are played.
func pieces(works []shelved) []rehearse.Piece {
	var out []rehearse.Piece
	for _, w := range works {
		out = append(out, w.piece)
	}
	return out
}

// recipes are exercises on the same few patterns.
func recipes() []exercise.Recipe {
	var out []exercise.Recipe
	add := func(r exercise.Recipe) {
		r.Tempo = 72
		if r.Title == "" {
			r.Title = fmt.Sprintf("%s-%d", r.Pattern, len(out))
		}
		out = append(out, r)
	}
	for _, key := range []string{"C major", "G major", "D major", "A major", "E major", "F major", "A harmonic minor", "E harmonic minor", "D harmonic minor", "B harmonic minor"} {
		add(exercise.Recipe{Pattern: "scale", Key: key, Rhythm: "eighths", Octaves: 1})
	}
	for _, key := range []string{"C major", "G major", "D major", "A major", "E major", "F major", "E natural minor", "A melodic minor"} {
		add(exercise.Recipe{Pattern: "scale", Key: key, Rhythm: "quarter eighth eighth", Octaves: 2, Position: "free"})
	}
	for _, key := range []string{"C major", "G major", "D major", "A major"} {
		add(exercise.Recipe{Pattern: "thirds", Key: key, Rhythm: "eighths", Octaves: 1})
		add(exercise.Recipe{Pattern: "thirds", Key: key, Rhythm: "quarters", Octaves: 1, Together: true})
		add(exercise.Recipe{Pattern: "degrees", Key: key, Degrees: []int{1, 2, 3, 1}, Rhythm: "eighths", Octaves: 1})
	}
	rows := [][]string{{"C", "Am", "Dm", "G7", "C"}, {"C", "F", "G7", "C", "Am"}, {"Am", "E7", "Am", "Dm", "E7"}, {"G", "Em", "C", "D7", "G"}, {"Em", "Am", "B7", "Em", "C"}, {"D", "G", "A7", "D", "Em"}}
	for i, chords := range rows {
		for k, hand := range []string{"p i m a", "p i m a m i", "p i m i a i m i"} {
			time := ""
			if k == 1 {
				time = "6/8"
			}
			if (i+k)%2 == 0 || k == 0 {
				add(exercise.Recipe{Pattern: "chords", Chords: chords, RightHand: hand, Rhythm: "eighths", Time: time})
			}
		}
	}
	for _, p := range []string{"1", "2", "5", "7"} {
		add(exercise.Recipe{Pattern: "chromatic", Position: p, RightHand: "i m", Rhythm: "eighths", Title: "chromatic-from-" + p})
	}
	for _, row := range rows[:3] {
		add(exercise.Recipe{Pattern: "chords", Chords: row, RightHand: "p (im)", Rhythm: "quarters"})
	}
	return out
}
