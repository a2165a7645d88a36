package compare

import (
	"fmt"
	"math"
	"strings"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
)

// Two tempos that differ by less read as one; a listener notices a lasting change from about 5 % on
// (see package findings). Steadiness has to differ by as many points and by a fifth.
const (
	tempoPct   = 4.0
	steadyPts  = 1.5
	steadyPart = 0.2
)

// before is what the other side is called at the end of a sentence.
func (s *side) before() string {
	if s.Model {
		return "in the model"
	}
	return "before"
}

func barName(label string) string {
	if label == "0" {
		return "pickup"
	}
	return "bar " + label
}

// barSay is one bar in words.
func barSay(b Bar, x, y *side) string {
	name := capital(barName(b.Bar))
	switch {
	case b.AS == nil && x.Model:
		return name + ": the model does not play it."
	case b.AS == nil:
		return name + ": new; it was not played before."
	case b.BS == nil && y.elsewhere(b.Index):
		return name + ": played in another pass."
	case b.BS == nil:
		return name + ": not played this time."
	}
	now, then := notesInWords(b.b), notesInWords(b.a)
	switch {
	case b.Change == Same && now == then:
		return name + ": as " + x.before() + ", " + now + "."
	case now == then && b.Change == Better:
		return name + ": " + now + ", and nearer to the beat than " + x.before() + "."
	case now == then:
		return name + ": " + now + "; not yet as near to the beat as " + x.before() + "."
	case b.b.faults() == b.a.faults(): // only what was added is other
		return fmt.Sprintf("%s: %s; %s, %s %s.", name, rightInWords(b.b), addedInWords(b.b), addedInWords(b.a), x.before())
	case b.Change == NotYet:
		return fmt.Sprintf("%s: not yet; %s, %s %s.", name, now, then, x.before())
	}
	return fmt.Sprintf("%s: %s, %s %s.", name, now, then, x.before())
}

func addedInWords(c count) string {
	if c.extra == 0 {
		return "nothing added"
	}
	return fmt.Sprintf("%d added", c.extra)
}

func rightInWords(c count) string {
	switch n := c.faults(); n {
	case 0:
		return "all notes right"
	case 1:
		return "1 note not right"
	default:
		return fmt.Sprintf("%d notes not right", n)
	}
}

// notesInWords is "all notes right", "2 notes not right", "all notes right and 1 added".
func notesInWords(c count) string {
	text := rightInWords(c)
	if c.extra > 0 {
		text += fmt.Sprintf(" and %d added", c.extra)
	}
	return text
}

// differences are the takes in words.
func differences(x, y *side, c Comparison) []string {
	var out []string
	add := func(s string) {
		if s != "" {
			out = append(out, s)
		}
	}
	add(accuracy(x, c))
	add(barLists(x, c))
	add(stops(x, y))
	add(tempo(x, y))
	add(steadiness(x, y))
	add(extent(x, y, c))
	if len(out) == 0 {
		out = append(out, "Nothing differs that could be told.")
	}
	return out
}

// accuracy counts only bars that both sides hold.
func accuracy(x *side, c Comparison) string {
	var ra, wa, rb, wb int
	for _, b := range c.Bars {
		if b.AS != nil && b.BS != nil {
			ra, wa = ra+b.a.written-b.a.faults(), wa+b.a.written
			rb, wb = rb+b.b.written-b.b.faults(), wb+b.b.written
		}
	}
	switch {
	case wa == 0 || wb == 0:
		return "The two takes have no bar in common."
	case rb == wb && ra == wa:
		return "All notes right, as " + x.before() + "."
	case rb == wb:
		return fmt.Sprintf("All %d notes right; %d of %d %s.", wb, ra, wa, x.before())
	}
	return fmt.Sprintf("%d of %d notes right; %d of %d %s.", rb, wb, ra, wa, x.before())
}

func barLists(x *side, c Comparison) string {
	var better, notYet []int
	names := map[int]string{}
	for _, b := range c.Bars {
		names[b.Index] = b.Bar
		switch b.Change {
		case Better:
			better = append(better, b.Index)
		case NotYet:
			notYet = append(notYet, b.Index)
		}
	}
	var parts []string
	if len(better) > 0 {
		parts = append(parts, "Better in "+barRuns(better, names)+".")
	}
	if len(notYet) > 0 {
		word := "Not yet as " + x.before() + " in "
		parts = append(parts, word+barRuns(notYet, names)+".")
	}
	return strings.Join(parts, " ")
}

