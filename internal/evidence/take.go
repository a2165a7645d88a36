package evidence

import (
	"math"
	"slices"
	"strings"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/music"
)

// Schema names the JSON of Take and its version; fields may be added under one version.
const Schema = "antiphon.evidence/1"

// Take is the evidence of one hearing, for drawing under the staff. Seconds count from the start of
// the take. A note is placed by its id: the drawing takes x and staff from the engraved note.
type Take struct {
	Schema string `json:"schema"`
	Best   int    `json:"best"` // N of the pass that shows most; 0 without passes
	Passes []Pass `json:"passes"`
}

// Pass is one stretch of playing.
type Pass struct {
	N       int     `json:"n"`
	FromBar string  `json:"from_bar"`
	ToBar   string  `json:"to_bar"`
	FromS   float64 `json:"from_s"`
	ToS     float64 `json:"to_s"`
	Bpm     float64 `json:"bpm"`  // beats of the score a minute; 0 unknown
	Say     string  `json:"say"`  // "Pass 2: bars 1 to 8, 64 a minute, after a stop in bar 3."
	Came    string  `json:"came"` // what led here: "restart", "skip", "repeat", "" the beginning
	Bars    []Bar   `json:"bars"`
}

// Bar is one bar of a pass.
type Bar struct {
	Index int     `json:"index"` // into the bars of the score
	Bar   string  `json:"bar"`   // as printed
	FromS float64 `json:"from_s"`
	ToS   float64 `json:"to_s"`
	Bpm   float64 `json:"bpm"` // 0 where too little was heard
	Say   string  `json:"say"` // the text alternative
	Notes []Note  `json:"notes"`
	Added []Added `json:"added"`
}

// Note is a written note in one pass.
type Note struct {
	ID      string   `json:"id"` // of the score, as music.Score.Sounding gives it
	Verdict string   `json:"v"`  // "right", "wrong", "missed"
	S       float64  `json:"s"`  // heard, or, of a missed one, expected
	EndS    float64  `json:"end_s"`
	LateMs  float64  `json:"late_ms"`         // negative: early; against the tempo around it
	LateQ   float64  `json:"late_q"`          // the same in quarters of the score
	Loud    float64  `json:"loud"`            // 0 thin to 1 wide; 0.5 is about the median of the take
	Long    float64  `json:"long"`            // sounding length over written length, 0 to 2; 0 unknown
	Heard   string   `json:"heard,omitempty"` // of a wrong one, what was heard: "F♮"
	Doubt   bool     `json:"doubt,omitempty"` // the ear is not sure: draw it hollow
	Sure    float64  `json:"sure"`            // 0 to 1
	Marks   []string `json:"marks,omitempty"` // "buzz", "muted", "choked", "squeak": may be
}

// Added is a note that belongs to none written. It is drawn between two of them.
type Added struct {
	After  string  `json:"after"`  // id of the note before; "" none in this bar
	Before string  `json:"before"` // id of the note after; "" none in this bar
	At     float64 `json:"at"`     // 0 at the one, 1 at the other, or share of the bar
	S      float64 `json:"s"`
	Heard  string  `json:"heard"`
	Sure   float64 `json:"sure"`
	Doubt  bool    `json:"doubt,omitempty"`
}

// The ribbon's scale: loudness against the take's median note, in dB.
const (
	quietestDb = -15.0
	loudestDb  = 15.0
)

// Of gathers the evidence of a hearing made with score.
func Of(h *ear.Hearing, score *music.Score) Take {
	lines := Lay(h, score)
	t := Take{Schema: Schema, Passes: []Pass{}}
	if i := Best(h, lines); i >= 0 {
		t.Best = lines[i].Pass.N
	}
	for _, l := range lines {
		p := Pass{N: l.Pass.N, FromBar: l.Pass.FromBar, ToBar: l.Pass.ToBar, FromS: rounded(l.Pass.StartS, 3), ToS: rounded(l.Pass.EndS, 3),
			Bpm: rounded(l.Pass.Bpm, 1), Say: SayPass(l), Bars: []Bar{}}
		if l.Jump != nil {
			p.Came = string(l.Jump.Kind)
		}
		for _, m := range l.Bars {
			b := Bar{Index: m.Index, Bar: m.Label, FromS: rounded(max(0, m.FromS), 3), ToS: rounded(m.ToS, 3), Bpm: rounded(Bpm(h, l, m), 1),
				Say: SayBar(h, score, l, m), Notes: notes(h, score, m), Added: added(h, score, m)}
			p.Bars = append(p.Bars, b)
		}
		t.Passes = append(t.Passes, p)
	}
	return t
}

