package warn

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"antiphon/internal/plan/calendar"
)

// Thread is all that is known of one item a student is learning.
type Thread struct {
	Title    string
	Remarks  []Remark // of sent lessons
	Heard    []Heard
	Asked    []calendar.Day // in lessons
	Played   int            // days on which it was heard or logged
	GoalBpm  float64        // 0 none
	Practice bool           // a log of what is practised is kept
}

// Remark is what a lesson said, by its remedy or its words.
type Remark struct {
	Day  calendar.Day
	Key  string // the same for the same remark
	Text string
}

// Heard is one hearing of an item.
type Heard struct {
	Day calendar.Day
	Bpm float64
}

// Bounds of being stuck. Our choice, no source.
const (
	sameRemarks = 3
	flatHeard   = 4
	flatDays    = 21
	flatGrowth  = 1.03
	neverAsked  = 3
)

// Stuck lists where a student goes on without getting on, in the order remark, tempo, never played.
func Stuck(threads []Thread) []Notice {
	var out []Notice
	for _, t := range threads {
		if r, ok := t.sameRemark(); ok {
			out = append(out, Notice{Say: fmt.Sprintf("%s: the same remark in the last %d lessons (%s).", t.Title, sameRemarks, strings.TrimRight(r.Text, ". ")),
				Try: "Said three times, it may need another way: show it, take a smaller piece of it, or ask for it without the notes."})
		}
	}
	for _, t := range threads {
		if from, to, ok := t.flat(); ok {
			out = append(out, Notice{Say: fmt.Sprintf("%s: the tempo has stayed near %.0f since %s; the goal is %.0f.", t.Title, to, from.Short(), t.GoalBpm),
				Try: "Half the bars, smaller steps, or a rest of two weeks often moves it; perhaps this tempo is enough for now."})
		}
	}
	for _, t := range threads {
		if len(t.Asked) >= neverAsked && t.Played == 0 {
			say := "%s: asked in %d lessons and not heard yet."
			if t.Practice {
				say = "%s: asked in %d lessons, and neither heard nor in the log yet."
			}
			out = append(out, Notice{Say: fmt.Sprintf(say, t.Title, len(t.Asked)),
				Try: "Ask what is in the way: it may be too hard, unclear or not liked. Leaving it out is a good answer too."})
		}
	}
	return out
}

// sameRemark says that the last lessons with a remark on this item all made the same.
func (t Thread) sameRemark() (Remark, bool) {
	all := slices.Clone(t.Remarks)
	slices.SortStableFunc(all, func(a, b Remark) int { return -cmp.Compare(a.Day, b.Day) })
	days := map[calendar.Day]bool{}
	perDay := map[string]map[calendar.Day]bool{}
	for _, r := range all {
		if len(days) == sameRemarks && !days[r.Day] {
			break
		}
		days[r.Day] = true
		if r.Key == "" {
			continue
		}
		if perDay[r.Key] == nil {
			perDay[r.Key] = map[calendar.Day]bool{}
		}
		perDay[r.Key][r.Day] = true
	}
	for _, r := range all { // the newest first, so the answer does not depend on the map
		if len(perDay[r.Key]) >= sameRemarks {
			return r, true
		}
	}
	return Remark{}, false
}

// flat says that the later half of the hearings is hardly faster than the earlier, and not at the goal.
func (t Thread) flat() (from calendar.Day, best float64, ok bool) {
	h := slices.Clone(t.Heard)
	slices.SortStableFunc(h, func(a, b Heard) int { return cmp.Compare(a.Day, b.Day) })
	h = slices.DeleteFunc(h, func(x Heard) bool { return x.Bpm <= 0 })
	if len(h) > 2*flatHeard {
		h = h[len(h)-2*flatHeard:]
	}
	if len(h) < flatHeard || t.GoalBpm <= 0 || h[len(h)-1].Day-h[0].Day < flatDays {
		return 0, 0, false
	}
	early, late := 0.0, 0.0
	for i, x := range h {
		if 2*i < len(h) {
			early = max(early, x.Bpm)
		} else {
			late = max(late, x.Bpm)
		}
	}
	return h[0].Day, late, late <= early*flatGrowth && max(early, late) < 0.97*t.GoalBpm
}
