package week

import (
	"time"

	"antiphon/internal/studio"
)

// ofTerm is a letter about a term, in a line.
type ofTerm struct {
	Span string // "1 September – 31 October"
	Day  string // it was sent
	Way  string
}

// lettersShown are the newest ones.
const lettersShown = 3

func (r *reader) letters(s studio.StudentID) ([]ofTerm, error) {
	all, err := r.w.f.Desk().Letters(r.ctx, r.viewer, s)
	if err != nil {
		return nil, err
	}
	now := r.w.f.Now()
	date := func(day string) string {
		t, err := time.ParseInLocation(time.DateOnly, day, now.Location())
		if err != nil {
			return day
		}
		return r.Date(t, now)
	}
	var shown []ofTerm
	for _, l := range all[:min(len(all), lettersShown)] {
		day, err := r.Day(l.Sent, now)
		if err != nil {
			return nil, err
		}
		shown = append(shown, ofTerm{date(l.From) + " – " + date(l.To), day, "/letters/" + string(l.ID)})
	}
	return shown, nil
}
