package plan

import (
	"cmp"
	"slices"

	plans "antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
)

// rateView is the form in which the teacher says how something went.
type rateView struct {
	At             string // where on the page
	Work, From, To string
	Title          string
	Wents          any
}

// Rate is the form of a work.
func (v rememberedView) Rate() rateView {
	return rateView{At: "w-" + v.Work, Work: v.Work, Title: v.Title, Wents: wents}
}

// Rate is the form of a passage.
func (v passageView) Rate() rateView { return rateView{v.ID, v.Work, v.From, v.To, v.Title, wents} }

// dated is a row with its day.
type dated struct {
	day calendar.Day
	heardRow
}

// inDays puts rows into the order of their days.
func inDays(rows []dated) []heardRow {
	slices.SortStableFunc(rows, func(a, b dated) int { return cmp.Compare(a.day, b.day) })
	out := make([]heardRow, len(rows))
	for i, r := range rows {
		out[i] = r.heardRow
	}
	return out
}

// ratedRow is a day as the teacher heard it.
func ratedRow(p plans.Played) dated {
	return dated{p.Day, heardRow{Day: p.Day.Short(), Said: "you heard it: " + went(p.Rating)}}
}

func went(rating int) string {
	for _, w := range wents {
		if w.Rating == rating {
			return w.Say
		}
	}
	return "not rated"
}

// ratedSays tells when the teacher last said how something went, one sentence; "" where that was never.
func ratedSays(all []plans.Played, today calendar.Day) string {
	if len(all) == 0 {
		return ""
	}
	last := all[len(all)-1]
	return "You last heard it " + agoIn(last.Day, today) + ": " + went(last.Rating) + "."
}
