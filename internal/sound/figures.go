package sound

import (
	"cmp"
	"slices"

	"antiphon/internal/music"
)

// ligados finds the slurs that the left hand plays alone: short ones, up or down by a reach of the
// hand, from each note to the next. Guitar music writes them as plain slurs; a long arch is a phrase
// and is plucked (common practice, no source).
func ligados(s *music.Score, sounds []music.Sounding, written [][]music.NoteRef, out []touch) {
	const most, reach = 3, 5 // notes, semitones
	byLine := map[line][]int{}
	for i, n := range sounds {
		k := line{n.Part, n.Voice}
		byLine[k] = append(byLine[k], i)
	}
	for _, l := range byLine {
		for k, i := range l {
			for _, sp := range startsOf(s, written[i]) {
				var under []int
				for j := k + 1; j < len(l) && len(under) <= most+1; j++ {
					under = append(under, l[j])
					if endsHere(s, written[l[j]], sp.Number) {
						break
					}
				}
				if n := len(under); n == 0 || n > most || !endsHere(s, written[under[n-1]], sp.Number) {
					continue
				}
				before := i
				for _, j := range under {
					far := sounds[j].Midi - sounds[before].Midi
					sameString := sounds[j].String == 0 || sounds[before].String == 0 || sounds[j].String == sounds[before].String
					if far != 0 && far >= -reach && far <= reach && sameString && (sounds[before].Onset != sounds[j].Onset || sounds[before].Grace) {
						out[j].slurred = true
					}
					before = j
				}
			}
		}
	}
}

func startsOf(s *music.Score, refs []music.NoteRef) (out []music.Span) {
	for _, r := range refs {
		for _, sp := range s.Parts[r.Part].Notes[r.Note].Spans {
			if sp.Kind == "slur" && sp.Role == "start" {
				out = append(out, sp)
			}
		}
	}
	return out
}

func endsHere(s *music.Score, refs []music.NoteRef, number int) bool {
	for _, r := range refs {
		for _, sp := range s.Parts[r.Part].Notes[r.Note].Spans {
			if sp.Kind == "slur" && sp.Role == "stop" && sp.Number == number {
				return true
			}
		}
	}
	return false
}

// chords numbers the notes of each rolled chord in the order in which they sound.
func chords(s *music.Score, sounds []music.Sounding, written [][]music.NoteRef, index map[string]int, out []touch) {
	for i := 0; i < len(sounds); {
		j := i
		var rolled []int
		down := false
		for ; j < len(sounds) && sounds[j].Onset == sounds[i].Onset && sounds[j].Part == sounds[i].Part; j++ {
			if sounds[j].Rolled && !sounds[j].Grace {
				rolled = append(rolled, j)
				r := written[j][0]
				down = down || s.Parts[index[sounds[j].Part]].Notes[r.Note].Arpeggio.Form == "down"
			}
		}
		slices.SortStableFunc(rolled, func(a, b int) int { return cmp.Compare(sounds[a].Midi, sounds[b].Midi) })
		if down {
			slices.Reverse(rolled)
		}
		if len(rolled) > 1 {
			for k, at := range rolled {
				out[at].roll, out[at].rolled = k, len(rolled)
			}
		}
		i = j
	}
}

// rollS is the time from note to note of a rolled chord. Its first note is on the beat. Our choice, no source.
const (
	rollS        = 0.038
	mostRollPart = 0.4 // of the chord's length is given to rolling
)

func (t touch) rollS(lengthS float64) float64 {
	if t.rolled < 2 {
		return 0
	}
	return float64(t.roll) * min(rollS, mostRollPart*lengthS/float64(t.rolled))
}

// graces counts, for each grace note, how many stand from it on before the same main note.
func graces(sounds []music.Sounding, out []touch) {
	for i := len(sounds) - 1; i >= 0; i-- {
		if !sounds[i].Grace {
			continue
		}
		out[i].grace = 1
		if i+1 < len(sounds) && sounds[i+1].Grace && sounds[i+1].Part == sounds[i].Part && sounds[i+1].Onset == sounds[i].Onset {
			out[i].grace += out[i+1].grace
		}
	}
}

