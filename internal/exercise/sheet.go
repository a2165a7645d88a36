package exercise

import (
	"cmp"
	"slices"
	"strconv"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// tone is one note to be played, however many written notes its length will need. Of Note it uses
// all but Bar, Chord, Type, Dots, Ratio, Tuplets, ties, Accidental, Stem and Beams: those come from lay.
type tone struct {
	music.Note
	grace []music.Note // that lead to it
}

// sheet is an exercise before it is written out in bars of notes.
type sheet struct {
	title, trains string
	guitar        guitar.Instrument
	player        player
	fromScore     bool               // the notes are a piece's, so it is the piece that would have to be fingered otherwise
	head          []music.Attributes // tuning, capo and transposition of the source; At and Bar are 0
	key           music.Key
	time          music.Time
	tones         []tone // in order of start
	bars          int    // 0 as many as the tones need
	signs         []music.Direction
	repeats       []again
	tempos        []music.TempoMark
	goal          float64
	reason        string // why it was made so, where a fault asked for it
	rings         bool   // broken chords: what was plucked rings on until the chord changes
}

// again is a stretch of bars between repeat signs.
type again struct{ from, to, times int }

func (s *sheet) barLength() music.Beats { return s.time.Length() }

// beat is what the foot taps: a dotted note in compound time, else the note of the signature.
func (s *sheet) beat() music.Beats { return beatOf(s.time) }

func beatOf(t music.Time) music.Beats {
	unit := music.Quarters(4, int64(t.Parts[0].Unit))
	if t.Compound() {
		return unit.Mul(3, 1)
	}
	return unit
}

// end is where the last tone ends.
func (s *sheet) end() music.Beats {
	var e music.Beats
	for _, t := range s.tones {
		if e.Less(t.End()) {
			e = t.End()
		}
	}
	return e
}

// countBars is how many bars hold so many beats.
func (s *sheet) countBars(b music.Beats) int {
	n := 0
	for at := (music.Beats{}); at.Less(b); at = at.Add(s.barLength()) {
		n++
	}
	return n
}

func (s *sheet) barStart(n int) music.Beats { return s.barLength().Mul(int64(n), 1) }

// fill lengthens what sounds last to the end of its bar, so that the last bar is full.
func (s *sheet) fill() {
	end := s.end()
	full := s.barStart(s.countBars(end))
	for i := range s.tones {
		if t := &s.tones[i]; t.End().Cmp(end) == 0 {
			t.Duration = full.Sub(t.Start)
		}
	}
	s.bars = s.countBars(full)
}

// sort puts tones in order of start, voice and pitch.
func (s *sheet) sort() {
	slices.SortStableFunc(s.tones, func(a, b tone) int {
		return cmp.Or(a.Start.Cmp(b.Start), cmp.Compare(a.Voice, b.Voice), a.Pitch.Midi()-b.Pitch.Midi())
	})
}

// clone is a copy whose tones and signs may be changed.
func (s *sheet) clone() *sheet {
	c := *s
	c.tones = make([]tone, len(s.tones))
	for i, t := range s.tones {
		c.tones[i] = t.clone()
	}
	c.signs, c.repeats, c.tempos = slices.Clone(s.signs), slices.Clone(s.repeats), slices.Clone(s.tempos)
	return &c
}

func (t tone) clone() tone {
	t.Fingers, t.Plucks, t.Marks, t.Spans, t.Lyrics = slices.Clone(t.Fingers), slices.Clone(t.Plucks), slices.Clone(t.Marks), slices.Clone(t.Spans), slices.Clone(t.Lyrics)
	t.Dynamics = slices.Clone(t.Dynamics)
	t.grace = slices.Clone(t.grace)
	return t
}

// add puts another sheet of the same time signature behind this one.
func (s *sheet) add(o *sheet) {
	at := s.barStart(s.bars)
	for _, t := range o.tones {
		t = t.clone()
		t.Start = t.Start.Add(at)
		for i := range t.grace {
			t.grace[i].Start = t.grace[i].Start.Add(at)
		}
		s.tones = append(s.tones, t)
	}
	for _, d := range o.signs {
		d.At = d.At.Add(at)
		s.signs = append(s.signs, d)
	}
	for _, r := range o.repeats {
		s.repeats = append(s.repeats, again{r.from + s.bars, r.to + s.bars, r.times})
	}
	for _, t := range o.tempos {
		t.At = t.At.Add(at)
		s.tempos = append(s.tempos, t)
	}
	s.bars += o.bars
}

// say puts words over the start of a bar.
func (s *sheet) say(bar int, text string) {
	s.signs = append(s.signs, music.Direction{At: s.barStart(bar), Kind: music.Words, Text: text, Placed: "above"})
}

// finger is the left-hand finger of a tone, -1 where none is stated.
func (t tone) finger() int {
	for _, f := range t.Fingers {
		if n, err := strconv.Atoi(f.Text); err == nil && n >= 0 && n <= 4 && !f.Substitution && !f.Alternate {
			return n
		}
	}
	return -1
}

func (t *tone) setFinger(n int) { t.Fingers = []music.Fingering{{Text: strconv.Itoa(n)}} }

func (t *tone) setPlace(p guitar.Place) { t.String, t.Fret, t.HasFret = p.String, p.Fret, true }

// pluck is the right-hand finger, "" where none is stated.
func (t tone) pluck() string {
	if len(t.Plucks) == 0 {
		return ""
	}
	return t.Plucks[0]
}

// groups are the tones that start together, in order, as indices.
func (s *sheet) groups() [][]int {
	var out [][]int
	for i := range s.tones {
		if i > 0 && s.tones[i].Start.Cmp(s.tones[i-1].Start) == 0 {
			out[len(out)-1] = append(out[len(out)-1], i)
			continue
		}
		out = append(out, []int{i})
	}
	return out
}
