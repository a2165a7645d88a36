package engrave

import (
	"fmt"
	"slices"
	"strings"

	"antiphon/internal/music"
)

// BarWords is one bar as it can be read aloud.
type BarWords struct {
	Index  int    // into Score.Bars
	Number string // as printed
	Say    string // "Bar 3. Beat 1: E4, 1 beat, finger 2. Beat 2: low C3 and G4, 2 beats."
}

// Speech is how bars are read aloud in a language: formats with %s for what changes. The zero value is English.
type Speech struct {
	Bar, Silence, Grace, Beat            string
	One, Part, More                      string // beats: one, a part of one, several
	For, And                             string // a note for its length; between two names
	Finger, Open, With                   string // a note and what the hands do
	Sharp, Flat, DoubleSharp, DoubleFlat string
	Names                                Names // of the notes; NoNames: by their letters
}

func english() Speech {
	return Speech{Bar: "Bar %s.", Silence: "Silence.", Grace: "Grace note %s.", Beat: "Beat %s", One: "1 beat", Part: "%s of a beat", More: "%s beats",
		For: "%s for %s", And: " and ", Finger: "%s finger %s", Open: "%s open string", With: "%s with %s",
		Sharp: "sharp", Flat: "flat", DoubleSharp: "double sharp", DoubleFlat: "double flat"}
}

// Words puts a passage into words, bar by bar: what sounds on which beat, how long, and what the hands
// do. Until is the first bar that is not read; 0 means to the end.
func Words(s *music.Score, from, until int, in Speech) []BarWords {
	if in.Bar == "" {
		in = english()
	}
	if until <= 0 || until > len(s.Bars) {
		until = len(s.Bars)
	}
	byBar := make([][]music.Sounding, len(s.Bars))
	for _, n := range s.Sounding() {
		byBar[n.BarIndex] = append(byBar[n.BarIndex], n)
	}
	var out []BarWords
	for i := max(from, 0); i < until; i++ {
		b := &s.Bars[i]
		w := BarWords{Index: i, Number: b.Number}
		if w.Number == "" {
			w.Number = fmt.Sprint(i + 1)
		}
		w.Say = fmt.Sprintf(in.Bar, w.Number) + " " + in.bar(byBar[i], b)
		out = append(out, w)
	}
	return out
}

func (in Speech) bar(notes []music.Sounding, b *music.Bar) string {
	if len(notes) == 0 {
		return in.Silence
	}
	beat := beatOf(b.Time)
	var said []string
	for i := 0; i < len(notes); {
		j := i + 1
		for j < len(notes) && notes[j].Onset.Cmp(notes[i].Onset) == 0 && notes[j].Grace == notes[i].Grace {
			j++
		}
		said = append(said, in.together(notes[i:j], notes[i].Onset.Sub(b.Start), beat))
		i = j
	}
	return strings.Join(said, " ")
}

// together says what begins at one moment: alike in length, the names are joined.
func (in Speech) together(notes []music.Sounding, at, beat music.Beats) string {
	notes = slices.Clone(notes)
	slices.SortStableFunc(notes, func(a, b music.Sounding) int { return a.Midi - b.Midi })
	if notes[0].Grace {
		return fmt.Sprintf(in.Grace, in.handled(notes[0]))
	}
	same := true
	for _, n := range notes {
		same = same && n.Duration.Cmp(notes[0].Duration) == 0
	}
	var names []string
	for _, n := range notes {
		name := in.handled(n)
		if !same {
			name = fmt.Sprintf(in.For, name, in.beats(n.Duration, beat))
		}
		names = append(names, name)
	}
	place := fmt.Sprintf(in.Beat, fraction(at, beat, 1))
	if same {
		return place + ": " + in.listed(names) + ", " + in.beats(notes[0].Duration, beat) + "."
	}
	return place + ": " + in.listed(names) + "."
}

// handled is a note with what the hands do.
func (in Speech) handled(n music.Sounding) string {
	name := strings.NewReplacer("##", " "+in.DoubleSharp+" ", "#", " "+in.Sharp+" ", "bb", " "+in.DoubleFlat+" ", "b", " "+in.Flat+" ").Replace(n.Name)
	if n.Name != "" && in.Names == DoReMi {
		name = nameOf(music.Pitch{Step: n.Name[0]}, DoReMi) + " " + name[1:]
	}
	if n.Finger != "" && n.Finger != "0" {
		name = fmt.Sprintf(in.Finger, name, n.Finger)
	}
	if n.Finger == "0" || n.Fret == 0 && n.String > 0 {
		name = fmt.Sprintf(in.Open, name)
	}
	if n.Pluck != "" {
		name = fmt.Sprintf(in.With, name, n.Pluck)
	}
	return strings.Join(strings.Fields(name), " ")
}

func (in Speech) listed(names []string) string {
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + in.And + names[n-1]
	}
	return names[0]
}

// beatOf is the written beat: a quarter where nothing is said, a dotted one in 6/8 and its like.
func beatOf(t music.Time) music.Beats {
	if len(t.Parts) == 0 || t.Senza || t.Parts[0].Unit == 0 {
		return music.Quarters(1, 1)
	}
	if t.Compound() {
		return music.Quarters(12, int64(t.Parts[0].Unit))
	}
	return music.Quarters(4, int64(t.Parts[0].Unit))
}

func (in Speech) beats(d, beat music.Beats) string {
	text := fraction(d, beat, 0)
	switch {
	case d.Cmp(beat) == 0:
		return in.One
	case d.Less(beat):
		return fmt.Sprintf(in.Part, text)
	}
	return fmt.Sprintf(in.More, text)
}

// fraction writes a length in beats as "2 1/2", counted from first.
func fraction(d, beat music.Beats, first int64) string {
	dn, dd := d.Fraction()
	bn, bd := beat.Fraction()
	num, den := music.Quarters(dn*bd, dd*bn).Fraction()
	if den == 0 {
		den = 1
	}
	whole, rest := num/den+first, num%den
	switch {
	case rest == 0:
		return fmt.Sprint(whole)
	case whole == 0:
		return fmt.Sprintf("%d/%d", rest, den)
	}
	return fmt.Sprintf("%d %d/%d", whole, rest, den)
}
