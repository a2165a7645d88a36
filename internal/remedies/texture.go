package remedies

import (
	"slices"

	"antiphon/internal/music"
)

// chordSize is the number of notes at once from which a place counts as chords.
const chordSize = 3

// textureOf says how notes lie in the hands; "" for none. The bounds are our choice, no source.
func textureOf(notes []music.Sounding) Texture {
	if len(notes) == 0 {
		return ""
	}
	at := map[music.Beats][]music.Sounding{}
	var order []music.Beats
	voices, strings, tremolo := map[string]bool{}, map[int]bool{}, 0
	for _, n := range notes {
		if at[n.Onset] == nil {
			order = append(order, n.Onset)
		}
		at[n.Onset] = append(at[n.Onset], n)
		voices[n.Part+"\x00"+n.Voice], strings[n.String] = true, true
		if n.Tremolo >= 2 {
			tremolo++
		}
	}
	slices.SortFunc(order, music.Beats.Cmp)
	chords, again, leaps, crossings := 0, 0, 0, 0
	for i, q := range order {
		if len(at[q]) >= chordSize {
			chords++
		}
		if i == 0 {
			continue
		}
		a, b := top(at[order[i-1]]), top(at[q])
		switch d := max(b.Midi-a.Midi, a.Midi-b.Midi); {
		case d == 0:
			again++
		case d >= 3: // a third and more: from string to string as a rule
			leaps++
		}
		if a.String != b.String && a.String > 0 && b.String > 0 {
			crossings++
		}
	}
	steps := len(order) - 1
	switch {
	case tremolo > 0 || steps >= 6 && 2*again >= steps && plucked(notes, "a") && plucked(notes, "p"):
		return Tremolo
	case 2*chords >= len(order):
		return Chords
	case chords == 0 && len(notes) == len(order) && plucked(notes, "p") && plucked(notes, "i") && plucked(notes, "m"):
		return Arpeggio
	case steps >= 4 && (3*leaps >= 2*steps || 5*crossings >= 4*steps && len(strings) >= 3):
		return Arpeggio
	case len(voices) > 1 || chords > 0 || len(notes) > len(order):
		return Voices
	}
	return Scale
}

// top is the highest of some notes.
func top(notes []music.Sounding) music.Sounding {
	return slices.MaxFunc(notes, func(a, b music.Sounding) int { return a.Midi - b.Midi })
}

func plucked(notes []music.Sounding, finger string) bool {
	return slices.ContainsFunc(notes, func(n music.Sounding) bool { return n.Pluck == finger })
}
