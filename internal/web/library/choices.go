package library

import (
	"net/url"
	"strconv"
	"strings"

	"antiphon/internal/guitar"
	"antiphon/internal/hands"
)

// choices are what the teacher asks of a fingering.
type choices struct {
	From, To string // bars; "" the whole score
	Anew     bool   // marks that stand in these bars make way
	Leave    bool   // the right hand stays as it is

	FirstPosition, NoFourth, NoBarre, NoStretch, NoA bool
	Hardest                                          bool // the hardest move as easy as can be, the sum second
	Rest                                             bool // melodies with rest strokes
	Pattern                                          string
	SpanMm, ScaleMm                                  float64
	Tuning                                           string
	Capo                                             int
	Ways                                             int
	Fix                                              []string // "n12:3/4": note n12 on string 3 with finger 4
}

// switches are the choices that are on or off, as the form names and words them.
func (c *choices) switches() []toggle {
	return []toggle{
		{"first", "First position only", &c.FirstPosition, false},
		{"no-fourth", "No fourth finger yet", &c.NoFourth, false},
		{"no-barre", "No barre yet", &c.NoBarre, false},
		{"no-stretch", "No stretches", &c.NoStretch, false},
		{"no-a", "No ring finger in the right hand yet", &c.NoA, false},
		{"hardest", "The hardest move as easy as can be, for beginners", &c.Hardest, false},
		{"rest", "Melodies with rest strokes", &c.Rest, false},
		{"anew", "Choose anew what is marked already", &c.Anew, true},
		{"leave", "Leave the right hand as it is", &c.Leave, true},
	}
}

type toggle struct {
	Name, Words string
	on          *bool
	Marks       bool // it is about marks that stand in the score
}

// On says whether it was asked for.
func (t toggle) On() bool { return *t.on }

// guitars are the usual sizes with their string lengths (common practice, no source; makers differ by a centimetre).
func guitars() []option {
	return []option{{"", "full size, 650 mm"}, {"630", "seven eighths, 630 mm"}, {"580", "three quarters, 580 mm"}, {"530", "half, 530 mm"}, {"480", "quarter, 480 mm"}}
}

// tunings that are met with, by their open strings from the lowest.
func tunings() []option {
	return []option{{"", "as the score says"}, {"E A D G B E", "E A D G B E"}, {"D A D G B E", "sixth string to D"}, {"D G D G B E", "fifth to G, sixth to D"}}
}

type option struct{ Value, Words string }

var openStrings = map[string][]int{ // MIDI, the first string first
	"E A D G B E": {64, 59, 55, 50, 45, 40},
	"D A D G B E": {64, 59, 55, 50, 45, 38},
	"D G D G B E": {64, 59, 55, 50, 43, 38},
}

const (
	usualWays = 3
	mostWays  = 6
	mostFixed = 200 // notes
)

// choicesOf reads them from an address or a form.
func choicesOf(q url.Values) (choices, error) {
	c := choices{From: strings.TrimSpace(q.Get("from")), To: strings.TrimSpace(q.Get("to")), Pattern: strings.TrimSpace(q.Get("pattern")), Tuning: q.Get("tuning"), Ways: usualWays}
	for _, t := range c.switches() {
		*t.on = q.Get(t.Name) != ""
	}
	if len(c.From) > 16 || len(c.To) > 16 || len(c.Pattern) > 200 {
		return c, invalid("The page sent something that makes no sense. Load it again.")
	}
	if _, known := openStrings[c.Tuning]; c.Tuning != "" && !known {
		return c, invalid("This tuning is not known. Choose one of the list.")
	}
	number := func(name string, low, high float64, what string, into *float64) error {
		text := strings.TrimSpace(q.Get(name))
		if text == "" {
			return nil
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || !(v >= low && v <= high) {
			return invalid("%s: %q cannot be. Give %v to %v.", what, clipped(text, 12), low, high)
		}
		*into = v
		return nil
	}
	var capo, ways float64
	for _, err := range []error{
		number("span", 80, 280, "Span of the left hand in mm", &c.SpanMm),
		number("scale", 300, 900, "Length of the strings in mm", &c.ScaleMm),
		number("capo", 0, 12, "Fret of the capo", &capo),
		number("ways", 1, mostWays, "How many ways", &ways),
	} {
		if err != nil {
			return c, err
		}
	}
	c.Capo = int(capo)
	if ways > 0 {
		c.Ways = int(ways)
	}
	c.Fix = q["fix"]
	if len(c.Fix) > mostFixed {
		return c, invalid("More than %d notes are fixed. Keep this fingering and go on from there.", mostFixed)
	}
	for _, f := range c.Fix {
		if _, err := wish(f); err != nil {
			return c, err
		}
	}
	return c, nil
}

// values are the choices as a form or an address has them; what is not asked for is not there.
func (c choices) values() url.Values {
	q := url.Values{}
	set := func(name, value string) {
		if value != "" && value != "0" {
			q.Set(name, value)
		}
	}
	for _, t := range c.switches() {
		if *t.on {
			q.Set(t.Name, "yes")
		}
	}
	set("from", c.From)
	set("to", c.To)
	set("pattern", c.Pattern)
	set("tuning", c.Tuning)
	set("span", decimal(c.SpanMm))
	set("scale", decimal(c.ScaleMm))
	set("capo", strconv.Itoa(c.Capo))
	if c.Ways != usualWays {
		set("ways", strconv.Itoa(c.Ways))
	}
	if len(c.Fix) > 0 {
		q["fix"] = c.Fix
	}
	return q
}

func decimal(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// wish reads "n12:3/4": a note with its string and finger.
func wish(text string) (hands.Wish, error) {
	note, rest, ok := strings.Cut(text, ":")
	str, finger, slash := strings.Cut(rest, "/")
	s, errS := strconv.Atoi(str)
	f, errF := strconv.Atoi(finger)
	if !ok || !slash || note == "" || len(note) > 16 || errS != nil || errF != nil || s < 1 || s > 12 || f < 0 || f > 4 {
		return hands.Wish{}, invalid("The page sent something that makes no sense. Load it again.")
	}
	return hands.Wish{Note: note, String: s, Finger: f}, nil
}

// options are the choices as package hands takes them.
func (c choices) options() (hands.Options, error) {
	o := hands.Options{K: c.Ways, From: c.From, To: c.To, Minimax: c.Hardest,
		Instrument: guitar.Instrument{ScaleMm: c.ScaleMm, Capo: c.Capo, Open: openStrings[c.Tuning]},
		Skills:     hands.Skills{NoFourthFinger: c.NoFourth, NoBarre: c.NoBarre, FirstPosition: c.FirstPosition, NoStretch: c.NoStretch}}
	if c.SpanMm != 0 {
		o.Hand = guitar.ChildHand(c.SpanMm)
	}
	for _, f := range c.Fix {
		w, err := wish(f)
		if err != nil {
			return o, err
		}
		o.Fix = append(o.Fix, w)
	}
	return o, nil
}
