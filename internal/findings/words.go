package findings

import (
	"fmt"
	"math"
	"strings"

	"antiphon/internal/music"
)

// barName is the printed number of a bar; a bar without one is named by its place in the file.
func (s *scene) barName(index int) string {
	if index < 0 || index >= len(s.score.Bars) {
		return "?"
	}
	if n := s.score.Bars[index].Number; n != "" {
		return n
	}
	return fmt.Sprint(index + 1)
}

// barsInWords is "bar 5" or "bars 5–8", and "the pickup" for bar 0.
func (s *scene) barsInWords(from, to int) string {
	a, b := s.barName(from), s.barName(to)
	switch {
	case from == to && a == "0":
		return "the pickup"
	case from == to:
		return "bar " + a
	}
	return "bars " + a + "–" + b
}

// beatInWords says where in its bar a note stands: "beat 2", "the second half of beat 2".
func (s *scene) beatInWords(n music.Sounding) string {
	if n.BarIndex < 0 || n.BarIndex >= len(s.score.Bars) {
		return ""
	}
	bar := s.score.Bars[n.BarIndex]
	unit := s.score.BeatUnitAt(bar.Start).Q()
	q := n.Onset.Sub(bar.Start).Q()
	if full := bar.Time.Length().Q(); bar.Implicit && n.BarIndex == 0 && full > bar.Length.Q() {
		q += full - bar.Length.Q() // a pickup counts from where a full bar would have begun
	}
	beat := q / unit
	whole := math.Floor(beat + 1e-6)
	switch part := beat - whole; {
	case part < 0.01:
		return fmt.Sprintf("beat %d", int(whole)+1)
	case math.Abs(part-0.5) < 0.01:
		return fmt.Sprintf("the second half of beat %d", int(whole)+1)
	}
	return fmt.Sprintf("within beat %d", int(whole)+1)
}

// placeInWords is "Bar 5, beat 2", with the part where there are several.
func (s *scene) placeInWords(n music.Sounding) string {
	text := s.barsInWords(n.BarIndex, n.BarIndex)
	if beat := s.beatInWords(n); beat != "" {
		text += ", " + beat
	}
	return capital(text + s.partInWords(n.Part))
}

func (s *scene) partInWords(part string) string {
	if len(s.score.Parts) < 2 {
		return ""
	}
	for i, p := range s.score.Parts {
		if p.ID == part {
			if p.Name != "" {
				return " (" + p.Name + ")"
			}
			return fmt.Sprintf(" (part %d)", i+1)
		}
	}
	return ""
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// pitchInWords turns "F#4" into "F sharp".
func pitchInWords(name string) string {
	if name == "" {
		return "a note"
	}
	rest := strings.TrimRight(name[1:], "-0123456789")
	step := name[:1]
	switch rest {
	case "#":
		return step + " sharp"
	case "b":
		return step + " flat"
	case "##":
		return step + " double sharp"
	case "bb":
		return step + " double flat"
	}
	return step
}

// Place is "Bar 5, beat 2", with the part where there are several.
func Place(score *music.Score, n music.Sounding) string {
	return (&scene{score: score}).placeInWords(n)
}

// Pitch turns "F#4" into "F sharp".
func Pitch(name string) string { return pitchInWords(name) }

// Heard names a pitch that was heard in a bar of a part as the key would: "F natural" where the key has
// F sharp. Beside the written note at another octave: "the C an octave lower".
func Heard(score *music.Score, midi int, written music.Sounding) string {
	s := scene{score: score}
	if written.ID == "" {
		return s.spelled(midi, written.Part, written.BarIndex)
	}
	return s.heardInWords(midi, written)
}

// HeardSign is the same with signs and without the octave: "F♮", "B♭".
func HeardSign(score *music.Score, midi int, part string, bar int) string {
	fifths := (&scene{score: score}).fifths(part, bar)
	p := music.SpellMidi(midi, fifths)
	if p.Alter == 0 && AlteredByKey(p.Step, fifths) {
		return string(p.Step) + "♮"
	}
	return Sign(p.Name())
}

// Sign writes "F#4" as "F♯".
func Sign(name string) string {
	if name == "" {
		return ""
	}
	return name[:1] + strings.NewReplacer("##", "𝄪", "bb", "𝄫", "#", "♯", "b", "♭").Replace(strings.TrimRight(name[1:], "-0123456789"))
}

// spelled names a heard pitch as the key would: "F natural" where the key has F sharp.
func (s *scene) spelled(midi int, part string, bar int) string {
	fifths := s.fifths(part, bar)
	p := music.SpellMidi(midi, fifths)
	if p.Alter == 0 && AlteredByKey(p.Step, fifths) {
		return string(p.Step) + " natural"
	}
	return pitchInWords(p.Name())
}

// AlteredByKey reports whether a key of so many fifths sharpens or flattens a step.
func AlteredByKey(step byte, fifths int) bool {
	const order = "FCGDAEB" // sharps come in this order, flats in the other
	at := strings.IndexByte(order, step)
	return at >= 0 && (fifths > at || fifths < at-6)
}

// heardInWords names a pitch heard in place of a written one: "F sharp", "the C an octave lower".
func (s *scene) heardInWords(midi int, written music.Sounding) string {
	word := s.spelled(midi, written.Part, written.BarIndex)
	diff := midi - written.Midi
	if diff != 0 && diff%12 == 0 {
		way := "higher"
		if diff < 0 {
			way = "lower"
		}
		if diff == 12 || diff == -12 {
			return "the " + word + " an octave " + way
		}
		return fmt.Sprintf("the %s %d octaves %s", word, max(diff, -diff)/12, way)
	}
	return word
}

// ordinal of a string or a time.
func ordinal(n int) string {
	words := [...]string{"", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"}
	if n > 0 && n < len(words) {
		return words[n]
	}
	return fmt.Sprintf("%dth", n)
}

// timesInWords is "once", "twice", "3 times".
func timesInWords(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

// countInWords is "a note" or "3 notes".
func countInWords(n int, one string) string {
	if n == 1 {
		return "a " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}

// list joins words: "a", "a and b", "a, b and c".
func list(words []string) string {
	switch n := len(words); n {
	case 0:
		return ""
	case 1:
		return words[0]
	default:
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
}
