// Package difficulty measures, bar by bar, what a marked fingering asks of the hands, and names the
// skills that a piece needs and the bars that ask most, in plain words.
//
// It reads the marks in the score and chooses none: a note without marks counts only for speed. It
// gives no grade: a load is for comparing bars and pieces for one hand on one guitar, and the numbers
// that it is made of stand beside it.
package difficulty

import (
	"slices"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// Options of Profile; the zero value takes the score's own tempo.
type Options struct {
	QuarterBpm float64 // tempo to judge at, in quarters a minute; 0: the score's
	Hardest    int     // bars to name; 0: 3
}

// Report is the profile of a score.
type Report struct {
	Bars     []Bar
	Skills   []Need  // in order of first use
	Hardest  []Hard  // most demanding first
	Load     float64 // of the whole: the mean of its most demanding tenth, at least one bar
	TempoSet bool    // the tempo is the score's or was given; else 90 quarters a minute were assumed
	Unmarked int     // notes whose string or finger is not marked
}

// Bar is what one written bar asks. Where several players play, each figure is the greatest of theirs.
type Bar struct {
	Number string
	Index  int

	ReachMm      float64 // between the two fingertips, down at the same time, that are stretched most
	ReachFingers [2]int  // which fingers; 0 0 none
	EasyMm       float64 // what those two reach with ease
	MostMm       float64 // what they reach at most

	Shifts       int // times the hand has to leave its place
	ShiftsPerMin float64
	ShiftMm      float64 // the longest
	ShiftMmPerS  float64 // the fastest

	Stops       int     // fingers set down
	FourthStops int     // of them the fourth
	FourthShare float64 // FourthStops over Stops
	BarreShare  float64 // of the bar's time that a finger lies across strings
	BarreOver   int     // strings from its first to its last, at the widest
	FingersDown int     // most fingers that stop something at the same time

	Crossings   int     // string changes from one single note to the next
	AgainstHand int     // those that go against the right hand, where its fingers are marked
	NotesPerS   float64 // Strokes a second
	Strokes     int     // moments at which something is played, chords counted once

	Load float64
	Why  []string // what makes the load, most first, in words
}

// Hard is a bar that asks much.
type Hard struct {
	Bar  string
	Load float64
	Text string // one sentence
}

// Profile measures the marks in a score. A hand that says nothing is an adult's.
func Profile(s *music.Score, in guitar.Instrument, hand guitar.Hand, o Options) Report {
	r := Report{Bars: make([]Bar, len(s.Bars)), TempoSet: len(s.Tempos) > 0 || o.QuarterBpm > 0}
	for i, b := range s.Bars {
		r.Bars[i].Number, r.Bars[i].Index = b.Number, i
	}
	needs := needs{at: map[Skill]int{}}
	sounding, written := s.Sounding(), s.Written()
	for _, parts := range s.Players() {
		l := layOut(s, parts, sounding, written, in, hand.OrAdult(), o)
		r.Unmarked += l.unmarked
		bars := make([]Bar, len(s.Bars))
		l.left(bars)
		l.right(bars)
		for i := range bars {
			r.Bars[i].merge(bars[i])
		}
		needs.of(l, bars)
	}
	for i := range r.Bars {
		r.Bars[i].weigh()
	}
	r.Skills = needs.list(s)
	r.hardest(o.Hardest)
	return r
}

// merge keeps the greater of each figure.
func (b *Bar) merge(c Bar) {
	if c.ReachMm > 0 && (b.ReachMm == 0 || c.strain() > b.strain()) {
		b.ReachMm, b.ReachFingers, b.EasyMm, b.MostMm = c.ReachMm, c.ReachFingers, c.EasyMm, c.MostMm
	}
	b.Shifts, b.ShiftsPerMin = max(b.Shifts, c.Shifts), max(b.ShiftsPerMin, c.ShiftsPerMin)
	b.ShiftMm, b.ShiftMmPerS = max(b.ShiftMm, c.ShiftMm), max(b.ShiftMmPerS, c.ShiftMmPerS)
	if c.FourthShare >= b.FourthShare {
		b.Stops, b.FourthStops, b.FourthShare = c.Stops, c.FourthStops, c.FourthShare
	}
	b.BarreShare, b.BarreOver = max(b.BarreShare, c.BarreShare), max(b.BarreOver, c.BarreOver)
	b.FingersDown = max(b.FingersDown, c.FingersDown)
	b.Crossings, b.AgainstHand = max(b.Crossings, c.Crossings), max(b.AgainstHand, c.AgainstHand)
	b.NotesPerS, b.Strokes = max(b.NotesPerS, c.NotesPerS), max(b.Strokes, c.Strokes)
}

// strain is how far the widest pair goes from easy (0) to utmost (1); below 0 where it is easy.
func (b *Bar) strain() float64 { return strain(b.ReachMm, b.EasyMm, b.MostMm) }

func strain(mm, easyMm, mostMm float64) float64 {
	return (mm - easyMm) / max(mostMm-easyMm, 1)
}

func (r *Report) hardest(want int) {
	if want <= 0 {
		want = 3
	}
	order := make([]int, 0, len(r.Bars))
	for i := range r.Bars {
		if r.Bars[i].Load > 0 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch x, y := r.Bars[a].Load, r.Bars[b].Load; {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	tenth := max((len(r.Bars)+9)/10, 1)
	for i, at := range order {
		b := &r.Bars[at]
		if i < want {
			r.Hardest = append(r.Hardest, Hard{b.Number, b.Load, b.sentence()})
		}
		if i < tenth {
			r.Load += b.Load / float64(tenth)
		}
	}
}
