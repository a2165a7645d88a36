// Package playable reads the fingering that stands in a score and says what of it two hands cannot
// do. It is the second opinion on whatever wrote the marks, so it shares no code with the packages
// that choose fingers, only the geometry of the guitar.
//
// It judges what is marked: it chooses nothing, completes nothing, and calls a note without marks
// unmarked, not wrong. Ease and taste are not its business. The players of a score are looked at one by one.
package playable

import (
	"slices"

	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// Level says how bad a fault is.
type Level string

const (
	Impossible Level = "impossible" // no hand can do what is marked
	Warning    Level = "warning"    // it can be done, but not quite as written, or only by a practised hand
	Unmarked   Level = "unmarked"   // marks are missing, so this could not be checked
)

// Kind names a fault.
type Kind string

const (
	TwoOnString   Kind = "two on one string"
	WrongFret     Kind = "fret gives another pitch"
	NoPlace       Kind = "no such place"
	OpenFinger    Kind = "finger and fret disagree" // a finger on an open string, or none on a fret
	FingerTwice   Kind = "finger in two places"
	OutOfReach    Kind = "out of reach"
	OutOfOrder    Kind = "fingers out of order"
	BarreStops    Kind = "barre stops a string that must sound"
	LongBarre     Kind = "barre of a weak finger" // more strings than fingers 2 to 4 can lie across
	CutString     Kind = "held note cut by its string"
	CutFinger     Kind = "held note cut by its finger"
	CutReach      Kind = "held note out of reach"
	CutBarre      Kind = "held note cut by a barre"
	TooFast       Kind = "shift too fast"
	SlurStrings   Kind = "slur across strings"
	SlurFinger    Kind = "slur with one finger"
	PluckedSlur   Kind = "slurred note is plucked"
	RepeatedPluck Kind = "right-hand finger twice"
	PluckTwice    Kind = "right-hand finger on two strings"
	PluckCrossed  Kind = "right-hand fingers crossed"
	RestLands     Kind = "rest stroke lands on a sounding string"
	RestNowhere   Kind = "rest stroke has no string to land on"
	BrokenLimit   Kind = "beyond what was allowed"
	NotMarked     Kind = "not marked"
)

// Fault is one thing that the marks ask and the hands cannot give.
type Fault struct {
	Kind     Kind
	Level    Level
	Part     string
	Bar      string // as printed
	BarIndex int
	At       music.Beats
	Notes    []string // ids of music.Sounding
	Text     string   // one sentence
	Size     float64  // how much, in Unit; 0 where there is no amount
	Unit     string   // "mm", "mm/s", "quarters", "ms", ""
	Limit    Limit    // which one is broken, of a BrokenLimit
}

// Limit is something the player has not learnt yet.
type Limit string

const (
	NoFourthFinger Limit = "no fourth finger"
	NoBarre        Limit = "no barre"
	FirstPosition  Limit = "first position only" // no fret above 4, finger 1 not above 2, none more than a fret from its own
	NoStretch      Limit = "no stretch"          // no two fingers further apart than is easy for the hand
	NoA            Limit = "no ring finger in the right hand"
)

// Check lists the faults of the marks in s in order of place. A hand that says nothing is an
// adult's; the limits are those that the marks must keep.
func Check(s *music.Score, in guitar.Instrument, hand guitar.Hand, limits ...Limit) []Fault {
	sounding, written := s.Sounding(), s.Written()
	var faults []Fault
	for _, parts := range s.Players() {
		sh := newSheet(s, parts, sounding, written, in, hand.OrAdult())
		sh.places()
		sh.crowds()
		sh.grips()
		sh.held()
		sh.moves()
		sh.slurs()
		sh.right()
		sh.limits(limits)
		faults = append(faults, sh.faults...)
	}
	slices.SortStableFunc(faults, func(a, b Fault) int { return a.At.Cmp(b.At) })
	return faults
}

// Only keeps the faults of one level.
func Only(faults []Fault, l Level) []Fault {
	var out []Fault
	for _, f := range faults {
		if f.Level == l {
			out = append(out, f)
		}
	}
	return out
}
