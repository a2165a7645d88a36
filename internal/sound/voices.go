package sound

import (
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/music"
)

// line is a voice of a part, or all of a part where no voice is named.
type line struct{ part, voice string }

func (l line) holds(part, voice string) bool {
	return l.part == part && (l.voice == "" || l.voice == voice)
}

// lines are what a name means: a part by its id or name, one voice of it as "P1/2", a voice of all
// parts, or else the n-th part, since ABC's voices are parts.
func lines(s *music.Score, sounds []music.Sounding, name string) (out []line) {
	part, voice, both := strings.Cut(name, "/")
	for i := range s.Parts {
		p := &s.Parts[i]
		named := func(name string) bool {
			return strings.EqualFold(name, p.ID) || p.Name != "" && strings.EqualFold(name, p.Name)
		}
		switch {
		case named(name):
			out = append(out, line{p.ID, ""})
		case both && named(part):
			out = append(out, line{p.ID, voice})
		}
	}
	if len(out) == 0 {
		for _, n := range sounds {
			if l := (line{n.Part, name}); n.Voice == name && !slices.Contains(out, l) {
				out = append(out, l)
			}
		}
	}
	if k, err := strconv.Atoi(name); len(out) == 0 && err == nil && k >= 1 && k <= len(s.Parts) {
		out = append(out, line{s.Parts[k-1].ID, ""})
	}
	return slices.DeleteFunc(out, func(l line) bool { // what has no notes is not there
		return !slices.ContainsFunc(sounds, func(n music.Sounding) bool { return l.holds(n.Part, n.Voice) })
	})
}

// unmuted says which notes are played, and which lines are not.
func unmuted(s *music.Score, sounds []music.Sounding, mute, solo []string) (heard []bool, muted []line, err error) {
	heard = make([]bool, len(sounds))
	for i := range heard {
		heard[i] = len(solo) == 0
	}
	for _, name := range solo {
		list := lines(s, sounds, name)
		if len(list) == 0 {
			return nil, nil, problem(NoVoice, nil, "there is no voice %q to play: the score has %s", name, voices(s, sounds))
		}
		for i, n := range sounds {
			heard[i] = heard[i] || slices.ContainsFunc(list, func(l line) bool { return l.holds(n.Part, n.Voice) })
		}
	}
	if len(solo) > 0 {
		for i, n := range sounds {
			if l := (line{n.Part, n.Voice}); !heard[i] && !slices.Contains(muted, l) {
				muted = append(muted, l)
			}
		}
	}
	for _, name := range mute {
		list := lines(s, sounds, name)
		if len(list) == 0 {
			return nil, nil, problem(NoVoice, nil, "there is no voice %q to mute: the score has %s", name, voices(s, sounds))
		}
		for i, n := range sounds {
			if slices.ContainsFunc(list, func(l line) bool { return l.holds(n.Part, n.Voice) }) {
				heard[i] = false
			}
		}
		muted = append(muted, list...)
	}
	return heard, muted, nil
}

// mostNamed voices are listed in an error.
const mostNamed = 12

func voices(s *music.Score, sounds []music.Sounding) string {
	var out []string
	for i := range s.Parts {
		id := s.Parts[i].ID
		for _, n := range sounds {
			name := "voice " + n.Voice
			if len(s.Parts) > 1 {
				name = id + "/" + n.Voice
			}
			if n.Part == id && !slices.Contains(out, name) {
				out = append(out, name)
			}
		}
	}
	if len(out) > mostNamed {
		out = append(out[:mostNamed], "…")
	}
	return strings.Join(out, ", ")
}