// Arpeggios are runs of so many notes of one voice in one bar that leap by at least so many semitones,
// over so many strings. Guitarists leave the fingers down and let them ring (common practice, no
// source); the numbers, and that they ring to the end of the bar, are ours.
const (
	arpeggioNotes   = 4
	arpeggioLeap    = 3
	arpeggioStrings = 3
)

func arpeggios(s *music.Score, sounds []music.Sounding, out []touch) {
	byLine := map[line][]int{}
	for i, n := range sounds {
		if !n.Grace {
			k := line{n.Part, n.Voice}
			byLine[k] = append(byLine[k], i)
		}
	}
	for _, l := range byLine {
		for from := 0; from < len(l); {
			to := from
			strings := map[int]bool{out[l[from]].str: true}
			for to+1 < len(l) && leaps(sounds, out, l[to], l[to+1]) {
				to++
				strings[out[l[to]].str] = true
			}
			if to-from+1 >= arpeggioNotes && len(strings) >= arpeggioStrings {
				for _, i := range l[from : to+1] {
					if out[i].length == 1 {
						out[i].ringTo = s.Bars[sounds[i].BarIndex].End().Sub(sounds[i].Onset)
					}
				}
			}
			from = to + 1
		}
	}
}

// leaps reports whether b follows a as the next note of an arpeggio.
func leaps(sounds []music.Sounding, out []touch, a, b int) bool {
	m, n := &sounds[a], &sounds[b]
	far := n.Midi - m.Midi
	return m.BarIndex == n.BarIndex && m.Onset.Less(n.Onset) && !m.Onset.Add(m.Duration).Less(n.Onset) &&
		max(far, -far) >= arpeggioLeap && out[a].str > 0 && out[b].str > 0 && !out[b].slurred
}

// graceS is the length of a grace note. Grace notes come before the beat, so that the main note is on
// it; there they take at most a part of a beat. Our choice, no source.
const (
	graceS        = 0.075
	mostGracePart = 0.25 // of a beat, for all that lead to one note
	quickestS     = 0.02
)

func graceLengthS(count int, beatS float64) float64 {
	return max(quickestS, min(graceS, mostGracePart*beatS/float64(count)))
}

// assign gives every note a string: its own, or the one where it lies lowest and that nothing else
// of its part is sounding on. Only what rings into what depends on it, and our own strings' colour.
func assign(s *music.Score, sounds []music.Sounding, out []touch) {
	for _, p := range s.Parts {
		open := openStrings(&p)
		busy := make([]music.Beats, len(open)) // until when
		for i, n := range sounds {
			if n.Part != p.ID {
				continue
			}
			str := n.String
			if str < 1 || str > len(open) {
				str = freeString(open, busy, n)
			}
			if str == 0 {
				continue
			}
			out[i].str, out[i].fret = str, max(0, n.Midi-open[str-1])
			if n.Fret >= 0 && n.String > 0 && !out[i].harmonic {
				out[i].fret = n.Fret
			}
			busy[str-1] = n.Onset.Add(n.Duration)
		}
	}
}

func freeString(open []int, busy []music.Beats, n music.Sounding) int {
	for str, midi := range open { // from the highest: the lowest fret first
		if fret := n.Midi - midi; fret >= 0 && fret <= 24 && !n.Onset.Less(busy[str]) {
			return str + 1
		}
	}
	return 0
}

// openStrings of a part, 1 first: as its tablature states them, else a guitar's.
func openStrings(p *music.Part) []int {
	for _, a := range p.Attributes {
		if n := len(a.Tuning); n >= 4 && n <= 12 {
			var open []int
			for _, t := range a.Tuning {
				open = append(open, t.Midi())
			}
			slices.SortFunc(open, func(a, b int) int { return b - a })
			return open
		}
	}
	return []int{64, 59, 55, 50, 45, 40}
}
