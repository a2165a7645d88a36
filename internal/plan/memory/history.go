package memory

import (
	"cmp"
	"math"
	"slices"

	"antiphon/internal/plan/calendar"
)

// Playing is one day on which an item was played and something is known of how it went.
type Playing struct {
	Day    calendar.Day
	Rating Rating
}

// Heard is what a take or a log tells, for a rating.
type Heard struct {
	RightShare float64 // of the notes asked, 0 to 1
	Complete   bool    // from the first bar asked to the last
	Stops      int     // restarts and halts
	Bpm        float64 // 0 unknown
	GoalBpm    float64 // 0 none was asked
	SpreadPct  float64 // of the tempo; 0 unknown
}

// Bounds of Rate. Our choice; the teacher's own rating goes before it.
const (
	brokenBelow = 0.70 // of the notes
	steadyFrom  = 0.90
	steadyStops = 2
	steadyPct   = 12.0
	nearGoal    = 0.97 // of the tempo asked
)

// Rate says how a playing went.
func Rate(h Heard) Rating {
	switch {
	case !h.Complete && h.Stops > steadyStops, h.RightShare < brokenBelow:
		return BrokeDown
	case h.Stops > steadyStops, h.RightShare < steadyFrom, !h.Complete, h.SpreadPct > 2*steadyPct:
		return Stopped
	case h.GoalBpm > 0 && h.Bpm >= nearGoal*h.GoalBpm && h.SpreadPct <= steadyPct:
		return AtTempo
	}
	return Steady
}

// RateLog says it from what a home coach counted: so many right of so many tries. Without a count it is
// taken as steady.
func RateLog(right, tries int) Rating {
	switch share := float64(right) / float64(max(tries, 1)); {
	case tries <= 0 || share >= 0.75:
		return Steady
	case share >= 0.4:
		return Stopped
	}
	return BrokeDown
}

// Follow goes through the playings of one item in order of days and gives what is left, the day of the
// last, and each test of memory on the way. Of one day the best playing counts, after its worst.
func Follow(all []Playing) (t Trace, last calendar.Day, tries []Try) {
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(a, b Playing) int { return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Rating, b.Rating)) })
	for _, p := range all {
		if p.Rating < BrokeDown || p.Rating > AtTempo {
			continue
		}
		days := float64(p.Day - last)
		if t.Playings > 0 && days >= 1 {
			tries = append(tries, Try{p.Day, days, t.StabilityDays, p.Rating >= Steady})
		}
		t, last = t.After(days, p.Rating), p.Day
	}
	return t, last, tries
}

// Inside a term an item is asked again after 2 to 28 days, whatever the curve says (our choice, as the
// curve was not fitted to hands).
const (
	SoonestDays = 2
	LatestDays  = 28
	UsualTarget = 0.85 // of pieces to keep
)

// DueIn is after how many days from its last playing an item is to be asked again.
func (p Pace) DueIn(t Trace, target float64) int {
	return int(clamp(math.Floor(p.DueDays(t, target)), SoonestDays, LatestDays))
}

// firmDays is for how long an item holds that counts as back.
const firmDays = 7

// DaysToBringBack is how many days of playing an item will likely need until it holds for a week again.
func (p Pace) DaysToBringBack(days float64, t Trace, target float64) int {
	r := Steady
	if p.Left(days, t) < brokenBelow {
		r = Stopped
	}
	n := 0
	for n < 14 {
		t, n = t.After(days, r), n+1
		if p.DueDays(t, target) >= firmDays && r >= Steady {
			break
		}
		days, r = 1, Steady
	}
	return n
}

// GapDays is the gap between reviews that serves best when it must hold for so many days (from Cepeda et
// al. 2008: their fitted optima are from memory: 7 d: 3, 35 d: 8, 70 d: 12, 350 d: 27), between them by
// logarithms.
func GapDays(horizonDays float64) float64 {
	at := [][2]float64{{7, 3}, {35, 8}, {70, 12}, {350, 27}}
	h := clamp(horizonDays, at[0][0], at[len(at)-1][0])
	for i := 1; i < len(at); i++ {
		if h <= at[i][0] {
			f := math.Log(h/at[i-1][0]) / math.Log(at[i][0]/at[i-1][0])
			return at[i-1][1] * math.Pow(at[i][1]/at[i-1][1], f)
		}
	}
	return at[len(at)-1][1]
}
