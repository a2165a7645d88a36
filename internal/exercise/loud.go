package exercise

import (
	"strconv"
	"strings"

	"antiphon/internal/music"
)

// loudness is a plan of dynamics.
type loudness struct {
	plan  string // "", "steady", "terraced", "echo", "crescendo", "diminuendo", "swell"
	marks []string
	every int // bars of one step; 0 the whole exercise
}

// readDynamics reads "f", "terraced f p every 2 bars", "echo f p", "crescendo p f".
func readDynamics(text string) (loudness, error) {
	if text == "" {
		return loudness{}, nil
	}
	words, every, err := readEvery(text, "dynamics")
	if err != nil {
		return loudness{}, err
	}
	l := loudness{plan: "steady", every: every}
	if len(words) > 0 {
		switch w := words[0]; w {
		case "terraced", "echo", "crescendo", "diminuendo", "swell":
			l.plan, words = w, words[1:]
		}
	}
	for _, w := range words {
		switch w {
		case "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff":
			l.marks = append(l.marks, w)
		default:
			return loudness{}, bad("dynamics", "%q is no mark of loudness; write pp, p, mp, mf, f or ff, or a plan: terraced, echo, crescendo, diminuendo, swell", clip(w))
		}
	}
	want := map[string][2]int{"steady": {1, 1}, "terraced": {2, 4}, "echo": {2, 2}, "crescendo": {2, 2}, "diminuendo": {2, 2}, "swell": {2, 2}}[l.plan]
	if len(l.marks) < want[0] || len(l.marks) > want[1] {
		return loudness{}, bad("dynamics", "%s takes %s; write for example %s", or(map[string]string{"steady": "a plain mark"}[l.plan], l.plan), howMany(want),
			map[string]string{"steady": "f", "terraced": "terraced f p every 2 bars", "echo": "echo f p every 2 bars", "crescendo": "crescendo p f", "diminuendo": "diminuendo f p", "swell": "swell p f"}[l.plan])
	}
	if l.every == 0 && (l.plan == "terraced" || l.plan == "echo") {
		l.every = 2
	}
	order := map[string]int{"ppp": 0, "pp": 1, "p": 2, "mp": 3, "mf": 4, "f": 5, "ff": 6, "fff": 7}
	if l.plan == "crescendo" || l.plan == "swell" || l.plan == "diminuendo" {
		up := order[l.marks[0]] < order[l.marks[1]]
		if up == (l.plan == "diminuendo") || l.marks[0] == l.marks[1] {
			return loudness{}, bad("dynamics", "a %s does not go from %s to %s; put the marks the other way round", l.plan, l.marks[0], l.marks[1])
		}
	}
	return l, nil
}

func howMany(want [2]int) string {
	if want[0] == want[1] {
		return map[int]string{1: "one mark", 2: "two marks"}[want[0]]
	}
	return strconv.Itoa(want[0]) + " to " + strconv.Itoa(want[1]) + " marks"
}

// readEvery takes "every 2 bars" off the end of a text.
func readEvery(text, key string) (words []string, every int, err error) {
	head, tail, found := strings.Cut(strings.ToLower(text), "every ")
	words = strings.Fields(strings.ReplaceAll(head, ",", " "))
	if !found {
		return words, 0, nil
	}
	n := strings.Fields(tail)
	if len(n) == 1 && (n[0] == "bar") {
		return words, 1, nil
	}
	if len(n) == 0 || len(n) > 2 || len(n) == 2 && n[1] != "bars" && n[1] != "bar" {
		return nil, 0, bad(key, "%q does not say how many bars; write every 2 bars", clip(text))
	}
	return words, every, whole(&every, key, 1, 32)(n[0])
}

// echo repeats each stretch of bars, to be played loud first and soft then.
func (s *sheet) echo(every int) error {
	out := s.clone()
	out.tones, out.signs, out.bars = nil, nil, 0
	for from := 0; from < s.bars; from += every {
		to := min(from+every, s.bars)
		part, err := s.cut(from, to, "dynamics")
		if err != nil {
			return err
		}
		out.add(part)
		out.add(part)
	}
	*s = *out
	return nil
}

// cut is a copy of some bars. A note may not sound across their ends.
func (s *sheet) cut(from, to int, key string) (*sheet, error) {
	out := s.clone()
	start, end := s.barStart(from), s.barStart(to)
	out.tones, out.signs, out.repeats, out.tempos, out.bars = nil, nil, nil, nil, to-from
	for _, t := range s.tones {
		if t.End().Cmp(start) <= 0 || end.Cmp(t.Start) <= 0 {
			continue
		}
		if t.Start.Less(start) || end.Less(t.End()) {
			return nil, bad(key, "a note sounds across the end of bar %d, where a stretch of %d ends; choose a rhythm that fills its bars", to, to-from)
		}
		t = t.clone()
		t.Start = t.Start.Sub(start)
		out.tones = append(out.tones, t)
	}
	for _, d := range s.signs {
		if d.At.Less(end) && start.Cmp(d.At) <= 0 {
			d.At = d.At.Sub(start)
			out.signs = append(out.signs, d)
		}
	}
	return out, nil
}