func notes(h *ear.Hearing, score *music.Score, m Measure) []Note {
	out := []Note{}
	for _, n := range m.Heard {
		if n.Note < 0 {
			continue
		}
		w := h.Score[n.Note]
		v := Note{ID: w.ID, Verdict: string(n.Verdict), S: rounded(n.OnsetS, 3), EndS: rounded(n.OffsetS, 3), LateMs: rounded(n.TimingMs, 0),
			LateQ: rounded(n.AtQ-n.PlaceQ, 3), Loud: rounded(min(1, max(0, (finite(n.LevelDb)-quietestDb)/(loudestDb-quietestDb))), 2),
			Sure: rounded(n.Confidence, 2), Doubt: n.Confidence < findings.Sure}
		if q := w.Duration.Q(); q > 0 {
			v.Long = rounded(min(2, max(0, (n.EndQ-n.AtQ)/q)), 2)
		}
		if n.Verdict == ear.Wrong {
			v.Heard = findings.HeardSign(score, n.Midi, w.Part, w.BarIndex)
		}
		for _, k := range n.Marks {
			if k.Confidence >= findings.Sure {
				v.Marks = append(v.Marks, k.Kind)
			}
		}
		out = append(out, v)
	}
	for _, g := range m.Missed {
		out = append(out, Note{ID: h.Score[g.Note].ID, Verdict: "missed", S: rounded(g.ExpectedS, 3), EndS: rounded(g.ExpectedS, 3),
			Sure: rounded(g.Confidence, 2), Doubt: g.Confidence < findings.Sure})
	}
	return out
}

// added places the notes that are not written between the written moments of their bar.
func added(h *ear.Hearing, score *music.Score, m Measure) []Added {
	out := []Added{}
	for _, n := range m.Heard {
		if n.Verdict != ear.Extra {
			continue
		}
		fromQ, toQ := 0.0, max(m.LengthQ, 1e-6)
		a := Added{S: rounded(n.OnsetS, 3), Heard: findings.HeardSign(score, n.Midi, firstPart(score), m.Index), Sure: rounded(n.Confidence, 2),
			Doubt: n.Confidence < findings.Sure}
		for _, w := range m.written(h) {
			q := w.Onset.Q() - m.StartQ
			if q <= n.PlaceQ && (a.After == "" || q > fromQ) {
				a.After, fromQ = w.ID, q
			}
			if q > n.PlaceQ && (a.Before == "" || q < toQ) {
				a.Before, toQ = w.ID, q
			}
		}
		a.At = rounded(min(1, max(0, (n.PlaceQ-fromQ)/max(toQ-fromQ, 1e-6))), 2)
		out = append(out, a)
	}
	return out
}

// written are the notes of the score that a bar accounts for, heard or missed, without grace notes.
func (m Measure) written(h *ear.Hearing) []music.Sounding {
	var out []music.Sounding
	add := func(note int) {
		if note >= 0 && !h.Score[note].Grace {
			out = append(out, h.Score[note])
		}
	}
	for _, n := range m.Heard {
		add(n.Note)
	}
	for _, g := range m.Missed {
		add(g.Note)
	}
	slices.SortFunc(out, func(a, b music.Sounding) int {
		if c := a.Onset.Cmp(b.Onset); c != 0 {
			return c
		}
		return strings.Compare(a.ID, b.ID)
	})
	return out
}

// Best is the index of the pass that shows most: the one with the most notes right, less half a note for
// each fault, so that a longer pass with a slip comes before a short clean one; of equals the last, since that is what the practice led to. -1 without passes.
func Best(h *ear.Hearing, lines []Line) int {
	best, most := -1, math.Inf(-1)
	for i, l := range lines {
		v := 0.0
		for _, n := range h.Played {
			switch {
			case n.Pass != l.Pass.N:
			case n.Verdict == ear.Right:
				v++
			default:
				v -= 0.5
			}
		}
		for _, g := range h.Missed {
			if g.Pass == l.Pass.N {
				v -= 0.5
			}
		}
		if v >= most {
			best, most = i, v
		}
	}
	return best
}

// Bpm is the pace of a bar in beats a minute, from its first heard place to the first of the next bar
// or its own last; 0 where too little was heard.
func Bpm(h *ear.Hearing, l Line, m Measure) float64 {
	fromQ, toQ, ok := l.Clock.Span()
	fromQ, toQ = max(fromQ, m.StartQ), min(toQ, m.StartQ+m.LengthQ)
	unit := h.Tempo.BeatUnitQ
	if unit <= 0 {
		unit = 1
	}
	if !ok || toQ-fromQ < 0.9*unit {
		return 0
	}
	s := l.Clock.Seconds(toQ) - l.Clock.Seconds(fromQ)
	if s <= 0 {
		return 0
	}
	return (toQ - fromQ) / unit * 60 / s
}

func firstPart(score *music.Score) string {
	if len(score.Parts) == 0 {
		return ""
	}
	return score.Parts[0].ID
}

// rounded is a finite v with so many decimals, never −0.
func rounded(v float64, decimals int) float64 {
	p := math.Pow10(decimals)
	if r := math.Round(finite(v)*p) / p; r != 0 {
		return finite(r)
	}
	return 0
}
