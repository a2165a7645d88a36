package exercise

import (
	"math"
	"strconv"
	"strings"
	"unicode"
)

// Field is one line of a recipe, and one flag of the command.
type Field struct {
	Name string
	Help string
	set  func(text string) error
}

// Change sets one line of a recipe anew, as a flag does.
func (r *Recipe) Change(name, text string) error {
	f := find(r.Fields(), name)
	if f == nil {
		return bad("", "%q is no key of a recipe%s", clip(name), meant(name, r.Fields()))
	}
	delete(r.lines, name) // it no longer comes from that line
	return f.set(text)
}

// Fields lists all that a recipe may say, bound to r.
func (r *Recipe) Fields() []Field {
	return []Field{
		{"title", "What stands over the exercise.", line(&r.Title, "title")},
		{"trains", "One sentence: what the hands learn.", line(&r.Trains, "trains")},
		{"pattern", "What is played: " + list(patternNames(), "or") + ".", word(&r.Pattern)},
		{"key", "Keynote and mode, such as G major or F# harmonic minor.", word(&r.Key)},
		{"degrees", "Figure of pattern degrees, such as 1 3 2 4.", numbers(&r.Degrees, "degrees", -7, 15, 32)},
		{"chords", "Chords of pattern chords, such as C G7 C, or shapes such as x32010.", words(&r.Chords, "chords", 32)},
		{"strings", "Strings of open strings and chromatic, such as 6 5 4.", numbers(&r.Strings, "strings", 1, 6, 64)},
		{"together", "yes: both notes of an interval at once.", yesNo(&r.Together, "together")},
		{"octaves", "1 to 3.", whole(&r.Octaves, "octaves", 1, 3)},
		{"above", "Degrees beyond the upper keynote, 0 to 7.", whole(&r.Above, "above", 0, 7)},
		{"below", "Degrees below the lower keynote, 0 to 7.", whole(&r.Below, "below", 0, 7)},
		{"direction", "up, down, up-down or down-up; once for a figure of degrees that does not move.", oneOf(&r.Direction, "direction", "up", "down", "up-down", "down-up", "once")},
		{"start", "Where the lower keynote lies: 6/3 (string/fret), string 5, or G2.", word(&r.Start)},
		{"position", "1 to 12, or free for a hand that moves.", word(&r.Position)},
		{"each", "How often each note comes: 1 to 16, or rhythm.", word(&r.Each)},
		{"right-hand", "Fingers in turn: i m, p i m a, p5 i3 (m2a1), auto or none.", word(&r.RightHand)},
		{"bass", "held: what p plucks sounds on under the other fingers, as a voice of its own.", oneOf(&r.Bass, "bass", "held")},
		{"stroke", "rest, free, or by finger: p free, i m rest.", word(&r.Stroke)},
		{"rhythm", "quarters, eighths, triplets, long-short, short-long, or notes in turn: quarter eighth eighth.", word(&r.Rhythm)},
		{"time", "Time signature, such as 3/4.", word(&r.Time)},
		{"tempo", "Beats a minute to begin with, 20 to 240.", tempo(&r.Tempo, "tempo")},
		{"goal", "Beats a minute to reach, 20 to 240.", tempo(&r.Goal, "goal")},
		{"dynamics", "f, terraced f p every 2 bars, echo f p, crescendo p f, diminuendo f p, or swell p f.", word(&r.Dynamics)},
		{"accents", "beats, bars, or every 3 (notes, wherever the beat is).", word(&r.Accents)},
		{"tone", "over the neck, over the hole or near the bridge; several in turn with commas, every so many bars.", word(&r.Tone)},
		{"rounds", "Times the pattern is written out, 1 to 12, for a plan of loudness or tone that changes on the way.", whole(&r.Rounds, "rounds", 1, 12)},
		{"repeat", "Times the whole is played, by a repeat sign, 1 to 8.", whole(&r.Repeat, "repeat", 1, 8)},
		{"without", "What is not learnt yet: fourth finger, barre, stretch, a.", word(&r.Without)},
		{"scale-mm", "Length of the guitar's open strings, 300 to 900 mm.", millimetres(&r.ScaleMm, "scale-mm", 300, 900)},
		{"span-mm", "Span of the left hand, tip of thumb to tip of little finger, 80 to 280 mm.", millimetres(&r.SpanMm, "span-mm", 80, 280)},
		{"names", "letters or do-re-mi under the notes.", oneOf(&r.Names, "names", "letters", "do-re-mi")},
		{"variants", "One after the other: " + list(variantNames(), "or") + ".", words(&r.Variants, "variants", 4)},
	}
}

// line is text for people: one line, not endless.
func line(to *string, key string) func(string) error {
	return func(text string) error {
		text = strings.TrimSpace(text)
		if len(text) > 300 {
			return bad(key, "it is longer than a line of 300 letters; shorten it")
		}
		if strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsGraphic(r) || r == unicode.ReplacementChar }) {
			return bad(key, "it holds a sign that cannot be printed, or more than one line; write it on one line")
		}
		*to = text
		return nil
	}
}

// word is text that is read later, where its meaning is known.
func word(to *string) func(string) error {
	return func(text string) error {
		*to = strings.Join(strings.Fields(text), " ")
		return nil
	}
}

func words(to *[]string, key string, most int) func(string) error {
	return func(text string) error {
		list := strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' || r == '|' })
		if len(list) == 0 || len(list) > most {
			return bad(key, "%d of them; give 1 to %d", len(list), most)
		}
		*to = list
		return nil
	}
}

func numbers(to *[]int, key string, low, high, most int) func(string) error {
	return func(text string) error {
		var list []string
		if err := words(&list, key, most)(text); err != nil {
			return err
		}
		out := make([]int, len(list))
		for i, w := range list {
			if err := whole(&out[i], key, low, high)(w); err != nil {
				return err
			}
		}
		*to = out
		return nil
	}
}

func whole(to *int, key string, low, high int) func(string) error {
	return func(text string) error {
		n, err := strconv.Atoi(strings.TrimSpace(text))
		if err != nil || n < low || n > high {
			return bad(key, "%q cannot be; give a whole number from %d to %d", clip(text), low, high)
		}
		*to = n
		return nil
	}
}

func tempo(to *float64, key string) func(string) error {
	return func(text string) error {
		v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if err != nil || !(v >= 20 && v <= 240) || v != math.Round(v*10)/10 {
			return bad(key, "%q is no tempo; give 20 to 240 beats a minute, in tenths at most", clip(text))
		}
		*to = v
		return nil
	}
}

func millimetres(to *float64, key string, low, high float64) func(string) error {
	return func(text string) error {
		v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(text, "mm")), 64)
		if err != nil || !(v >= low && v <= high) {
			return bad(key, "%q cannot be; give %v to %v mm", clip(text), low, high)
		}
		*to = v
		return nil
	}
}

func yesNo(to *bool, key string) func(string) error {
	return func(text string) error {
		switch strings.ToLower(strings.TrimSpace(text)) {
		case "yes", "true":
			*to = true
		case "no", "false":
			*to = false
		default:
			return bad(key, "%q is neither yes nor no", clip(text))
		}
		return nil
	}
}

func oneOf(to *string, key string, allowed ...string) func(string) error {
	return func(text string) error {
		t := strings.ToLower(strings.TrimSpace(text))
		for _, a := range allowed {
			if t == a {
				*to = a
				return nil
			}
		}
		return bad(key, "%q is not known; choose %s", clip(text), list(allowed, "or"))
	}
}
