package pluck

import (
	"slices"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// note is one sounding note of the player.
type note struct {
	music.Sounding
	index   int // in Score.Sounding
	place   guitar.Place
	low     int // its string in the lowest position, by pitch alone: how bass or treble it is
	endQ    float64
	must    finger // none, or the finger that it has to be
	given   bool   // must is by a mark, the pattern or an option
	little  bool   // marked c: the little finger, which stands where a would
	slurred bool
	why     string
	twin    *note // another voice's note that the same stroke plays

	under bool // goes on sounding below the notes that follow
	home  int  // 0 the highest string in use hereabouts, 1 the next …
	homes int  // strings in use hereabouts
	grain int  // 0 broken chords, 1 mixed, 2 scales
	line  bool // one of a melody alone
	run   bool // one of a scale: single notes step by step

	finger  finger
	marked  music.Stroke // in the score
	stroke  music.Stroke
	mayRest bool
}

// moment is what is plucked at one time, from the lowest string upwards.
type moment struct {
	atQ   float64
	secs  float64 // to the next moment
	bar   int
	notes []*note
	all   []*note // with what is slurred
	used  uint64  // strings, as bits; without a bass that sounds on
}

// layout is the music of one player.
type layout struct {
	in      guitar.Instrument
	noA     bool
	sparing bool // the marks that are given use a nowhere
	all     []*note
	moments []moment // those where something is plucked
}

func layOut(s *music.Score, parts []int, sounding []music.Sounding, written [][]music.NoteRef, places map[string]guitar.Place, o Options) *layout {
	l := &layout{in: o.Instrument, noA: o.NoA}
	for k, sd := range sounding {
		if len(written[k]) == 0 || !slices.Contains(parts, written[k][0].Part) || sd.Cue {
			continue
		}
		n := &note{Sounding: sd, index: k, endQ: sd.Onset.Add(sd.Duration).Q(), must: fingerOf(sd.Pluck), little: sd.Pluck == "c", finger: none}
		first := written[k][0]
		n.marked = s.Parts[first.Part].Notes[first.Note].Stroke()
		if n.little {
			n.must = a
		}
		if f, ok := o.Fix[sd.ID]; ok {
			n.must, n.little = fingerOf(f), false
		}
		n.given = n.must != none
		n.place = places[sd.ID]
		if n.place.String == 0 && sd.String > 0 {
			n.place = guitar.Place{String: sd.String, Fret: max(sd.Fret, sd.Midi-l.in.Pitch(sd.String, 0))}
		}
		l.all = append(l.all, n)
	}
	slices.SortStableFunc(l.all, func(x, y *note) int {
		if c := x.Onset.Cmp(y.Onset); c != 0 || x.Grace == y.Grace {
			return c
		}
		if x.Grace {
			return -1
		}
		return 1
	})
	l.registers()
	l.guessPlaces()
	l.slurs(s, written)
	for k := 0; k < len(l.all); {
		end := k + 1
		for end < len(l.all) && l.all[end].Onset == l.all[k].Onset && !l.all[k].Grace {
			end++
		}
		l.addMoment(l.all[k:end])
		k = end
	}
	for k := range l.moments {
		mo := &l.moments[k]
		mo.secs = 1
		if k+1 < len(l.moments) {
			bpm, _ := s.TempoAt(mo.notes[0].Onset)
			if bpm <= 0 {
				bpm = music.DefaultQuarterBpm
			}
			mo.secs = (l.moments[k+1].atQ - mo.atQ) * 60 / bpm
		}
	}
	l.sparing = l.spares()
	l.texture()
	l.tremolo()
	return l
}

// addMoment takes notes that start together; two on one string are one stroke.
func (l *layout) addMoment(notes []*note) {
	mo := moment{atQ: notes[0].Onset.Q(), bar: notes[0].BarIndex, all: notes}
	type sound struct{ str, midi int }
	known := map[sound]*note{}
	for _, n := range notes {
		if n.slurred {
			continue
		}
		at := sound{n.place.String, n.Midi}
		first := known[at]
		if first == nil {
			known[at] = n
			mo.notes = append(mo.notes, n)
			continue
		}
		n.twin = first
		first.endQ = max(first.endQ, n.endQ)
		if first.must == none {
			first.must, first.given, first.little = n.must, n.given, n.little
		}
	}
	if len(mo.notes) == 0 {
		return
	}
	slices.SortStableFunc(mo.notes, func(x, y *note) int {
		if x.place.String != y.place.String {
			return y.place.String - x.place.String
		}
		return x.Midi - y.Midi
	})
	l.moments = append(l.moments, mo)
}

// slurs finds the notes that the left hand sounds alone. A curve over two or three notes of one voice on
// one string is taken for such a slur, a longer one for a phrase (common practice, no source).
func (l *layout) slurs(s *music.Score, written [][]music.NoteRef) {
	type line struct {
		part, number int
		voice        string
	}
	open := map[line][]*note{}
	for _, n := range l.all {
		if n.Slurred {
			n.slurred, n.why = true, "slurred: the left hand sounds it"
		}
		var begins, ends []line
		for _, r := range written[n.index] {
			for _, sp := range s.Parts[r.Part].Notes[r.Note].Spans {
				if sp.Kind == "slur" && sp.Role == "start" {
					begins = append(begins, line{r.Part, sp.Number, n.Voice})
				}
				if sp.Kind == "slur" && sp.Role == "stop" {
					ends = append(ends, line{r.Part, sp.Number, n.Voice})
				}
			}
		}
		for number := 0; number <= maxLines; number++ {
			at := line{written[n.index][0].Part, number, n.Voice}
			if under := open[at]; under != nil && len(under) <= maxSlur {
				open[at] = append(under, n)
			}
		}
		for _, e := range ends {
			if under := open[e]; sameString(under) {
				for _, x := range under[1:] {
					x.slurred, x.why = true, "slurred: the left hand sounds it"
				}
			}
			delete(open, e)
		}
		for _, b := range begins {
			open[b] = []*note{n}
		}
	}
}

const (
	maxSlur  = 3
	maxLines = 16 // numbers that tell slurs apart, in MusicXML
)

func sameString(notes []*note) bool {
	if len(notes) < 2 || len(notes) > maxSlur {
		return false
	}
	for k, n := range notes[1:] {
		if n.place.String != notes[0].place.String || n.place.String == 0 || n.Midi == notes[k].Midi || n.Onset == notes[k].Onset && !notes[k].Grace || n.must != none {
			return false
		}
	}
	return true
}
