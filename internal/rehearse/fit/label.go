package main

import (
	"math"
	"strconv"
	"strings"

	"antiphon/internal/ear"
	"antiphon/internal/music"
	"antiphon/internal/rehearse"
)

// row is one decision that the ear had to take, and what was true.
type row struct {
	take   int    // number of the take it was heard in
	source string // the instrument; of two guitars, the first
	clues  []float64
	began  bool // the note was played
}

// A stroke and a note belong together if the note began so long before or after it. A written note is
// looked for widely, since its chord may be rolled and its place is known; a stranger is tied to its stroke.
const (
	writtenBackS, writtenAheadS   = 0.15, 0.25
	strangerBackS, strangerAheadS = 0.06, 0.10
)

// scoreNote is a note of the score as the truth counts them.
type scoreNote struct {
	Index  int     `json:"index"`
	OnsetQ float64 `json:"onset_q"`
	Midi   int     `json:"midi"`
	Part   int     `json:"part"`
}

// label says of each observation in one take whether the note began there.
func label(take int, t rehearse.Truth, notes []scoreNote, score []music.Sounding, seen []ear.Observation) (written, strangers []row) {
	index := inTruth(score, notes)
	right := map[int][]float64{}   // onsets of correct notes, by score note
	byPitch := map[int][]float64{} // onsets of everything that was played, by pitch
	for _, n := range t.Notes {
		byPitch[n.Midi] = append(byPitch[n.Midi], n.OnsetS)
		if n.Score != nil && n.Kind == "correct" {
			right[*n.Score] = append(right[*n.Score], n.OnsetS)
		}
	}
	for _, o := range seen {
		r := row{take: take, source: t.Sources[0], clues: o.Clues}
		if o.Note < 0 {
			r.began = within(byPitch[o.Midi], o.S-strangerBackS, o.S+strangerAheadS)
			strangers = append(strangers, r)
			continue
		}
		r.began = within(right[index[o.Note]], o.S-writtenBackS, o.S+writtenAheadS)
		written = append(written, r)
	}
	return written, strangers
}

func within(onsetsS []float64, fromS, toS float64) bool {
	for _, s := range onsetsS {
		if s >= fromS && s <= toS {
			return true
		}
	}
	return false
}

// inTruth gives, for each note of the ear's score, its index in the truth's score: the note at the same
// place and pitch, one not given yet before one that was, one of the same part before others; -1 for none.
func inTruth(score []music.Sounding, notes []scoreNote) []int {
	type place struct{ hundredthsQ, midi int }
	at := func(q float64, midi int) place { return place{int(math.RoundToEven(100 * q)), midi} }
	byPlace := map[place][]scoreNote{}
	for _, n := range notes {
		byPlace[at(n.OnsetQ, n.Midi)] = append(byPlace[at(n.OnsetQ, n.Midi)], n)
	}
	given := map[int]bool{}
	index := make([]int, len(score))
	for i, s := range score {
		best, top := -1, -1
		for _, n := range byPlace[at(s.Onset.Q(), s.Midi)] {
			rank := 0
			if !given[n.Index] {
				rank += 2
			}
			if strings.HasSuffix(s.Part, strconv.Itoa(max(1, n.Part))) {
				rank++
			}
			if rank > top {
				best, top = n.Index, rank
			}
		}
		index[i] = best
		given[best] = true
	}
	return index
}
