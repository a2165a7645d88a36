package hands

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"antiphon/internal/hands/grip"
)

// words says what a kind of cost means: where a way is worse in it, and where it is better.
func words(k grip.Kind) (worse, better string) {
	switch k {
	case grip.FingerChoice:
		return "a finger that is less usual on such a note", "a finger that is more usual on such a note"
	case grip.PlaceChoice:
		return "a place that is less usual for such a note", "a place that is more usual for such a note"
	case grip.OpenString:
		return "open strings where they stand out", "open strings where they do no harm"
	case grip.Shape:
		return "a less comfortable shape of the fingers", "a more comfortable shape of the fingers"
	case grip.Stretch:
		return "a wider stretch", "less stretch"
	case grip.Barre:
		return "a barre", "no barre"
	case grip.Position:
		return "a less usual position in this key", "a more usual position in this key"
	case grip.Shift:
		return "more shifting of the hand", "less shifting of the hand"
	case grip.Hop:
		return "a finger that has to leave its place and come down elsewhere at once", "fingers that stay where they are"
	case grip.Refinger:
		return "another finger on a place just held", "the same finger again on the same place"
	case grip.Fit:
		return "fingers that do not lie one to a fret", "fingers that lie one to a fret"
	case grip.Cut:
		return "a held note let go early", "held notes kept"
	case grip.Line:
		return "a line that changes strings less smoothly", "a line that changes strings more smoothly"
	case grip.Ring:
		return "a string struck again where its note could ring on", "notes that ring on"
	case grip.Common:
		return "a choice that fewer of the good ways make", "a choice that more of the good ways make"
	case grip.Habit:
		return "another fingering than where the same notes come again", "the same fingering as where the same notes come again"
	}
	return "less time than the move needs", "more time for the move"
}

// smallest share of a difference that is worth a word.
const worthSaying = 0.15

// reason compares a detour with the stretch of the best way that it replaces: the largest cost first,
// then what is gained. Both accounts are computed anew, so the words name the true differences.
func (v *solved) reason(d grip.Detour) string {
	if len(d.Edges) == 0 {
		return "part of the best way"
	}
	own := v.best[d.From:d.To]
	was, is := v.lattice.Account(d.From, own), v.lattice.Account(d.From, d.Edges)
	type item struct {
		kind grip.Kind
		gain float64
	}
	var items []item
	for k := range was {
		if gain := is[k] - was[k]; math.Abs(gain) > worthSaying {
			items = append(items, item{grip.Kind(k), gain})
		}
	}
	slices.SortStableFunc(items, func(a, b item) int { return cmp.Compare(math.Abs(b.gain), math.Abs(a.gain)) })
	if len(items) == 0 {
		return "as good, to a hair"
	}
	wasF, isF := v.lattice.Facts(d.From, own), v.lattice.Facts(d.From, d.Edges)
	var costs, gains []string
	for n, it := range items {
		if n == 3 {
			break
		}
		worse, better := words(it.kind)
		if it.gain < 0 {
			costs = append(costs, worse+figure(it.kind, wasF, isF))
		} else {
			gains = append(gains, better+figure(it.kind, wasF, isF))
		}
	}
	var out []string
	if len(costs) > 0 {
		out = append(out, "costs "+strings.Join(costs, " and "))
	}
	if len(gains) > 0 {
		out = append(out, "gives "+strings.Join(gains, " and "))
	}
	if items[0].gain > 0 {
		slices.Reverse(out)
	}
	return strings.Join(out, "; ")
}

// figure adds the millimetres that a difference is about.
func figure(k grip.Kind, was, is grip.Facts) string {
	switch {
	case k == grip.Shift && math.Abs(is.ShiftMm-was.ShiftMm) >= 1:
		return fmt.Sprintf(" (%.0f mm instead of %.0f)", is.ShiftMm, was.ShiftMm)
	case k == grip.Stretch && is.WidestMm > 0 && was.WidestMm > 0 && math.Abs(is.WidestMm-was.WidestMm) >= 1:
		return fmt.Sprintf(" (%.0f mm instead of %.0f)", is.WidestMm, was.WidestMm)
	case k == grip.Barre && is.Barres > was.Barres && is.FullBarre > was.FullBarre:
		return " across five strings or more"
	}
	return ""
}
