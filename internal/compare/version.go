package compare

import (
	"fmt"
	"slices"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/music"
)

// From so many notes on that come otherwise each time, and so many times, a take is of another version.
const (
	versionNotes = 2
	versionTimes = 2
)

// version tells of repeats left out or added, and of notes that come otherwise each time: learnt so, or
// from another page.
func version(ask Ask, h *ear.Hearing, score *music.Score) []Answer {
	var out []Answer
	wanted := 0
	order := score.Performed()
	for i := 1; i < len(order); i++ {
		if order[i].From <= order[i-1].To {
			wanted++
		}
	}
	taken, restarts := 0, 0
	for _, j := range h.Jumps {
		switch j.Kind {
		case ear.Repeat:
			taken++
		case ear.Restart:
			restarts++
		}
	}
	switch {
	case wanted > 0 && taken == 0 && restarts == 0 && ask.FromBar == "" && ask.ToBar == "":
		out = append(out, Answer{OtherVersion, false, "Without the repeat."})
	case wanted == 0 && taken > 0:
		out = append(out, Answer{More, true, fmt.Sprintf("Played round %d times.", taken+1)})
	}
	type way struct{ played, other, midi int }
	ways := map[int]*way{}
	for _, n := range h.Played {
		if n.Note < 0 {
			continue
		}
		w := ways[n.Note]
		if w == nil {
			w = &way{}
			ways[n.Note] = w
		}
		w.played++
		if n.Verdict == ear.Wrong && n.Confidence >= findings.Sure && (w.midi == 0 || w.midi == n.Midi) {
			w.other++
			w.midi = n.Midi
		}
	}
	var bars []int
	names := map[int]string{}
	notes := 0
	for i, n := range h.Score {
		if w := ways[i]; w != nil && w.played >= versionTimes && w.other == w.played {
			notes++
			names[n.BarIndex] = n.Bar
			if !slices.Contains(bars, n.BarIndex) {
				bars = append(bars, n.BarIndex)
			}
		}
	}
	if notes >= versionNotes {
		slices.Sort(bars)
		out = append(out, Answer{OtherVersion, false,
			fmt.Sprintf("Some notes come otherwise each time (%s): learnt so, or from another version of the piece.", barRuns(bars, names))})
	} else if bars, names := elsewhere(h); len(bars) > 0 {
		out = append(out, Answer{OtherVersion, false,
			fmt.Sprintf("The rest is as written, and %s came otherwise: perhaps another version of the piece.", barRuns(bars, names))})
	}
	return out
}

// A bar comes from another page where most of its notes are others than written, in a take that is
// otherwise right. Our choice, no source.
const (
	otherNotes = 3
	otherShare = 0.5
	restShare  = 0.9
)

// elsewhere are bars that sound as another version would; none where the rest is not right either.
func elsewhere(h *ear.Hearing) ([]int, map[int]string) {
	type tally struct{ all, other, right int }
	at := map[int]*tally{}
	names := map[int]string{}
	of := func(note int) *tally {
		n := h.Score[note]
		if at[n.BarIndex] == nil {
			at[n.BarIndex] = &tally{}
			names[n.BarIndex] = n.Bar
		}
		return at[n.BarIndex]
	}
	for _, n := range h.Played {
		if n.Note < 0 {
			continue
		}
		t := of(n.Note)
		t.all++
		switch {
		case n.Verdict == ear.Right:
			t.right++
		case n.Confidence >= findings.Sure:
			t.other++
		}
	}
	for _, m := range h.Missed {
		of(m.Note).all++
	}
	var bars []int
	right, rest := 0, 0
	for i, t := range at {
		if t.other >= otherNotes && float64(t.other) >= otherShare*float64(t.all) {
			bars = append(bars, i)
			continue
		}
		right, rest = right+t.right, rest+t.all
	}
	if rest == 0 || float64(right) < restShare*float64(rest) {
		return nil, nil
	}
	slices.Sort(bars)
	return bars, names
}
