package main

import (
	"math"
	"strconv"
	"strings"

	"antiphon/internal/ear"
	"antiphon/internal/music"
	"antiphon/internal/rehearse"
)

// row is one decision that the ear had to take: what it was shown, what it said, and what was true.
type row struct {
	inputs []float32
	said   float32 // log odds; of an onset, the fine frame of the window
	target float32 // 1 if the note began, else 0; of an onset, the fine frame of the window
}

// A stroke and a note belong together if the note began so long before or after it. A written note is
// looked for widely, since its chord may be rolled and its place is known; any other is tied to its stroke.
const (
	writtenBackS, writtenAheadS   = 0.15, 0.25
	strangerBackS, strangerAheadS = 0.06, 0.10
	onsetBackS, onsetAheadS       = 0.10, 0.20
)

// The ear places onsets on a grid of so many frames, this far apart.
const (
	fineFrames = 120
	fineS      = 55.0 / 22050
)

// scoreNote is a note of the score as the truth counts them.
type scoreNote struct {
	Index  int     `json:"index"`
	OnsetQ float64 `json:"onset_q"`
	Midi   int     `json:"midi"`
	Part   int     `json:"part"`
}

// labels knows what was played in one take.
type labels struct {
	index   []int             // of each note of the ear's score, in the truth's
	right   map[int][]float64 // onsets of correct notes, by score note
	byPitch map[int][]float64 // onsets of everything that was played, by pitch
}

func newLabels(t rehearse.Truth, notes []scoreNote, score []music.Sounding) labels {
	l := labels{inTruth(score, notes), map[int][]float64{}, map[int][]float64{}}
	for _, n := range t.Notes {
		l.byPitch[n.Midi] = append(l.byPitch[n.Midi], n.OnsetS)
		if n.Score != nil && n.Kind == "correct" {
			l.right[*n.Score] = append(l.right[*n.Score], n.OnsetS)
		}
	}
	return l
}

// row labels an observation; there is nothing to learn from an onset that was not played in its window.
func (l labels) row(o ear.Observation) (r row, ok bool) {
	r = row{inputs: o.Inputs, said: float32(o.Output)}
	if o.Of == ear.Onset {
		frame := (l.onset(o) - o.FromS) / fineS
		r.said, r.target = float32((o.Output-o.FromS)/fineS), float32(frame)
		return r, frame >= 0 && frame < fineFrames-0.5
	}
	if l.began(o) {
		r.target = 1
	}
	return r, true
}

func (l labels) began(o ear.Observation) bool {
	if o.Of == ear.Written || o.Of == ear.WrittenAgain {
		return within(l.correct(o.Note), o.S-writtenBackS, o.S+writtenAheadS)
	}
	return within(l.byPitch[o.Midi], o.S-strangerBackS, o.S+strangerAheadS)
}

// onset is the true onset of a written note that is nearest to its stroke, NaN for none.
func (l labels) onset(o ear.Observation) float64 {
	best := math.NaN()
	for _, s := range l.correct(o.Note) {
		if s > o.S-onsetBackS && s < o.S+onsetAheadS && !(math.Abs(s-o.S) > math.Abs(best-o.S)) {
			best = s
		}
	}
	return best
}

func (l labels) correct(note int) []float64 {
	if note < 0 {
		return nil
	}
	return l.right[l.index[note]]
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
