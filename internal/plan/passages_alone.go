package plan

import (
	"fmt"
	"math"

	"antiphon/internal/plan/ladder"
	"antiphon/internal/plan/memory"
	"antiphon/internal/plan/week"
)

// Of what a passage would gain by itself this much counts for its work, and it is asked on so many days at most. A sitting of it
// takes this part of its work's. Our choices.
const (
	passageShare = 0.5
	passageDays  = 4
	passagePart  = 0.5
	passageLeast = 2 // minutes
)

// byItself is what playing the weakest passage of a work by itself in the coming week would be worth.
type byItself struct {
	*Passage
	say   string
	gains [8]float64 // of 0 to 7 playings
	most  int        // days
}

// weakGains are those of the weakest passage of a work; a nil Passage where none is weak.
func (p *Planner) weakGains(it *Item, pace memory.Pace, target float64) (out byItself) {
	if out.Passage, out.say = p.weakest(it, pace); out.Passage == nil {
		return out
	}
	tr, last, _ := memory.Follow(it.passagePlayings(out.Passage))
	since := float64(max(p.studio.Today-last, 0))
	out.gains = pace.Gains(tr, since, target)
	for n := range out.gains {
		out.gains[n] *= passageShare
	}
	out.most = min(pace.DaysToBringBack(since, tr, target), passageDays)
	return out
}

// passage proposes bars of a work by themselves, where the whole of it is not due: they take less of the day, and the rest of
// the work needs nothing.
func (b *builder) passage(w *Work, it *Item, x byItself, wait int) {
	item := week.Item{MostDays: x.most, Minutes: min(max(int(math.Ceil(passagePart*float64(w.minutes()))), passageLeast), w.minutes()),
		Why:  Sentence(x.say) + fmt.Sprintf(" The whole of it can wait about %s.", days(max(wait, 1))),
		Next: "If they go right on two days, play them within the whole; if not, fewer bars, and slower."}
	if goal := x.goal(it); goal > 0 {
		l := ladder.Fit(x.tries(it), goal, ladder.Rules{})
		if b.ladders[w.ID] = l; len(l.Rungs) > 1 {
			item.Why, item.Next = item.Why+" "+l.Why[0], l.Next()
		}
	}
	b.passages[w.ID] = x.Passage
	b.add(w, Mend, func(n int) float64 { return keepWorth * x.gains[n] }, item)
}

// whole says that the teacher wants all of a work, whatever is weak inside it.
func (b *builder) whole(w *Work) bool {
	wish := b.wishes[w.ID]
	return wish != nil && wish.Whole
}

// tries of a passage at a tempo.
func (ps *Passage) tries(it *Item) (out []ladder.Try) {
	for i := range ps.Played {
		if p := &ps.Played[i]; p.Bpm > 0 && !outranked(ps.Played, i) {
			out = append(out, ladder.Try{Day: p.Day, Bpm: p.Bpm, Clean: p.ratingThere(0) >= memory.Steady})
		}
	}
	return out
}
