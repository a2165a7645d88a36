package exercise

import (
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/music"
)

func itoa(n int) string { return strconv.Itoa(n) }

// sayAloud puts the names of the notes under them, as a text that is sung or spoken: letters, or do re
// mi with do for C. Of notes struck together the lowest carries all the names, from the bass up.
func (s *sheet) sayAloud(kind string) error {
	if kind != "letters" && kind != "do-re-mi" {
		return bad("names", "%q is not known; choose letters or do-re-mi", clip(kind))
	}
	for _, g := range s.groups() {
		slices.SortStableFunc(g, func(a, b int) int { return s.tones[a].Pitch.Midi() - s.tones[b].Pitch.Midi() })
		var names []string
		for _, i := range g {
			s.tones[i].Lyrics = nil
			names = append(names, said(s.tones[i].Pitch, kind))
		}
		// It hangs on the note that is written first of the first voice.
		first := g[0]
		for _, i := range g {
			if s.tones[i].Voice < s.tones[first].Voice {
				first = i
			}
		}
		s.tones[first].Lyrics = []music.Lyric{{Number: "1", Syllabic: "single", Text: strings.Join(names, " ")}}
	}
	return nil
}

// said is a note's name as it is spoken, without its octave.
func said(p music.Pitch, kind string) string {
	name := string(p.Step)
	if kind == "do-re-mi" {
		name = map[byte]string{'C': "do", 'D': "re", 'E': "mi", 'F': "fa", 'G': "sol", 'A': "la", 'B': "si"}[p.Step]
	}
	switch {
	case p.Alter > 0:
		name += strings.Repeat("♯", p.Alter)
	case p.Alter < 0:
		name += strings.Repeat("♭", -p.Alter)
	}
	return name
}
