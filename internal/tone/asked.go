package tone

import (
	"fmt"
	"slices"
	"strings"

	"antiphon/internal/music"
)

// Outcome is how what was heard stands to a place that was asked for.
type Outcome int

// The outcomes.
const (
	NotTold   Outcome = iota // the recording does not tell
	AsAsked                  // heard there
	InPart                   // heard there in some bars
	Elsewhere                // heard somewhere else
)

// Answer is how one stretch of the score that was to be plucked at a place was plucked.
type Answer struct {
	From, To int // bars, indices into music.Score.Bars
	Asked    Place
	Outcome  Outcome
	Say      string // one clause, without a full stop
}

// When a stretch is said to be as asked or elsewhere, as shares of the bars heard in it.
const (
	mostlyShare = 0.75
	knownShare  = 0.5
	plainlySure = 0.93
)

// WordOf is a place as a teacher says it.
func WordOf(p Place) string {
	switch p {
	case music.NearBridge:
		return "near the bridge"
	case music.OverHole:
		return "over the hole"
	case music.OverNeck:
		return "over the neck"
	}
	return ""
}

// kept are the keys under which goals keep a place: see the lesson's list of tones.
func kept(goal string) Place {
	return map[string]Place{"bridge": music.NearBridge, "hole": music.OverHole, "neck": music.OverNeck}[goal]
}

// Wish is the place that a goal names, by its key or in words; AnyPlace where it names none, as "warm" does.
func Wish(goal string) Place {
	if p := kept(goal); p != music.AnyPlace {
		return p
	}
	p, _ := music.PlaceOf(goal)
	return p
}

// Said is a goal as a teacher says it: a key in words, and words as they are.
func Said(goal string) string {
	if p := kept(goal); p != music.AnyPlace {
		return WordOf(p)
	}
	return goal
}

// Asked answers a wish for a place in the bars from to to.
func (h Heard) Asked(p Place, score *music.Score, from, to int) Answer {
	a := Answer{From: from, To: to, Asked: p}
	bars, sureness := map[Place]float64{}, 0.0
	all, known := 0.0, 0.0
	for _, s := range h.Stretches {
		n := float64(min(to, s.To) - max(from, s.From) + 1)
		if n <= 0 {
			continue
		}
		all += n
		if s.Place != music.AnyPlace {
			known += n
			bars[s.Place] += n
			sureness += n * s.Confidence
		}
	}
	asked := fmt.Sprintf("asked %s%s: ", WordOf(p), inBars(score, from, to))
	if all == 0 || known < knownShare*all {
		a.Say = asked + "could not be told from this recording"
		return a
	}
	how := ", fairly sure"
	if sureness/known < plainlySure {
		how = ", not quite sure"
	}
	switch share := bars[p] / known; {
	case share >= mostlyShare:
		a.Outcome, a.Say = AsAsked, asked+"heard "+WordOf(p)+how
	case share > 1-mostlyShare:
		a.Outcome, a.Say = InPart, asked+"heard there"+inList(h.where(p, score, from, to))
		for _, q := range []Place{music.NearBridge, music.OverHole, music.OverNeck} {
			if bars := h.where(q, score, from, to); q != p && len(bars) > 0 {
				a.Say += ", " + WordOf(q) + inList(bars)
			}
		}
	default:
		a.Outcome = Elsewhere
		other := music.AnyPlace
		for _, q := range []Place{music.NearBridge, music.OverHole, music.OverNeck} {
			if q != p && bars[q] > bars[other] {
				other = q
			}
		}
		a.Say = asked + "heard " + WordOf(other) + how
	}
	return a
}

// Marked answers every place that the score itself asks for, in order.
func (h Heard) Marked(score *music.Score) (all []Answer) {
	for i := range score.Parts {
		marks := score.Parts[i].Places()
		for k, m := range marks {
			to := len(score.Bars) - 1
			if k+1 < len(marks) {
				to = max(m.Bar, marks[k+1].Bar-1)
			}
			if m.Place != music.AnyPlace {
				all = append(all, h.Asked(m.Place, score, m.Bar, to))
			}
		}
		if len(all) > 0 {
			return all // other parts of a guitar's score repeat it
		}
	}
	return all
}

// mostClauses that are said of one take.
const mostClauses = 4

// Say is the tone in one line, "" where there is nothing to say: what became of the places that the score
// asks for, or else where a stretch clearly differs from the rest.
func (h Heard) Say(score *music.Score) string {
	var say []string
	for _, a := range h.Marked(score) {
		say = append(say, a.Say)
	}
	if len(say) == 0 {
		say = h.apart(score)
	}
	if len(say) == 0 {
		return ""
	}
	if left := len(say) - mostClauses; left > 0 {
		say = append(say[:mostClauses], fmt.Sprintf("and %d more", left))
	}
	return strings.Join(say, "; ")
}

// apart says which bars differ from the rest.
func (h Heard) apart(score *music.Score) []string {
	var say []string
	for _, p := range []Place{music.NearBridge, music.OverHole, music.OverNeck} {
		var bars []string
		for _, s := range h.Stretches {
			if name := barNames(score, s.From, s.To); s.Place == p && s.Lean != Same && !slices.Contains(bars, name) {
				bars = append(bars, name)
			}
		}
		if len(bars) > 0 && p != h.Place {
			say = append(say, WordOf(p)+inList(bars))
		}
	}
	if len(say) > 0 && h.Place != music.AnyPlace {
		say = append([]string{"mostly " + WordOf(h.Place)}, say...)
	}
	return say
}

// where are the bars from to to that were plucked at a place.
func (h Heard) where(p Place, score *music.Score, from, to int) (bars []string) {
	for _, s := range h.Stretches {
		if a, b := max(from, s.From), min(to, s.To); s.Place == p && a <= b && !slices.Contains(bars, barNames(score, a, b)) {
			bars = append(bars, barNames(score, a, b))
		}
	}
	return bars
}

// inBars is " in bars 5–8", "" for all of the score.
func inBars(score *music.Score, from, to int) string {
	if from <= 0 && to >= len(score.Bars)-1 {
		return ""
	}
	return inList([]string{barNames(score, from, to)})
}

// inList is " in bar 3", " in bars 3–5 and 9".
func inList(bars []string) string {
	switch n := len(bars); {
	case n == 0:
		return ""
	case n == 1 && !strings.Contains(bars[0], "–"):
		return " in bar " + bars[0]
	case n == 1:
		return " in bars " + bars[0]
	default:
		return " in bars " + strings.Join(bars[:n-1], ", ") + " and " + bars[n-1]
	}
}

// barNames are the bars as printed, "5–8".
func barNames(score *music.Score, from, to int) string {
	name := func(i int) string {
		if i >= 0 && i < len(score.Bars) && score.Bars[i].Number != "" {
			return score.Bars[i].Number
		}
		return fmt.Sprint(i + 1)
	}
	if from == to {
		return name(from)
	}
	return name(from) + "–" + name(to)
}
