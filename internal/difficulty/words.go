package difficulty

import (
	"fmt"
	"slices"
	"strings"

	"antiphon/internal/music"
)

// What each demand counts. Our choice, no source: one point is about what makes a bar stand out in an
// easy study. They only serve to order bars; the figures behind them are reported.
const (
	wReach  = 3.0 // per way from easy to utmost reach
	wShift  = 1.0 // per 30 shifts a minute
	wSpeedy = 1.0 // per metre a second of the fastest shift
	wFourth = 1.0 // if all stops are the fourth finger's
	wBarre  = 2.0 // if it lasts the whole bar over six strings
	wDown   = 0.8 // for four fingers down at once
	wCross  = 0.4 // per crossing against the hand and second
	wNotes  = 2.0 // per six notes a second beyond two
)

// weigh makes the load and says what it is made of.
func (b *Bar) weigh() {
	type part struct {
		load float64
		text string
	}
	var parts []part
	add := func(load float64, format string, args ...any) {
		if load > 0 {
			b.Load += load
			parts = append(parts, part{load, fmt.Sprintf(format, args...)})
		}
	}
	if b.ReachMm > 0 {
		add(wReach*min(b.strain(), 1.5), "fingers %d and %d are %.0f mm apart, where %.0f is easy for this hand", b.ReachFingers[0], b.ReachFingers[1], b.ReachMm, b.EasyMm)
	}
	if b.Shifts > 0 {
		add(wShift*b.ShiftsPerMin/30+wSpeedy*b.ShiftMmPerS/1000, "the hand shifts %s, by up to %.0f mm", times(b.Shifts), b.ShiftMm)
	}
	add(wFourth*b.FourthShare, "the fourth finger stops %d of %d notes", b.FourthStops, b.Stops)
	add(wBarre*b.BarreShare*float64(b.BarreOver)/6, "a finger lies across %d strings for %.0f %% of the bar", b.BarreOver, 100*b.BarreShare)
	add(wDown*float64(b.FingersDown-2)/2, "%d fingers are down at once", b.FingersDown)
	if b.Strokes > 0 && b.NotesPerS > 0 {
		add(wCross*float64(b.AgainstHand)/(float64(b.Strokes)/b.NotesPerS), "%s against the right hand", crossings(b.AgainstHand))
	}
	add(wNotes*(b.NotesPerS-2)/6, "%.1f notes a second", b.NotesPerS)
	slices.SortStableFunc(parts, func(x, y part) int {
		switch {
		case x.load > y.load:
			return -1
		case x.load < y.load:
			return 1
		}
		return 0
	})
	for _, p := range parts {
		b.Why = append(b.Why, p.text)
	}
}

// Plain is the report in a few lines that a parent can read.
func (r Report) Plain() []string {
	var out []string
	for i, h := range r.Hardest {
		if i == 0 {
			out = append(out, "The bars that ask most:")
		}
		out = append(out, "  "+h.Text)
	}
	for i, n := range r.Skills {
		if i == 0 {
			out = append(out, "The hands must be able to do:")
		}
		out = append(out, "  "+n.String())
	}
	if !r.TempoSet && len(r.Hardest) > 0 {
		out = append(out, fmt.Sprintf("No tempo is given: notes and shifts are counted at %d quarters a minute.", music.DefaultQuarterBpm))
	}
	if r.Unmarked > 0 {
		out = append(out, fmt.Sprintf("Notes without a string or a finger, which count only for speed: %d.", r.Unmarked))
	}
	return out
}

// sentence names the bar and the two things that weigh most.
func (b *Bar) sentence() string {
	why := b.Why[:min(len(b.Why), 2)]
	return "Bar " + b.Number + ": " + strings.Join(why, ", and ") + "."
}

func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

func crossings(n int) string {
	if n == 1 {
		return "one string crossing goes"
	}
	return fmt.Sprintf("%d string crossings go", n)
}
