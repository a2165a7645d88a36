package listen

import (
	"context"
	"slices"

	"antiphon/internal/music"
	"antiphon/internal/sound"
	"antiphon/internal/studio"
)

// A take may hold a second player: the tool's part from the loudspeaker, or the parent. Then the ear is given
// both parts, the child's and the other's, as two guitars, and of what it heard only the child's is told.

// pair is a score for two players.
type pair struct {
	score *music.Score
	child []int // for each note of score.Sounding its place in the score that was asked; -1 the partner's
}

// inside tells whether the partner is in the recording. With headphones it is not.
func inside(p studio.Partner) bool {
	return p.Kind != "" && (p.Speaker || p.Who == studio.ByParent)
}

// partnerPart is the part that the score of a pair has for a partner who plays the child's own notes later.
const partnerPart = "partner"

// pairOf gives the score for both players; false where the partner is none that can be laid out, as in a round
// over repeats. s is the score or the passage that was asked.
func pairOf(ctx context.Context, s *music.Score, p studio.Partner) (pair, bool) {
	switch p.Kind {
	case studio.SecondPart:
		return twoParts(ctx, s, p.Part)
	case studio.Round:
		return round(s, max(1, p.AfterBars))
	}
	return pair{}, false
}

// twoParts are in the score already; the partner's is the one with this name.
func twoParts(ctx context.Context, s *music.Score, part string) (pair, bool) {
	theirs, ok := notesOf(ctx, s, part)
	if !ok {
		return pair{}, false
	}
	p := pair{score: s}
	own := 0
	for i, n := range s.Sounding() {
		if theirs[n.ID] {
			p.child = append(p.child, -1)
			continue
		}
		own++
		p.child = append(p.child, i)
	}
	return p, own > 0
}

// notesOf are the ids of the notes of a part, named as package sound has it.
func notesOf(ctx context.Context, s *music.Score, part string) (map[string]bool, bool) {
	a, err := sound.Render(ctx, s, sound.Options{Silent: true, Solo: []string{part}, LongestS: 3 * 3600})
	if part == "" || err != nil {
		return nil, false
	}
	ids := map[string]bool{}
	for _, n := range a.Notes {
		ids[n.Note] = true
	}
	return ids, len(ids) > 0
}

// round adds a second player, so many bars later.
func round(s *music.Score, after int) (pair, bool) {
	for _, b := range s.Bars {
		if b.RepeatEnd > 0 || b.DalSegno != "" || b.DaCapo {
			return pair{}, false
		}
	}
	notes := s.Sounding()
	if len(notes) == 0 {
		return pair{}, false
	}
	first := notes[0].BarIndex
	if first == 0 && s.Bars[0].Implicit && len(s.Bars) > 1 {
		after++ // a pickup is no bar
	}
	if first+after >= len(s.Bars) {
		return pair{}, false
	}
	later := s.Bars[first+after].Start.Sub(s.Bars[first].Start)
	both := *s
	both.Bars = slices.Clone(s.Bars)
	last := notes[len(notes)-1].Onset.Add(later)
	for end := &both.Bars[len(both.Bars)-1]; !last.Less(end.End()); end = &both.Bars[len(both.Bars)-1] {
		both.Bars = append(both.Bars, music.Bar{Start: end.End(), Length: s.Bars[first+after].Length, Time: end.Time})
	}
	second := music.Part{ID: partnerPart, Name: partnerPart, Staves: 1}
	bar := 0
	for _, n := range notes {
		if n.Grace {
			continue
		}
		at := n.Onset.Add(later)
		for bar+1 < len(both.Bars) && !at.Less(both.Bars[bar].End()) {
			bar++
		}
		k := len(second.Notes)
		second.Notes = append(second.Notes, music.Note{Bar: bar, Start: at, Duration: n.Duration, Voice: "1", Staff: 1, Pitch: music.SpellMidi(n.Midi, 0),
			Chord: k > 0 && second.Notes[k-1].Start.Cmp(at) == 0})
	}
	both.Parts = append(slices.Clone(s.Parts), second)
	p := pair{score: &both}
	own := 0
	for _, n := range both.Sounding() { // the partner's part comes last, so the child's notes keep their order
		if n.Part == partnerPart {
			p.child = append(p.child, -1)
			continue
		}
		p.child = append(p.child, own)
		own++
	}
	return p, own == len(notes)
}

// alone is a score without the partner's part, and where its notes stand in the whole one: for a child that
// heard its partner in headphones. Without such a part it is the score.
func alone(ctx context.Context, s *music.Score, p studio.Partner) (*music.Score, []int) {
	if p.Kind != studio.SecondPart {
		return s, nil
	}
	theirs, ok := notesOf(ctx, s, p.Part)
	if !ok || len(theirs) == len(s.Sounding()) {
		return s, nil
	}
	drop := map[music.NoteRef]bool{}
	written := s.Written()
	for i, n := range s.Sounding() {
		if theirs[n.ID] {
			for _, ref := range written[i] {
				drop[ref] = true
			}
		}
	}
	cut := *s
	cut.Parts = slices.Clone(s.Parts)
	for i := range cut.Parts {
		var kept []music.Note
		for j, n := range cut.Parts[i].Notes {
			if !drop[music.NoteRef{Part: i, Note: j}] {
				kept = append(kept, n)
			}
		}
		cut.Parts[i].Notes = kept
	}
	if at := placesIn(s, &cut); at != nil {
		return &cut, at
	}
	return s, nil
}
