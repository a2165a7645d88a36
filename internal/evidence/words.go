package evidence

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/music"
)

// From where a sentence speaks of it. 25 ms is near what a listener can tell in a slow tune, and about
// the spread of careful playing; 60 ms is plain to hear (common practice, no source). 3 dB is the
// contrast from which soft and loud are told apart elsewhere in the house.
const (
	littleMs   = 25.0
	plainlyMs  = 60.0
	contrastDb = 3.0
	mostFaults = 4 // told by name; more are counted
)

// SayBar is a bar in one sentence, for who cannot see the drawing: how many of its notes came, what was
// other than written, early or late, loud or soft, and how fast.
func SayBar(h *ear.Hearing, score *music.Score, l Line, m Measure) string {
	parts := []string{count(h, m)}
	parts = append(parts, faults(h, score, m)...)
	parts = append(parts, timing(h, m)...)
	if s := loudness(m); s != "" {
		parts = append(parts, s)
	}
	if bpm := Bpm(h, l, m); bpm > 0 {
		parts = append(parts, fmt.Sprintf("%.0f a minute", bpm))
	}
	return barName(m.Label) + ": " + strings.Join(parts, ", ") + "."
}

func barName(label string) string {
	if label == "0" {
		return "Pickup"
	}
	return "Bar " + label
}

// SayPass is a pass in one sentence.
func SayPass(l Line) string {
	p := l.Pass
	text := fmt.Sprintf("Pass %d: ", p.N)
	switch {
	case p.FromBar == p.ToBar:
		text += strings.ToLower(barName(p.FromBar)[:1]) + barName(p.FromBar)[1:]
	case p.FromBar == "0":
		text += "pickup to bar " + p.ToBar
	default:
		text += "bars " + p.FromBar + " to " + p.ToBar
	}
	if p.Bpm > 0 {
		text += fmt.Sprintf(", %.0f a minute", finite(p.Bpm))
	}
	if j := l.Jump; j != nil {
		switch j.Kind {
		case ear.Restart:
			text += ", after a stop in bar " + j.FromBar
		case ear.Skip:
			text += ", ahead from bar " + j.FromBar
		default:
			text += ", once more"
		}
	}
	return text + "."
}

func count(h *ear.Hearing, m Measure) string {
	all, right := len(m.Missed), 0
	for _, n := range m.Heard {
		if n.Note >= 0 {
			all++
		}
		if n.Verdict == ear.Right {
			right++
		}
	}
	text := ""
	switch {
	case all == 0:
		return "nothing is written"
	case all == 1 && right == 1:
		text = "its one note"
	case all == 1:
		text = "its one note not"
	case all == 2 && right == 2:
		text = "both notes"
	case right == all:
		text = fmt.Sprintf("all %s notes", number(all))
	case right == 0:
		text = fmt.Sprintf("none of %s notes", number(all))
	default:
		text = fmt.Sprintf("%s of %s notes", number(right), number(all))
	}
	written := 0
	for _, w := range h.Score {
		if w.BarIndex == m.Index && !w.Cue {
			written++
		}
	}
	if all < written { // a pass that begins or ends inside the bar
		text += " as far as it was played"
	}
	return text
}

func number(n int) string {
	words := [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	if n < len(words) {
		return words[n]
	}
	return fmt.Sprint(n)
}

// faults in order of time: wrong, missed and added ones. What the ear doubts is told as "perhaps".
func faults(h *ear.Hearing, score *music.Score, m Measure) []string {
	type fault struct {
		s    float64
		text string
	}
	var all []fault
	perhaps := func(sure float64) string {
		if sure < findings.Sure {
			return "perhaps "
		}
		return ""
	}
	for _, n := range m.Heard {
		switch n.Verdict {
		case ear.Wrong:
			w := h.Score[n.Note]
			all = append(all, fault{n.OnsetS, fmt.Sprintf("the %s was %sheard as %s", findings.Pitch(w.Name), perhaps(n.Confidence), findings.Heard(score, n.Midi, w))})
		case ear.Extra:
			name := findings.Heard(score, n.Midi, music.Sounding{Part: firstPart(score), BarIndex: m.Index})
			all = append(all, fault{n.OnsetS, perhaps(n.Confidence) + "an added " + name})
		}
	}
	for _, g := range m.Missed {
		all = append(all, fault{g.ExpectedS, fmt.Sprintf("the %s was %snot heard", findings.Pitch(h.Score[g.Note].Name), perhaps(g.Confidence))})
	}
	slices.SortStableFunc(all, func(a, b fault) int {
		switch {
		case a.s < b.s:
			return -1
		case a.s > b.s:
			return 1
		}
		return 0
	})
	var out []string
	for i, f := range all {
		if i == mostFaults && len(all) > mostFaults+1 {
			out = append(out, fmt.Sprintf("%s more not as written", number(len(all)-i)))
			break
		}
		out = append(out, f.text)
	}
	return out
}

// timing tells of a bar that lies early or late as a whole, and else of single notes that plainly do.
func timing(h *ear.Hearing, m Measure) []string {
	var ms []float64
	for _, n := range m.Heard {
		if n.Note >= 0 && !h.Score[n.Note].Grace {
			ms = append(ms, finite(n.TimingMs))
		}
	}
	if len(ms) == 0 {
		return nil
	}
	if d := median(ms); math.Abs(d) >= littleMs {
		return []string{earlyLate(d)}
	}
	var out []string
	for _, n := range m.Heard {
		if d := finite(n.TimingMs); n.Note >= 0 && !h.Score[n.Note].Grace && math.Abs(d) >= plainlyMs && len(out) < 2 {
			out = append(out, "the "+findings.Pitch(h.Score[n.Note].Name)+" "+earlyLate(d))
		}
	}
	return out
}

func earlyLate(ms float64) string {
	word := "late"
	if ms < 0 {
		word = "early"
	}
	if math.Abs(ms) < plainlyMs {
		word = "a little " + word
	}
	return word
}

func loudness(m Measure) string {
	var db []float64
	for _, n := range m.Heard {
		if n.Note >= 0 {
			db = append(db, finite(n.LevelDb))
		}
	}
	switch d := median(db); {
	case d >= contrastDb:
		return "louder than most"
	case d <= -contrastDb:
		return "softer than most"
	}
	return ""
}

func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	w := slices.Clone(v)
	slices.Sort(w)
	if n := len(w); n%2 == 0 {
		return (w[n/2-1] + w[n/2]) / 2
	}
	return w[len(w)/2]
}