// barRuns is "bar 3" or "bars 1, 3–5 and 8".
func barRuns(index []int, names map[int]string) string {
	if len(index) == 1 {
		return barName(names[index[0]])
	}
	var parts []string
	for i := 0; i < len(index); {
		j := i
		for j+1 < len(index) && index[j+1] == index[j]+1 {
			j++
		}
		switch j - i {
		case 0:
			parts = append(parts, names[index[i]])
		case 1:
			parts = append(parts, names[index[i]], names[index[j]])
		default:
			parts = append(parts, names[index[i]]+"–"+names[index[j]])
		}
		i = j + 1
	}
	return "bars " + list(parts)
}

func list(words []string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
	return strings.Join(words, "")
}

// stops counts the places where the playing stopped, in the whole takes.
func stops(x, y *side) string {
	a, b := stopCount(x.Hearing), stopCount(y.Hearing)
	switch {
	case a == b:
		return ""
	case b == 0:
		return fmt.Sprintf("Played through without a stop; %s %s.", times(a, "stop"), x.before())
	}
	then := times(a, "stop")
	if a == 0 {
		then = "none"
	}
	return fmt.Sprintf("%s; %s %s.", capital(times(b, "stop")), then, x.before())
}

func stopCount(h *ear.Hearing) int {
	n := 0
	for _, j := range h.Jumps {
		if j.Kind == ear.Restart && j.Confidence >= findings.Sure {
			n++
		}
	}
	return n
}

func times(n int, word string) string {
	if n == 1 {
		return "one " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

func tempo(x, y *side) string {
	a, b := x.chosen.Pass.Bpm, y.chosen.Pass.Bpm
	if !(a > 0) || !(b > 0) {
		return ""
	}
	d := 100 * (b/a - 1)
	word := "faster"
	if d < 0 {
		word = "slower"
	}
	if math.Abs(d) < tempoPct {
		return fmt.Sprintf("At about the same tempo, %.0f a minute.", b)
	}
	return fmt.Sprintf("%s: %.0f a minute, %.0f %s.", capital(word), b, a, x.before())
}

func steadiness(x, y *side) string {
	a, b := x.chosen.Pass.SteadinessPct, y.chosen.Pass.SteadinessPct
	if !(a > 0) || !(b > 0) || math.Abs(a-b) < steadyPts || math.Abs(a-b) < steadyPart*max(a, b) {
		return ""
	}
	word := "Steadier"
	if b > a {
		word = "Not yet as steady"
	}
	return fmt.Sprintf("%s: within %.0f %% of an even beat, %.0f %% %s.", word, math.Ceil(b), math.Ceil(a), x.before())
}

// extent tells of bars that only one side holds.
func extent(x, y *side, c Comparison) string {
	var news, gone, elsewhere []int
	names := map[int]string{}
	for _, b := range c.Bars {
		names[b.Index] = b.Bar
		switch {
		case b.AS == nil:
			news = append(news, b.Index)
		case b.BS == nil && y.elsewhere(b.Index):
			elsewhere = append(elsewhere, b.Index)
		case b.BS == nil:
			gone = append(gone, b.Index)
		}
	}
	var parts []string
	if len(news) > 0 && !x.Model {
		parts = append(parts, "New this time: "+barRuns(news, names)+".")
	}
	if len(gone) > 0 {
		parts = append(parts, "Not played this time: "+barRuns(gone, names)+".")
	}
	if len(elsewhere) > 0 {
		parts = append(parts, "Played in another pass: "+barRuns(elsewhere, names)+".")
	}
	return strings.Join(parts, " ")
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// rounded is a finite v with so many decimals, never −0.
func rounded(v float64, decimals int) float64 {
	p := math.Pow10(decimals)
	r := math.Round(v*p) / p
	if math.IsNaN(r) || math.IsInf(r, 0) || r == 0 {
		return 0
	}
	return r
}
