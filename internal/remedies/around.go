package remedies

import (
	"slices"

	"antiphon/internal/difficulty"
	"antiphon/internal/findings"
	"antiphon/internal/music"
)

// chordSize is the number of notes at once from which a place counts as chords.
const chordSize = 3

// Around is the context of a finding: what lies in its notes and their bars. notes are those of the
// hearing. asks is what the fingering asks of the hands; nil, or mostly unmarked, means that nobody
// knows which skills the place needs.
func Around(f findings.Finding, notes []music.Sounding, asks *difficulty.Report) Context {
	var c Context
	var own, near []music.Sounding
	bars := map[int]bool{}
	for _, n := range notes {
		if slices.Contains(f.Evidence, n.ID) {
			own = append(own, n)
			bars[n.BarIndex] = true
		}
	}
	for _, n := range notes {
		if bars[n.BarIndex] && !n.Cue && !n.Grace {
			near = append(near, n)
		}
	}
	for _, n := range own {
		if n.String > 0 && !slices.Contains(c.Strings, n.String) {
			c.Strings = append(c.Strings, n.String)
		}
		hands := []string{n.Pluck, n.Finger}
		if f.Kind == findings.UnevenFinger {
			hands = hands[:1] // which finger of the left hand stood there says nothing
		}
		for _, h := range hands {
			if h != "" && !slices.Contains(c.Fingers, h) {
				c.Fingers = append(c.Fingers, h)
			}
		}
	}
	slices.Sort(c.Strings)
	slices.Sort(c.Fingers)
	c.Texture = textureOf(near)
	if asks != nil && 2*asks.Unmarked < len(notes) {
		c.Skills = []string{}
		numbers := map[string]bool{}
		for _, n := range near {
			numbers[n.Bar] = true
		}
		for _, need := range asks.Skills {
			if slices.ContainsFunc(need.Bars, func(b string) bool { return numbers[b] }) {
				c.Skills = append(c.Skills, string(need.Skill))
			}
		}
	}
	return c
}

// textureOf says how notes lie in the hands; "" for none. The bounds are our choice, no source.
func textureOf(notes []music.Sounding) Texture {
	if len(notes) == 0 {
		return ""
	}
	at := map[music.Beats][]music.Sounding{}
	var order []music.Beats
	voices, tremolo := map[string]bool{}, 0
	for _, n := range notes {
		if at[n.Onset] == nil {
			order = append(order, n.Onset)
		}
		at[n.Onset] = append(at[n.Onset], n)
		voices[n.Part+"\x00"+n.Voice] = true
		if n.Tremolo >= 2 {
			tremolo++
		}
	}
	slices.SortFunc(order, music.Beats.Cmp)
	chords, again, leaps := 0, 0, 0
	for i, q := range order {
		if len(at[q]) >= chordSize {
			chords++
		}
		if i == 0 {
			continue
		}
		a, b := top(at[order[i-1]]), top(at[q])
		switch d := max(b-a, a-b); {
		case d == 0:
			again++
		case d >= 3: // a third and more: from string to string as a rule
			leaps++
		}
	}
	steps := len(order) - 1
	switch {
	case tremolo > 0 || steps >= 6 && 2*again >= steps && written(notes, "a") && written(notes, "p"):
		return Tremolo
	case 2*chords >= len(order):
		return Chords
	case steps >= 4 && 3*leaps >= 2*steps:
		return Arpeggio
	case len(voices) > 1 || chords > 0 || len(notes) > len(order):
		return Voices
	}
	return Scale
}

func top(notes []music.Sounding) int {
	t := 0
	for _, n := range notes {
		t = max(t, n.Midi)
	}
	return t
}

func written(notes []music.Sounding, pluck string) bool {
	return slices.ContainsFunc(notes, func(n music.Sounding) bool { return n.Pluck == pluck })
}
