package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"

	"antiphon/internal/guitar"
	"antiphon/internal/hands/grip"
)

// part is one player's part with its printed marks.
type part struct {
	ID, File, Group string
	Tuning          []int
	Notes           []struct {
		Onset, Dur     float64
		Midi           int
		Finger, String *int
		Voice          int
		Grace, Dropped any
	}

	notes  []grip.Note
	finger []int // printed, -1 none
	str    []int
	neck   *grip.Neck
}

func read(path string) ([]*part, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var parts []*part
	if err := json.Unmarshal(data, &parts); err != nil {
		return nil, fmt.Errorf("%s is no list of parts: %w", path, err)
	}
	for _, p := range parts {
		p.prepare()
	}
	return parts, nil
}

func yes(x any) bool {
	switch v := x.(type) {
	case nil:
		return false
	case bool:
		return v
	case float64:
		return v != 0
	case string:
		return v != ""
	}
	return true
}

func (p *part) prepare() {
	in := guitar.Standard()
	if len(p.Tuning) > 0 {
		in.Open = p.Tuning
	}
	p.neck = grip.NewNeck(in, guitar.AdultHand())
	type both struct {
		n      grip.Note
		f, str int
	}
	var list []both
	for _, n := range p.Notes {
		if yes(n.Grace) || yes(n.Dropped) {
			continue
		}
		b := both{grip.Note{AtQ: n.Onset, EndQ: n.Onset + n.Dur, Midi: n.Midi, Voice: n.Voice, Ask: grip.Free()}, -1, -1}
		if n.Finger != nil {
			b.f = *n.Finger
		}
		if n.String != nil {
			b.str = *n.String
		}
		list = append(list, b)
	}
	slices.SortStableFunc(list, func(a, b both) int {
		if d := a.n.AtQ - b.n.AtQ; d > 1e-6 || d < -1e-6 {
			return cmp.Compare(a.n.AtQ, b.n.AtQ)
		}
		return a.n.Midi - b.n.Midi
	})
	for _, b := range list {
		if k := len(p.notes) - 1; k >= 0 && p.notes[k].Midi == b.n.Midi && b.n.AtQ-p.notes[k].AtQ < 1e-4 { // a unison of two voices
			p.notes[k].EndQ = max(p.notes[k].EndQ, b.n.EndQ)
			if p.finger[k] < 0 {
				p.finger[k] = b.f
			}
			if p.str[k] < 0 {
				p.str[k] = b.str
			}
			continue
		}
		p.notes, p.finger, p.str = append(p.notes, b.n), append(p.finger, b.f), append(p.str, b.str)
	}
}

func (p *part) marks() int {
	n := 0
	for i := range p.notes {
		if p.finger[i] >= 0 {
			n++
		}
		if p.str[i] >= 0 {
			n++
		}
	}
	return n
}

// piece lays the part out; pinned says which notes' marks are given.
func (p *part) piece(pinned func(i int) bool) *grip.Piece {
	notes := slices.Clone(p.notes)
	for i := range notes {
		if pinned == nil || !pinned(i) {
			continue
		}
		if p.finger[i] >= 0 {
			notes[i].Ask.Finger = int8(p.finger[i])
		}
		if p.str[i] >= 0 {
			notes[i].Ask.String = int8(p.str[i])
		}
	}
	return grip.NewPiece(notes, p.neck, grip.Limits{})
}

// half chooses half of the notes that have a mark, the same ones in every run.
func (p *part) half(seed uint64) []bool {
	out := make([]bool, len(p.notes))
	rng := rand.New(rand.NewPCG(seed, uint64(len(p.notes))))
	for i := range out {
		if p.finger[i] >= 0 || p.str[i] >= 0 {
			out[i] = rng.IntN(2) == 0
		}
	}
	return out
}

func sortBy(list []string, key func(string) int) {
	slices.SortStableFunc(list, func(a, b string) int { return cmp.Compare(key(a), key(b)) })
}

// truth is what is printed.
func (p *part) truth() []grip.Ask {
	out := make([]grip.Ask, len(p.notes))
	for i := range out {
		out[i] = grip.Ask{String: int8(p.str[i]), Fret: -1, Finger: int8(p.finger[i])}
	}
	return out
}
