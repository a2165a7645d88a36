package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"antiphon/internal/difficulty"
	"antiphon/internal/guitar"
	"antiphon/internal/hands"
	"antiphon/internal/music"
	"antiphon/internal/pluck"
)

// withoutPlace takes the right hand away from notes that have no place on the guitar, and from those
// outside the passage.
func withoutPlace(plan *pluck.Plan, places map[string]guitar.Place) {
	for i := range plan.Notes {
		if c := &plan.Notes[i]; places[c.ID].String == 0 {
			c.Finger, c.Stroke, c.MayRest, c.Why = "", music.NoStroke, false, ""
		}
	}
	plan.Starts = slices.DeleteFunc(plan.Starts, func(s pluck.Start) bool { return places[s.Note].String == 0 })
}

// profileOf measures the marks of a fingered score, of the passage alone where one was asked for.
func profileOf(s *music.Score, f *hands.Fingering, hand guitar.Hand) difficulty.Report {
	inside := map[int]bool{}
	for _, n := range f.Notes {
		inside[n.BarIndex] = true
	}
	cut := *s
	cut.Parts = slices.Clone(s.Parts)
	for i := range cut.Parts {
		p := &cut.Parts[i]
		p.Notes = slices.DeleteFunc(slices.Clone(p.Notes), func(n music.Note) bool { return !inside[n.Bar] })
	}
	return difficulty.Profile(&cut, f.Instrument, hand, difficulty.Options{})
}

// The right hand's starts and the difficulty profile as JSON.
type (
	startJSON struct {
		Note   string `json:"note"`
		Bar    string `json:"bar"`
		Finger string `json:"finger"`
		Reason string `json:"reason"`
	}
	difficultyJSON struct {
		Load     float64     `json:"load"`      // the mean of the most demanding tenth of the bars; for comparing, no grade
		TempoSet bool        `json:"tempo_set"` // false: 90 quarters a minute were assumed
		Unmarked int         `json:"unmarked"`  // notes without a string or a finger
		Hardest  []hardJSON  `json:"hardest"`
		Skills   []skillJSON `json:"skills"`
		Bars     []barJSON   `json:"bars"`
	}
	hardJSON struct {
		Bar  string  `json:"bar"`
		Load float64 `json:"load"`
		Text string  `json:"text"`
	}
	skillJSON struct {
		Skill string   `json:"skill"`
		First string   `json:"first_bar"`
		Bars  []string `json:"bars"`
		Times int      `json:"times"`
	}
	barJSON struct {
		Bar          string   `json:"bar"`
		ReachMm      float64  `json:"reach_mm"` // between the two fingertips that are stretched most; 0 none
		ReachFingers []int    `json:"reach_fingers"`
		EasyMm       float64  `json:"easy_mm"`
		MostMm       float64  `json:"most_mm"`
		Shifts       int      `json:"shifts"`
		ShiftsPerMin float64  `json:"shifts_per_min"`
		ShiftMm      float64  `json:"longest_shift_mm"`
		FourthShare  float64  `json:"fourth_finger_share"`
		BarreShare   float64  `json:"barre_share"`
		BarreStrings int      `json:"barre_strings"`
		FingersDown  int      `json:"fingers_down"`
		Crossings    int      `json:"crossings"`
		AgainstHand  int      `json:"crossings_against_hand"`
		NotesPerS    float64  `json:"notes_per_s"`
		Load         float64  `json:"load"`
		Why          []string `json:"why"`
	}
)

func difficultyOf(r difficulty.Report) difficultyJSON {
	round := func(v float64) float64 { return math.Round(v*1000) / 1000 }
	d := difficultyJSON{Load: round(r.Load), TempoSet: r.TempoSet, Unmarked: r.Unmarked, Hardest: []hardJSON{}, Skills: []skillJSON{}, Bars: []barJSON{}}
	for _, h := range r.Hardest {
		d.Hardest = append(d.Hardest, hardJSON{h.Bar, round(h.Load), h.Text})
	}
	for _, n := range r.Skills {
		d.Skills = append(d.Skills, skillJSON{string(n.Skill), n.First, n.Bars, n.Times})
	}
	for _, b := range r.Bars {
		if b.Strokes == 0 && b.Load == 0 {
			continue // nothing is played in it, or it lies outside the passage
		}
		j := barJSON{Bar: b.Number, ReachMm: round(b.ReachMm), ReachFingers: []int{}, EasyMm: round(b.EasyMm), MostMm: round(b.MostMm), Shifts: b.Shifts,
			ShiftsPerMin: round(b.ShiftsPerMin), ShiftMm: round(b.ShiftMm), FourthShare: round(b.FourthShare), BarreShare: round(b.BarreShare), BarreStrings: b.BarreOver,
			FingersDown: b.FingersDown, Crossings: b.Crossings, AgainstHand: b.AgainstHand, NotesPerS: round(b.NotesPerS), Load: round(b.Load), Why: append([]string{}, b.Why...)}
		if b.ReachMm > 0 {
			j.ReachFingers = b.ReachFingers[:]
		}
		d.Bars = append(d.Bars, j)
	}
	return d
}

// mostStarts of the right hand are told one by one.
const mostStarts = 6

func startsText(w io.Writer, plan *pluck.Plan, bars map[string]string) {
	for i, st := range plan.Starts {
		if i == 0 {
			fmt.Fprintf(w, "\nWhich finger begins, where two of the right hand take turns:\n")
		}
		if i == mostStarts {
			fmt.Fprintf(w, "  and %d more; --json lists them.\n", len(plan.Starts)-i)
			break
		}
		fmt.Fprintf(w, "  %s, bar %s: %s.\n", st.Note, printable(bars[st.Note]), st.Reason)
	}
}

func profileText(w io.Writer, r difficulty.Report) {
	for i, line := range r.Plain() {
		if i == 0 {
			fmt.Fprintln(w)
		}
		fmt.Fprintln(w, printable(line))
	}
}

// strokeText is the finger, and the stroke where one was asked for.
func strokeText(c pluck.Choice) string {
	return strings.TrimSpace(c.Finger + " " + strings.TrimSuffix(string(c.Stroke), " stroke"))
}

// toldText names the note that a message is about, where the sentence does not.
func toldText(t hands.Told) string {
	if len(t.Notes) == 1 && !strings.Contains(t.Text, "("+t.Notes[0]+")") {
		return t.Notes[0] + ", " + strings.ToLower(t.Text[:1]) + t.Text[1:]
	}
	return t.Text
}
