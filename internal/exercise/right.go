package exercise

import (
	"slices"
	"strings"

	"antiphon/internal/music"
)

// pull is what the right hand does at one moment: one finger, or several at once.
type pull []finger

// finger of the right hand, with the string that the recipe gives it, 0 for none.
type finger struct {
	name string // "p", "i", "m", "a"
	str  int
}

// readRight reads fingers in turn: "i m", "pima", "p5 i3 (m2a1)". Nothing is said by "" and "auto";
// "none" asks for no marks at all.
func readRight(text string) (pattern []pull, none bool, err error) {
	t := strings.ToLower(strings.TrimSpace(text))
	switch t {
	case "", "auto":
		return nil, false, nil
	case "none":
		return nil, true, nil
	}
	wrong := func() ([]pull, bool, error) {
		return nil, false, bad("right-hand", "%q cannot be read; write p, i, m and a in turn, each with its string if need be, and in brackets what is plucked at once: p5 i3 (m2a1)", clip(text))
	}
	var group pull
	inside := false
	for i := 0; i < len(t); i++ {
		c := t[i]
		switch {
		case c == ' ' || c == ',' || c == '-':
		case c == '(' && !inside:
			inside, group = true, nil
		case c == ')' && inside && len(group) > 1:
			inside, pattern = false, append(pattern, group)
		case strings.IndexByte("pima", c) >= 0:
			f := finger{name: string(c)}
			if i+1 < len(t) && t[i+1] >= '1' && t[i+1] <= '6' {
				i++
				f.str = int(t[i] - '0')
			}
			if inside {
				for _, o := range group {
					if o.name == f.name || f.str != 0 && o.str == f.str {
						return nil, false, bad("right-hand", "%q asks one finger, or one string, for two notes at once", clip(text))
					}
				}
				group = append(group, f)
			} else {
				pattern = append(pattern, pull{f})
			}
		default:
			return wrong()
		}
	}
	if inside || len(pattern) == 0 || len(pattern) > 64 {
		return wrong()
	}
	return pattern, false, alternates(pattern)
}

// alternates refuses a pattern in which i, m or a plucks twice on end. The thumb may, and so may
// chords, whose fingers pluck together again and again.
func alternates(pattern []pull) error {
	for i, a := range pattern {
		b := pattern[(i+1)%len(pattern)]
		if len(a) == 1 && len(b) == 1 && a[0].name == b[0].name && a[0].name != "p" && len(pattern) > 1 {
			if i+1 == len(pattern) {
				return unplayable("right-hand", "the pattern ends and begins with %s, which would pluck twice on end; end it with another finger", a[0].name)
			}
			return unplayable("right-hand", "%s plucks twice on end; let another finger come between", a[0].name)
		}
	}
	return nil
}

// badCrossings counts the changes of string that twist the hand: to a higher string with the finger
// nearer the thumb, or to a lower one with the finger further from it.
func badCrossings(strs []int, names []string) int {
	far := map[string]int{"p": 0, "i": 1, "m": 2, "a": 3}
	n := 0
	for k := 1; k < len(strs); k++ {
		toHigher := strs[k] < strs[k-1]
		if strs[k] != strs[k-1] && strs[k] > 0 && strs[k-1] > 0 && toHigher != (far[names[k]] > far[names[k-1]]) {
			n++
		}
	}
	return n
}

// auto is i and m in turn, begun with the finger that gives the fewer bad crossings.
func auto(strs []int) []pull {
	names := func(first, second string) []string {
		out := make([]string, len(strs))
		for k := range out {
			out[k] = [...]string{first, second}[k%2]
		}
		return out
	}
	if badCrossings(strs, names("m", "i")) < badCrossings(strs, names("i", "m")) {
		return []pull{{{name: "m"}}, {{name: "i"}}}
	}
	return []pull{{{name: "i"}}, {{name: "m"}}}
}

// pluckAll puts the pattern's fingers on the sheet's notes, in turn. In music of several voices a
// pattern without p is for the upper voice, and p takes the bass below it.
func (s *sheet) pluckAll(pattern []pull) error {
	groups := s.groups()
	if voices := s.voices(); len(voices) > 1 && !slices.ContainsFunc(pattern, func(p pull) bool {
		return slices.ContainsFunc(p, func(f finger) bool { return f.name == "p" })
	}) {
		var upper [][]int
		for _, g := range groups {
			var melody []int
			for _, i := range g {
				if s.tones[i].Voice == voices[0] {
					melody = append(melody, i)
				} else {
					s.tones[i].Plucks = []string{"p"}
				}
			}
			if len(melody) > 0 {
				upper = append(upper, melody)
			}
		}
		groups = upper
	}
	if pattern == nil {
		var strs []int
		for _, g := range groups {
			if len(g) == 1 {
				strs = append(strs, s.tones[g[0]].String)
			}
		}
		pattern = auto(strs)
	}
	for k, g := range groups {
		turn := pattern[k%len(pattern)]
		fingers := turn
		if len(g) > 1 && len(turn) == 1 {
			fingers = s.chordFingers(g)
		}
		if len(fingers) != len(g) {
			return unplayable("right-hand", "notes at once: %d, fingers for them: %d; put as many fingers into the brackets as there are notes", len(g), len(fingers))
		}
		slices.SortStableFunc(g, func(a, b int) int { return s.tones[b].String - s.tones[a].String })
		for j, f := range byString(fingers) {
			s.tones[g[j]].Plucks = []string{f.name}
		}
	}
	return nil
}

