package evidence

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"antiphon/internal/dsp"
	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/music"
)

// From where a sentence speaks of it. People at ease keep a beat to some 4 to 6 % (see package findings):
// what lies within is not told. 3 dB is the contrast from which soft and loud are told apart elsewhere in
// the house.
const (
	littleMs    = 30.0 // at least, and
	littleBeat  = 0.06 // of a beat: a little early or late
	plainlyMs   = 60.0
	plainlyBeat = 0.12
	contrastDb  = 3.0
	mostFaults  = 4 // told by name; more are counted
)

// SayBar is a bar in one sentence, for who cannot see the drawing: how many of its notes came, what was
// other than written, early or late, loud or soft, and how fast.
func SayBar(h *ear.Hearing, score *music.Score, l Line, m Measure) string {
	var parts []string
	if c := count(m); c != "" {
		parts = append(parts, c)
	}
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

func count(m Measure) string {
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
		return "" // the fault says it all
	case all == 2 && right == 2:
		text = "both notes"
	case right == all:
		text = fmt.Sprintf("all %s notes", number(all))
	case right == 0:
		text = fmt.Sprintf("none of %s notes", number(all))
	default:
		text = fmt.Sprintf("%s of %s notes", number(right), number(all))
	}
	if all < m.Written { // a pass that begins or ends inside the bar
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

// timing tells of a bar that lies early or late as a whole, and else of single moments that plainly do. A
// chord is as early as its first note: that the others come after is how it is rolled.
func timing(h *ear.Hearing, m Measure) []string {
	type moment struct {
		q, ms float64
		note  int
	}
	var all []moment
	for _, n := range m.Heard {
		if n.Note < 0 || h.Score[n.Note].Grace {
			continue
		}
		v := moment{n.PlaceQ, finite(n.TimingMs), n.Note}
		i := slices.IndexFunc(all, func(o moment) bool { return math.Abs(o.q-v.q) < 1e-6 })
		switch {
		case i < 0:
			all = append(all, v)
		case v.ms < all[i].ms:
			all[i] = v
		}
	}
	if len(all) == 0 {
		return nil
	}
	var ms []float64
	for _, v := range all {
		ms = append(ms, v.ms)
	}
	beatMs := 0.0
	if h.Tempo.MedianBpm > 0 {
		beatMs = 60000 / h.Tempo.MedianBpm
	}
	little, plainly := max(littleMs, littleBeat*beatMs), max(plainlyMs, plainlyBeat*beatMs)
	earlyLate := func(ms float64) string {
		word := "late"
		if ms < 0 {
			word = "early"
		}
		if math.Abs(ms) < plainly {
			word = "a little " + word
		}
		return word
	}
	if d := dsp.Median(ms); math.Abs(d) >= little {
		return []string{earlyLate(d)}
	}
	var out []string
	for _, v := range all {
		if math.Abs(v.ms) >= plainly && len(out) < 2 {
			out = append(out, "the "+findings.Pitch(h.Score[v.note].Name)+" "+earlyLate(v.ms))
		}
	}
	return out
}

func loudness(m Measure) string {
	var db []float64
	for _, n := range m.Heard {
		if n.Note >= 0 {
			db = append(db, finite(n.LevelDb))
		}
	}
	switch d := dsp.Median(db); {
	case d >= contrastDb:
		return "louder than most"
	case d <= -contrastDb:
		return "softer than most"
	}
	return ""
}