// dynamics marks the plan.
func (s *sheet) dynamics(l loudness) {
	mark := func(at music.Beats, text string) {
		s.signs = append(s.signs, music.Direction{At: at, Kind: music.Dynamic, Text: text, Placed: "below"})
	}
	wedge := func(from, to music.Beats, kind string) {
		number := 1 // one that begins where another ends has a number of its own
		if kind == "diminuendo" {
			number = 2
		}
		s.signs = append(s.signs, music.Direction{At: from, Kind: music.Wedge, Text: kind, Number: number, Placed: "below"},
			music.Direction{At: to, Kind: music.Wedge, Text: "stop", Number: number, Placed: "below"})
	}
	every := l.every
	if every == 0 {
		every = s.bars
	}
	for k, from := 0, 0; l.plan != "" && from < s.bars; k, from = k+1, from+every {
		start, end := s.barStart(from), s.lastStart(min(from+every, s.bars))
		switch l.plan {
		case "steady":
			if k == 0 {
				mark(start, l.marks[0])
			}
		case "terraced", "echo":
			mark(start, l.marks[k%len(l.marks)])
		case "crescendo", "diminuendo":
			mark(start, l.marks[0])
			if start.Less(end) {
				wedge(start, end, l.plan)
				mark(end, l.marks[1])
			}
		case "swell":
			middle := s.nearest(start.Add(s.barStart(min(from+every, s.bars))).Mul(1, 2))
			mark(start, l.marks[0])
			if start.Less(middle) && middle.Less(end) {
				wedge(start, middle, "crescendo")
				mark(middle, l.marks[1])
				wedge(middle, end, "diminuendo")
				mark(end, l.marks[0])
			}
		}
	}
}

// lastStart is where the last note before the end of a bar begins.
func (s *sheet) lastStart(bar int) music.Beats {
	var last music.Beats
	for _, t := range s.tones {
		if t.Start.Less(s.barStart(bar)) && last.Less(t.Start) {
			last = t.Start
		}
	}
	return last
}

// nearest is the start of the note nearest to a moment.
func (s *sheet) nearest(at music.Beats) music.Beats {
	best := music.Beats{}
	far := func(b music.Beats) music.Beats {
		if d := b.Sub(at); !d.Less(music.Beats{}) {
			return d
		}
		return at.Sub(b)
	}
	for _, t := range s.tones {
		if far(t.Start).Less(far(best)) {
			best = t.Start
		}
	}
	return best
}

// accents marks what is to be played louder: on each beat, at the start of each bar, or each so many
// notes, which moves it from finger to finger.
func (s *sheet) accents(text string) error {
	if text == "" {
		return nil
	}
	var grid music.Beats
	every := 0
	switch t, counted := strings.CutPrefix(strings.TrimSuffix(strings.ToLower(text), " notes"), "every "); {
	case counted:
		if err := whole(&every, "accents", 2, 16)(t); err != nil {
			return err
		}
	case t == "beats":
		grid = s.beat()
	case t == "bars":
		grid = s.barLength()
	default:
		return bad("accents", "%q is not known; write beats, bars, or every 3 (notes)", clip(text))
	}
	k := -1
	for i := range s.tones {
		t := &s.tones[i]
		if i == 0 || t.Start.Cmp(s.tones[i-1].Start) != 0 {
			k++
		}
		on := every > 0 && k%every == 0
		if every == 0 {
			n, d := t.Start.Fraction()
			gn, gd := grid.Fraction()
			on = n*gd%(d*gn) == 0
		}
		if on {
			t.Marks = append(t.Marks, music.Mark{Kind: "accent"})
		}
	}
	return nil
}

// places marks where the right hand plucks: over the neck, over the hole or near the bridge.
func (s *sheet) places(text string) error {
	if text == "" {
		return nil
	}
	head, every := strings.ToLower(text), 0
	if at := strings.Index(head, "every "); at >= 0 {
		_, n, err := readEvery(head[at:], "tone")
		if err != nil {
			return err
		}
		head, every = head[:at], n
	}
	// The trade's own words, as they are printed in scores.
	known := map[string]string{"over the neck": "sul tasto", "over the hole": "naturale", "near the bridge": "sul ponticello"}
	var marks []string
	for _, p := range strings.Split(head, ",") {
		p = strings.Join(strings.Fields(p), " ")
		if p == "" {
			continue
		}
		m, ok := known[p]
		if !ok {
			return bad("tone", "%q is no place to pluck; write over the neck, over the hole or near the bridge", clip(p))
		}
		marks = append(marks, m)
	}
	if len(marks) == 0 || len(marks) > 8 {
		return bad("tone", "it names %d places; give 1 to 8, with commas between them", len(marks))
	}
	if len(marks) > 1 && every == 0 {
		every = 2
	}
	if every == 0 {
		every = s.bars
	}
	for k, bar := 0, 0; bar < s.bars; k, bar = k+1, bar+every {
		if k == 0 || len(marks) > 1 {
			s.say(bar, marks[k%len(marks)])
		}
	}
	return nil
}
