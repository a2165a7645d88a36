package exercise

import (
	"strings"

	"antiphon/internal/guitar"
)

// event is what is struck at one moment: one note, or several at once.
type event struct {
	tones []tone
	label string // a chord symbol that stands over it
}

// drawn is a pattern as a row of events, with what the rest of the recipe needs to know of it.
type drawn struct {
	events   []event
	key      key
	named    bool // the key is that of the pattern, not a default
	position int  // 0 the hand may move
	chords   bool // the right hand's pattern was used to draw it

	grips []event // chords as the left hand holds them, while their strings are plucked one by one

	firstPosition bool // a line that is fingered as a whole is to stay there
}

func patternNames() []string {
	names := []string{"scale", "degrees"}
	for _, i := range intervals() {
		names = append(names, i.name)
	}
	return append(names, "arpeggio", "chromatic", "open strings", "chords")
}

type interval struct {
	name  string
	steps int
}

func intervals() []interval {
	return []interval{{"thirds", 2}, {"fourths", 3}, {"fifths", 4}, {"sixths", 5}, {"sevenths", 6}, {"octaves", 7}, {"tenths", 9}}
}

func intervalOf(name string) int {
	for _, i := range intervals() {
		if i.name == name {
			return i.steps
		}
	}
	return 0
}

// draw turns the recipe's pattern into events.
func (r Recipe) draw(in guitar.Instrument, count counter) (drawn, error) {
	name := strings.ReplaceAll(strings.ToLower(r.Pattern), "-", " ")
	switch {
	case r.Direction == "once" && name != "degrees":
		return drawn{}, bad("direction", "only a figure of degrees can be played once; write up, down, up-down or down-up")
	case name == "open strings":
		return r.openStrings(in)
	case name == "chromatic":
		return r.chromatic(in)
	case name == "chords":
		return r.chordChanges(in, count)
	case name == "scale", name == "degrees", name == "arpeggio", intervalOf(name) > 0:
		return r.onScale(in, name)
	}
	return drawn{}, bad("pattern", "%q is not known; choose %s", clip(r.Pattern), list(patternNames(), "or"))
}

// degree is a note of the scale: how many steps above the lower keynote, and whether the line is
// coming down there, which melodic minor needs to know.
type degree struct {
	at   int
	down bool
}

// onScale draws what moves along a scale.
func (r Recipe) onScale(in guitar.Instrument, name string) (drawn, error) {
	k, err := readKey(or(r.Key, "C major"))
	if err != nil {
		return drawn{}, err
	}
	if name == "degrees" && len(r.Degrees) == 0 {
		return drawn{}, bad("pattern", "degrees need a line \"degrees:\", such as 1 3 2 4")
	}
	figure := func(octaves int) [][]degree {
		low, top := -r.Below, 7*octaves+r.Above
		steps := intervalOf(name)
		switch {
		case steps > 0 && r.Together:
			return together(moving([]int{0, steps}, low, top, r.Direction))
		case steps > 0:
			return apart(homeward(moving([]int{0, steps}, low, top, r.Direction), r.Direction, octaves))
		case name == "degrees" && r.Direction == "once":
			return apart(once(r.Degrees))
		case name == "degrees":
			shape := make([]int, len(r.Degrees))
			for i, d := range r.Degrees {
				shape[i] = d - 1
			}
			return apart(homeward(moving(shape, low, top, r.Direction), r.Direction, octaves))
		case name == "arpeggio":
			return apart(triad(walk(low, octaves, r.Above, r.Direction)))
		}
		return apart(walk(low, octaves, r.Above, r.Direction))
	}
	if r.Together && intervalOf(name) == 0 {
		return drawn{}, bad("together", "only thirds to tenths have two notes at once; leave it out for pattern %s", name)
	}
	inFirst := false
	if r.Together { // the places of the two depend on each other, so the whole line is fingered at once
		position, _, err := readPosition(r.Position)
		if err != nil {
			return drawn{}, err
		}
		if position > 1 {
			return drawn{}, bad("position", "two notes at once move along the neck; write 1, free or nothing")
		}
		r.Position, inFirst = "free", position == 1
	}
	at, err := r.settle(in, k, figure)
	if err != nil {
		return drawn{}, err
	}
	d := drawn{key: k, named: true, position: at.position, firstPosition: inFirst}
	for _, group := range figure(at.octaves) {
		var e event
		for _, g := range group {
			e.tones = append(e.tones, at.tone(k.note(at.octave, g.at, g.down)))
		}
		d.events = append(d.events, e)
	}
	if len(d.events) == 0 {
		return drawn{}, bad("degrees", "the figure does not fit into the range; ask for more octaves, or a smaller figure")
	}
	return d, nil
}