// chordFingers are the usual ones: one finger a string, p on a bass string; two notes on neighbouring
// trebles i and m, two with strings between them p and m.
func (s *sheet) chordFingers(g []int) pull {
	low, high := 0, 7
	for _, i := range g {
		low, high = max(low, s.tones[i].String), min(high, s.tones[i].String)
	}
	text := map[int]string{1: "i", 2: "im", 3: "ima", 4: "pima"}[len(g)]
	switch {
	case len(g) == 2 && low-high > 1:
		text = "pm"
	case len(g) < 4 && low >= 4:
		text = map[int]string{1: "p", 2: "pi", 3: "pim"}[len(g)]
	}
	var out pull
	for _, c := range text {
		out = append(out, finger{name: string(c)})
	}
	return out
}

// byString puts fingers in the order of the strings that they reach, from the bass: p i m a.
func byString(fingers pull) pull {
	out := pull{}
	for _, name := range []string{"p", "i", "m", "a"} {
		for _, f := range fingers {
			if f.name == name {
				out = append(out, f)
			}
		}
	}
	return out
}

// holdBass lets each note of the thumb sound until the thumb plucks again, the chord changes or the bar
// ends, and gives the thumb a voice of its own.
func (s *sheet) holdBass() error {
	found := false
	for i := range s.tones {
		t := &s.tones[i]
		if t.pluck() != "p" {
			continue
		}
		found = true
		until := s.barStart(s.barAt(t.Start) + 1)
		stop := func(at music.Beats) {
			if t.Start.Less(at) && at.Less(until) {
				until = at
			}
		}
		for _, o := range s.tones {
			if o.pluck() == "p" || o.String == t.String {
				stop(o.Start)
			}
		}
		for _, d := range s.signs {
			if d.Kind == music.Harmony {
				stop(d.At)
			}
		}
		t.Voice, t.Duration = "2", until.Sub(t.Start)
	}
	if !found {
		return bad("bass", "the thumb plucks nothing here; put p into the right hand, or leave this line out")
	}
	if !slices.ContainsFunc(s.tones, func(t tone) bool { return t.Voice != "2" }) {
		return bad("bass", "the thumb plucks all of it; let other fingers play too, or leave this line out")
	}
	s.sort()
	return nil
}

// readStroke reads "rest", "free", or strokes by finger.
func readStroke(text string) (map[string]music.Stroke, error) {
	if text == "" {
		return nil, nil
	}
	kinds := map[string]music.Stroke{"rest": music.RestStroke, "free": music.FreeStroke}
	out := map[string]music.Stroke{}
	for _, part := range strings.Split(strings.ToLower(text), ",") {
		words := strings.Fields(part)
		if n := len(words); n > 1 && words[n-1] == "stroke" {
			words = words[:n-1]
		}
		if len(words) == 0 {
			return nil, bad("stroke", "%q cannot be read; write rest, free, or by finger: p free, i m rest", clip(text))
		}
		kind, ok := kinds[words[len(words)-1]]
		names := strings.Join(words[:len(words)-1], "")
		if names == "" {
			names = "pima"
		}
		if !ok || strings.Trim(names, "pima") != "" {
			return nil, bad("stroke", "%q cannot be read; write rest, free, or by finger: p free, i m rest", clip(text))
		}
		for _, c := range names {
			if _, twice := out[string(c)]; twice {
				return nil, bad("stroke", "%c has two strokes; give it one", c)
			}
			out[string(c)] = kind
		}
	}
	return out, nil
}

// strokes marks the stroke of each note. On the outermost string there is nothing to come to rest on,
// so the stroke is free there.
func (s *sheet) strokes(kinds map[string]music.Stroke) error {
	for i := range s.tones {
		t := &s.tones[i]
		kind := kinds[t.pluck()]
		if on := t.landsOn(); kind == music.RestStroke && (on < 1 || on > s.guitar.Strings()) {
			kind = music.FreeStroke
		}
		t.SetStroke(kind)
		if kind == music.RestStroke {
			if err := s.landing(i); err != nil {
				return err
			}
		}
	}
	return nil
}

// landsOn is the string on which a rest stroke comes to rest: the next one towards the bass for i, m
// and a, towards the treble for p.
func (t tone) landsOn() int {
	if t.pluck() == "p" {
		return t.String - 1
	}
	return t.String + 1
}

// landing refuses a rest stroke that comes to rest on a string which is still to sound.
func (s *sheet) landing(i int) error {
	t := s.tones[i]
	on := t.landsOn()
	for j, o := range s.tones {
		if j != i && o.String == on && o.Start.Cmp(t.Start) <= 0 && (t.Start.Less(o.End()) || (o.LetRing || s.rings) && s.sameChord(j, i)) {
			return unplayable("stroke", "the rest stroke of %s on string %d would come to rest on string %d, where %s is still to sound; take a free stroke there",
				t.pluck(), t.String, on, o.Pitch.Name())
		}
	}
	return nil
}

// sameChord: nothing else was played on the string of the first since, so it still rings.
func (s *sheet) sameChord(first, second int) bool {
	for k := first + 1; k < second; k++ {
		if s.tones[k].String == s.tones[first].String && s.tones[k].Start.Cmp(s.tones[first].Start) > 0 {
			return false
		}
	}
	for _, d := range s.signs {
		if d.Kind == music.Harmony && s.tones[first].Start.Less(d.At) && d.At.Cmp(s.tones[second].Start) <= 0 {
			return false
		}
	}
	return true
}
