package listen

import (
	"slices"
	"strings"

	"antiphon/internal/ear"
	"antiphon/internal/music"
	"antiphon/internal/notation"
	"antiphon/internal/studio"
)

// readScore reads the score of a work. A work without a score, or with one that holds no notes to listen
// for, gives nil.
func readScore(w studio.Work) *music.Score {
	if strings.TrimSpace(w.Score) == "" {
		return nil
	}
	s, _, err := notation.Read(strings.NewReader(w.Score), "score.musicxml", notation.Limits{})
	if err != nil || len(s.Sounding()) == 0 {
		return nil
	}
	return s
}

// passage is the score with the notes of the bars asked only, and for each of them its place in the
// whole score. Bars keep their numbers and their times. Bars that the score has not, or none asked, is the
// whole score.
func passage(s *music.Score, fromBar, toBar string) (*music.Score, []int) {
	from := slices.IndexFunc(s.Bars, func(b music.Bar) bool { return b.Number == fromBar })
	to := from
	if toBar != "" {
		to = slices.IndexFunc(s.Bars, func(b music.Bar) bool { return b.Number == toBar })
	}
	if from < 0 || to < from || from == 0 && to == len(s.Bars)-1 {
		return s, nil
	}
	cut := *s
	cut.Parts = slices.Clone(s.Parts)
	for i := range cut.Parts {
		cut.Parts[i].Notes = slices.DeleteFunc(slices.Clone(cut.Parts[i].Notes), func(n music.Note) bool { return n.Bar < from || n.Bar > to })
	}
	cut.Bars = slices.Clone(s.Bars)
	for i := range cut.Bars { // repeats and jumps lead out of the passage
		b := &cut.Bars[i]
		*b = music.Bar{Number: b.Number, Start: b.Start, Length: b.Length, Implicit: b.Implicit, Time: b.Time, LeftStyle: b.LeftStyle, RightStyle: b.RightStyle}
	}
	at := placesIn(s, &cut)
	if len(at) == 0 {
		return s, nil
	}
	return &cut, at
}

// placesIn gives for each note of a part of a score its place in the whole; nil where one has none, as after a
// tie from before the part.
func placesIn(whole, part *music.Score) []int {
	type key struct {
		at          music.Beats
		midi        int
		part, voice string
		grace       bool // and its main note may share all else
	}
	of := func(n music.Sounding) key { return key{n.Onset, n.Midi, n.Part, n.Voice, n.Grace} }
	places := map[key][]int{}
	for i, n := range whole.Sounding() {
		places[of(n)] = append(places[of(n)], i)
	}
	var at []int
	for _, n := range part.Sounding() {
		l := places[of(n)]
		if len(l) == 0 {
			return nil
		}
		at = append(at, l[0])
		places[of(n)] = l[1:]
	}
	return at
}

// lift tells a hearing of a passage in the notes of the whole score.
func lift(h *ear.Hearing, whole *music.Score, at []int) {
	if at == nil {
		return
	}
	h.Score = whole.Sounding()
	for i := range h.Played {
		if n := h.Played[i].Note; n >= 0 {
			h.Played[i].Note = at[n]
		}
	}
	for i := range h.Missed {
		h.Missed[i].Note = at[h.Missed[i].Note]
	}
}
