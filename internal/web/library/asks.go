package library

import (
	"context"
	"fmt"
	"time"

	"antiphon/internal/difficulty"
	"antiphon/internal/guitar"
	"antiphon/internal/music"
	"antiphon/internal/studio"
)

// asks is what a score asks of the hands, in words.
type asks struct {
	Bars     []string // the bars that ask most, one sentence each
	Skills   []string // what the hands must be able to do
	Assumed  string   // of the tempo
	Unmarked int      // notes without a string or a finger
	Notes    int
	Guessed  bool // the marks say too little: it is what the program's own fingering asks
	Said     bool // something can be said
	Waiting  bool // it is being worked out
}

// glance is how long the page of a work waits for what nobody asked for.
const glance = 150 * time.Millisecond

// asks says what the marks in a score ask; where they say too little, what it would ask fingered. It
// says nothing while that is being worked out.
func (l *library) asks(ctx context.Context, one studio.Work, s *music.Score) (asks, error) {
	a, ready, err := l.asking.Get(ctx, sum(one.Score), glance, func(ctx context.Context) (asks, error) {
		marked := asksOf(difficulty.Profile(s, guitar.Instrument{}, guitar.Hand{}, difficulty.Options{}), len(s.Sounding()))
		if marked.Said = marked.Notes > 0 && marked.Unmarked*10 <= marked.Notes; marked.Said {
			return marked, nil
		}
		found, err := finger(ctx, one, choices{Ways: 1})
		if _, refused := say(err); refused != nil {
			return marked, err
		}
		if err != nil { // nothing can be fingered, and so nothing said
			return marked, nil
		}
		a := found.Asks
		a.Unmarked, a.Notes, a.Guessed, a.Said = marked.Unmarked, marked.Notes, true, true
		return a, nil
	})
	a.Waiting = !ready
	return a, err
}

func asksOf(p difficulty.Report, notes int) asks {
	a := asks{Unmarked: p.Unmarked, Notes: notes}
	for _, h := range p.Hardest {
		a.Bars = append(a.Bars, h.Text)
	}
	for _, n := range p.Skills {
		a.Skills = append(a.Skills, n.String())
	}
	if !p.TempoSet && len(p.Hardest) > 0 {
		a.Assumed = fmt.Sprintf("No tempo is marked: this is counted at %d quarters a minute.", music.DefaultQuarterBpm)
	}
	return a
}
