package exercise

import (
	"strconv"
	"strings"

	"antiphon/internal/music"
)

// step is one note, or one rest, of a rhythm.
type step struct {
	length music.Beats
	rest   bool
}

// counter is what a rhythm and a time signature are together.
type counter struct {
	time  music.Time
	steps []step
}

// struck is how many notes one round of the rhythm has.
func (c counter) struck() int {
	n := 0
	for _, s := range c.steps {
		if !s.rest {
			n++
		}
	}
	return n
}

func readTime(text string) (music.Time, error) {
	top, bottom, ok := strings.Cut(or(text, "4/4"), "/")
	beats, errB := strconv.Atoi(strings.TrimSpace(top))
	unit, errU := strconv.Atoi(strings.TrimSpace(bottom))
	if !ok || errB != nil || errU != nil || beats < 1 || beats > 16 || (unit != 2 && unit != 4 && unit != 8 && unit != 16) {
		return music.Time{}, bad("time", "%q is no time signature; write for example 3/4 or 6/8", clip(text))
	}
	return music.Time{Parts: []music.TimePart{{Beats: []int{beats}, Unit: unit}}}, nil
}

// readRhythm reads a word for a whole rhythm, or its notes in turn. A beat of compound time is
// three eighths; the words mean the same there.
func readRhythm(text string) ([]step, error) {
	q := music.Quarters
	named := map[string][]step{
		"long-short": {{length: q(3, 4)}, {length: q(1, 4)}},
		"short-long": {{length: q(1, 4)}, {length: q(3, 4)}},
		"triplets":   {{length: q(1, 3)}, {length: q(1, 3)}, {length: q(1, 3)}},
	}
	values := map[string]music.Beats{"whole": q(4, 1), "half": q(2, 1), "quarter": q(1, 1), "eighth": q(1, 2), "sixteenth": q(1, 4), "triplet": q(1, 3)}
	words := strings.Fields(strings.NewReplacer(",", " ").Replace(strings.ToLower(or(text, "eighths"))))
	var out []step
	triplets := 0
	for _, w := range words {
		if steps, ok := named[w]; ok {
			out = append(out, steps...)
			continue
		}
		t := strings.TrimSuffix(w, "s")
		if w == "halves" {
			t = "half"
		}
		var s step
		t, s.rest = strings.CutSuffix(t, "-rest")
		t, isDotted := strings.CutPrefix(t, "dotted-")
		length, ok := values[t]
		if !ok || isDotted && t == "triplet" {
			return nil, bad("rhythm", "%q is no length; write whole, half, quarter, eighth, sixteenth or triplet, with dotted- before or -rest behind it, or long-short, short-long, triplets", clip(w))
		}
		if isDotted {
			length = length.Mul(3, 2)
		}
		if t == "triplet" {
			triplets++
		} else if triplets%3 != 0 {
			break
		}
		s.length = length
		out = append(out, s)
	}
	c := counter{steps: out}
	switch {
	case triplets%3 != 0:
		return nil, bad("rhythm", "triplets come in threes; write triplet triplet triplet, or triplets")
	case len(out) == 0 || len(out) > 64:
		return nil, bad("rhythm", "it has %d notes; give 1 to 64", len(out))
	case c.struck() == 0:
		return nil, bad("rhythm", "it has rests only; put a note into it")
	}
	return out, nil
}

// count sets events to the rhythm, round after round, and fills the last bar.
func (s *sheet) count(events []event, steps []step) error {
	if len(events) > maxEvents {
		return bad("", "it would have %d notes; %d are the most, so ask for less at a time", len(events), maxEvents)
	}
	at, i := music.Beats{}, 0
	for _, e := range events {
		for steps[i].rest {
			at, i = at.Add(steps[i].length), (i+1)%len(steps)
		}
		for _, t := range e.tones {
			t = t.clone()
			t.Start, t.Duration = at, steps[i].length
			s.tones = append(s.tones, t)
		}
		if e.label != "" {
			s.signs = append(s.signs, music.Direction{At: at, Kind: music.Harmony, Text: e.label})
		}
		at, i = at.Add(steps[i].length), (i+1)%len(steps)
	}
	s.fill()
	if s.bars > maxBars {
		return bad("", "it would be %d bars long; %d are the most, so ask for less at a time", s.bars, maxBars)
	}
	return nil
}

// repeatEach lets every event come several times.
func repeatEach(events []event, text string, rhythm []step) ([]event, error) {
	n := 1
	switch t := strings.ToLower(text); t {
	case "":
	case "rhythm":
		n = counter{steps: rhythm}.struck()
	default:
		var err error
		if n, err = strconv.Atoi(t); err != nil || n < 1 || n > 16 {
			return nil, bad("each", "%q cannot be; give 1 to 16, or rhythm for one whole rhythm a note", clip(text))
		}
	}
	var out []event
	for _, e := range events {
		for range n {
			out = append(out, e)
		}
	}
	return out, nil
}
