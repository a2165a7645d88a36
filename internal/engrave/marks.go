package engrave

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// hand is what both hands are told about one sounding note.
type hand struct {
	note   string // its id
	onset  music.Beats
	bar    int
	staff  int // of its part
	part   int
	midi   int
	above  bool // its marks go above the staff
	finger string
	side   string // where the file wants the finger: "above", "below", ""
	pluck  string
	str    int
	stroke music.Stroke
	name   music.Pitch // as written
	grace  bool
	voice  string
	words  string // a technical sign that has no sign of its own
}

// handsOf collects the marks of all notes, in order of time and pitch.
func handsOf(s *music.Score) []hand {
	written := s.Written()
	voices := voicesOf(s)
	partIndex := map[string]int{}
	for i := range s.Parts {
		partIndex[s.Parts[i].ID] = i
	}
	var out []hand
	for i, d := range s.Sounding() {
		ref := written[i][0]
		n := &s.Parts[ref.Part].Notes[ref.Note]
		h := hand{note: d.ID, onset: d.Onset, bar: d.BarIndex, part: ref.Part, staff: n.Staff, midi: n.Pitch.Midi(), str: n.String,
			voice: n.Voice, words: technicalWords(n), stroke: n.Stroke(), name: n.Pitch, grace: d.Grace, pluck: d.Pluck}
		here := voices[voiceKey{ref.Part, n.Staff, d.BarIndex}]
		h.above = len(here) < 2 || here[0] == n.Voice
		h.finger, h.side = fingerOf(n)
		if h.finger == "" {
			h.finger = d.Finger // from a tablature that repeats the note
		}
		out = append(out, h)
	}
	return out
}

// fingerOf is what the file says of the left hand: "2", "1-3" for a finger that takes over, "2 (1)" for
// another way.
func fingerOf(n *music.Note) (text, side string) {
	for _, f := range n.Fingers {
		if strings.Trim(f.Text, "01234T") != "" || f.Text == "" {
			continue
		}
		switch {
		case text == "":
			text, side = f.Text, f.Placed
		case f.Alternate:
			text += " (" + f.Text + ")"
		default:
			text += "-" + f.Text
		}
	}
	return text, side
}

// technicalWords are the signs that are printed as a word.
func technicalWords(n *music.Note) string {
	var words []string
	for _, m := range n.Marks {
		switch {
		case m.Kind == "golpe":
			words = append(words, "golpe")
		case m.Kind == "other-technical" && m.Text != "" && m.Text != string(music.RestStroke) && m.Text != string(music.FreeStroke):
			words = append(words, m.Text)
		}
	}
	return strings.Join(words, ", ")
}

// legato is a slur that the left hand plays, with the letter over it.
type legato struct{ from, to, text string }

// legatosOf pairs hammer-ons, pull-offs and slides that the file writes a letter over.
func legatosOf(s *music.Score) (out []legato) {
	ids := notation.NoteIDs(s)
	type key struct {
		part   int
		kind   string
		number int
	}
	open := map[key]legato{}
	for i := range s.Parts {
		for j := range s.Parts[i].Notes {
			id := ids[music.NoteRef{Part: i, Note: j}]
			for _, role := range []string{"stop", "start"} {
				for _, sp := range s.Parts[i].Notes[j].Spans {
					if sp.Role != role || (sp.Kind != "hammer-on" && sp.Kind != "pull-off" && sp.Kind != "slide") {
						continue
					}
					k := key{i, sp.Kind, sp.Number}
					if role == "start" {
						open[k] = legato{from: id, text: sp.Text}
						continue
					}
					if l, ok := open[k]; ok && l.text != "" {
						l.to = id
						out = append(out, l)
					}
					delete(open, k)
				}
			}
		}
	}
	return out
}

type voiceKey struct{ part, staff, bar int }

// voicesOf lists the voices of each bar of each staff, the upper one first.
func voicesOf(s *music.Score) map[voiceKey][]string {
	out := map[voiceKey][]string{}
	for i := range s.Parts {
		for j := range s.Parts[i].Notes {
			n := &s.Parts[i].Notes[j]
			k := voiceKey{i, n.Staff, n.Bar}
			if !slices.Contains(out[k], n.Voice) && !n.Hidden {
				out[k] = append(out[k], n.Voice)
			}
		}
	}
	for _, v := range out {
		slices.SortStableFunc(v, func(a, b string) int {
			x, errX := strconv.Atoi(a)
			y, errY := strconv.Atoi(b)
			if errX == nil && errY == nil {
				return x - y
			}
			return strings.Compare(a, b)
		})
	}
	return out
}

// crowded is the share of notes with a string number from which on the numbers are taken for a worked
// out fingering, of which the page shows only what a player needs. Our choice; no source.
const crowded = 0.5

// thinStrings takes away the string numbers that a player does not need where nearly every note has
// one: those of the string on which the note lies nearest the nut.
//
// Of those that stay, only the first of a run on one string is printed in each system: thin says so.
func thinStrings(s *music.Score, all []hand, how Strings) (thin bool) {
	given := 0
	for _, h := range all {
		if h.str > 0 {
			given++
		}
	}
	if how == StringsAll || (how == StringsAuto && float64(given) < crowded*float64(len(all))) {
		return false
	}
	tunings := make([][]int, len(s.Parts))
	for i := range s.Parts {
		tunings[i] = tuningOf(&s.Parts[i])
	}
	for i := range all {
		h := &all[i]
		if how == StringsNone || h.str > 0 && h.str == nearestNut(tunings[h.part], h.midi) {
			h.str = 0
		}
	}
	return true
}

// tuningOf are the open strings, the first string first.
func tuningOf(p *music.Part) []int {
	for _, a := range p.Attributes {
		if len(a.Tuning) > 0 {
			var out []int
			for _, t := range slices.Backward(a.Tuning) {
				out = append(out, t.Midi())
			}
			return out
		}
	}
	return []int{64, 59, 55, 50, 45, 40}
}

func nearestNut(tuning []int, midi int) int {
	best, at := 0, 0
	for i, open := range tuning {
		if fret := midi - open; fret >= 0 && (best == 0 || fret < at) {
			best, at = i+1, fret
		}
	}
	return best
}

// timesOf gives the place in time of everything that has an id on the page.
func timesOf(s *music.Score) map[string]music.Beats {
	out := map[string]music.Beats{}
	for ref, id := range notation.NoteIDs(s) {
		out[id] = s.Parts[ref.Part].Notes[ref.Note].Start
	}
	for i := range s.Parts {
		for j := range s.Parts[i].Notes {
			if n := &s.Parts[i].Notes[j]; n.Rest {
				out[fmt.Sprintf("r%d-%d", i+1, j+1)] = n.Start
			}
		}
	}
	return out
}