// walk goes through the scale step by step. Upwards and back it begins and ends on the lower
// keynote, goes beyond the upper one by above, and below the lower one at the end.
func walk(low, octaves, above int, direction string) []degree {
	top, upper := 7*octaves+above, 7*octaves
	var out []degree
	up := func(from, to int) {
		for d := from; d <= to; d++ {
			out = append(out, degree{d, false})
		}
	}
	down := func(from, to int) {
		for d := from; d >= to; d-- {
			out = append(out, degree{d, true})
		}
	}
	switch direction {
	case "up":
		up(low, top)
	case "down":
		down(top, low)
	case "down-up":
		if above > 0 {
			up(upper, top)
			top--
		}
		down(top, low)
		up(low+1, upper)
	default:
		up(0, top)
		down(top-1, low)
		if low < 0 {
			up(low+1, 0)
		}
	}
	return out
}

// moving sets a figure on each degree of the range in turn: upwards as it is, downwards upside down.
func moving(shape []int, low, top int, direction string) [][]degree {
	least, most := shape[0], shape[0]
	for _, s := range shape {
		least, most = min(least, s), max(most, s)
	}
	var ups, downs [][]degree
	for base := low - least; base+most <= top; base++ {
		var g []degree
		for _, s := range shape {
			g = append(g, degree{base + s, false})
		}
		ups = append(ups, g)
	}
	for base := top + least; base-most >= low; base-- {
		var g []degree
		for _, s := range shape {
			g = append(g, degree{base - s, true})
		}
		downs = append(downs, g)
	}
	switch direction {
	case "up":
		return ups
	case "down":
		return downs
	case "down-up":
		return append(downs, ups...)
	}
	return append(ups, downs...)
}

// once plays a figure where it stands.
func once(degrees []int) []degree {
	out := make([]degree, len(degrees))
	for i, d := range degrees {
		out[i] = degree{d - 1, i > 0 && (d < degrees[i-1] || d == degrees[i-1] && out[i-1].down)}
	}
	return out
}

// homeward lines the figures up, and ends on the keynote of that end where the last figure stops
// beside it.
func homeward(figures [][]degree, direction string, octaves int) []degree {
	var line []degree
	for _, f := range figures {
		line = append(line, f...)
	}
	if len(line) == 0 {
		return nil
	}
	home := 0
	if direction == "up" || direction == "down-up" {
		home = 7 * octaves
	}
	if last := line[len(line)-1]; last.at != home && abs(last.at-home) <= 4 {
		line = append(line, degree{home, last.down})
	}
	return line
}

// apart plays the notes one after the other.
func apart(line []degree) [][]degree {
	out := make([][]degree, len(line))
	for i, d := range line {
		out[i] = []degree{d}
	}
	return out
}

// together plays the notes of each group at once; a group that comes twice on end is kept once.
func together(groups [][]degree) [][]degree {
	var out [][]degree
	for _, g := range groups {
		if n := len(out); n > 0 && min(out[n-1][0].at, out[n-1][1].at) == min(g[0].at, g[1].at) {
			continue
		}
		if g[0].at > g[1].at {
			g = []degree{g[1], g[0]}
		}
		out = append(out, g)
	}
	return out
}

// triad keeps the first, third and fifth degree of a line.
func triad(line []degree) []degree {
	var out []degree
	for _, d := range line {
		if m := floorMod(d.at, 7); (m == 0 || m == 2 || m == 4) && (len(out) == 0 || out[len(out)-1].at != d.at) {
			out = append(out, d)
		}
	}
	return out
}

func or(s, other string) string {
	if s == "" {
		return other
	}
	return s
}
