package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/music"
	"antiphon/internal/tone"
)

// Ask is what was asked for a take. The zero value asks for the whole work at the score's own tempo.
type Ask struct {
	FromBar, ToBar string  // as printed; "" from the beginning, to the end
	Bpm            float64 // in the beat that the score counts; 0: as the score says, if it says
	Dynamics       bool    // soft and loud were asked for
	Tone           string  // where to pluck: "bridge", "hole", "neck" or in words; "" not asked
}

// Answer is one thing about how what was played stands to what was asked.
type Answer struct {
	Kind AnswerKind `json:"kind"`
	Good bool       `json:"good"` // good news
	Say  string     `json:"say"`
}

// AnswerKind is a sort of answer.
type AnswerKind string

// The kinds.
const (
	OtherPiece   AnswerKind = "other-piece"
	OtherVersion AnswerKind = "other-version" // an octave, a capo, a repeat, notes that come otherwise each time
	OtherTempo   AnswerKind = "other-tempo"
	OtherPlace   AnswerKind = "other-place" // the right hand plucked elsewhere, or in part
	NotTold      AnswerKind = "not-told"    // the recording does not tell
	AsAsked      AnswerKind = "as-asked"
	More         AnswerKind = "more"
	Less         AnswerKind = "less"
)

// tempoNear is how near in % a take is at the tempo asked for.
const tempoNear = 5.0

// Asked sets what was played beside what was asked, in the order: is it the piece, how much of it, which
// version, which tempo, how loud, plucked where. An empty answer is never given.
func Asked(ask Ask, h *ear.Hearing, t tone.Heard, score *music.Score) []Answer {
	if len(h.Passes) == 0 {
		if n := h.SoundsHigher; n != 0 {
			way := "higher"
			if n < 0 {
				way, n = "lower", -n
			}
			return []Answer{{OtherVersion, false, fmt.Sprintf("The notes of this score, %d semitones %s: perhaps with a capo or in another tuning.", n, way)}}
		}
		return []Answer{{OtherPiece, false, "Something else than this score was played."}}
	}
	var out []Answer
	out = append(out, amount(ask, h, score)...)
	out = append(out, version(ask, h, score)...)
	out = append(out, pace(ask, h)...)
	out = append(out, loudness(ask, h, score)...)
	out = append(out, place(ask, t, score)...)
	return out
}

// amount compares the bars played with those asked for.
func amount(ask Ask, h *ear.Hearing, score *music.Score) []Answer {
	from, to := 0, len(score.Bars)-1
	if i := barIndex(score, ask.FromBar, false); i >= 0 {
		from = i
	}
	if i := barIndex(score, ask.ToBar, true); i >= 0 {
		to = i
	}
	written, played := map[int]bool{}, map[int]bool{}
	names := map[int]string{}
	for _, n := range h.Score {
		if !n.Cue {
			written[n.BarIndex] = true
			names[n.BarIndex] = n.Bar
		}
	}
	for _, n := range h.Played {
		if n.Note >= 0 {
			played[h.Score[n.Note].BarIndex] = true
		}
	}
	var more, less []int
	for i := range score.Bars {
		if names[i] == "" {
			names[i] = fmt.Sprint(i + 1)
		}
		switch asked := i >= from && i <= to; {
		case played[i] && !asked:
			more = append(more, i)
		case written[i] && !played[i] && asked:
			less = append(less, i)
		}
	}
	var out []Answer
	switch {
	case len(less) == 0 && len(more) == 0:
		out = append(out, Answer{AsAsked, true, "All that was asked was played."})
	case len(less) == 0:
		out = append(out, Answer{More, true, "All that was asked, and more: " + barRuns(more, names) + " came as well."})
	default:
		out = append(out, Answer{Less, false, "Not everything was played: " + barRuns(less, names) + " did not come."})
		if len(more) > 0 {
			out = append(out, Answer{More, true, "Not asked, and played: " + barRuns(more, names) + "."})
		}
	}
	return out
}

func barIndex(score *music.Score, number string, last bool) int {
	if number == "" {
		return -1
	}
	same := func(b music.Bar) bool { return b.Number == number }
	if !last {
		return slices.IndexFunc(score.Bars, same)
	}
	for i := len(score.Bars) - 1; i >= 0; i-- {
		if same(score.Bars[i]) {
			return i
		}
	}
	return -1
}

func pace(ask Ask, h *ear.Hearing) []Answer {
	want, whose := ask.Bpm, "was asked"
	if want <= 0 {
		want, whose = h.Tempo.MarkedBpm, "says the score"
	}
	got := h.Tempo.MedianBpm
	if !(want > 0) || !(got > 0) {
		return nil
	}
	for _, p := range h.Passes { // a ladder: one round at the tempo is what was asked
		if len(h.Passes) > 1 && p.Complete && math.Abs(p.Bpm/want-1)*100 < tempoNear && math.Abs(got/want-1)*100 >= tempoNear {
			return []Answer{{AsAsked, true, fmt.Sprintf("One pass is at the tempo: %.0f a minute.", p.Bpm)}}
		}
	}
	switch d := 100 * (got/want - 1); {
	case math.Abs(d) < tempoNear:
		return []Answer{{AsAsked, true, fmt.Sprintf("At the tempo: %.0f a minute, %.0f %s.", got, want, whose)}}
	case d > 0:
		return []Answer{{OtherTempo, false, fmt.Sprintf("Faster: %.0f a minute, %.0f %s.", got, want, whose)}}
	default:
		return []Answer{{OtherTempo, false, fmt.Sprintf("Slower: %.0f a minute, %.0f %s. Often wise, if it was clean.", got, want, whose)}}
	}
}

func loudness(ask Ask, h *ear.Hearing, score *music.Score) []Answer {
	if !ask.Dynamics {
		return nil
	}
	for _, f := range findings.Of(h, score, findings.Options{}) {
		switch f.Kind {
		case findings.DynamicsHeard:
			return []Answer{{AsAsked, true, "Soft and loud can be told apart, as asked."}}
		case findings.DynamicsFlat:
			return []Answer{{Less, false, "Soft and loud were asked and sound alike in the recording."}}
		}
	}
	return nil
}

// place answers where the right hand was asked to pluck: what the assignment asks for counts before what
// the score says. A wish in other words than those of a place ("warm") cannot be measured.
func place(ask Ask, t tone.Heard, score *music.Score) []Answer {
	p := tone.Wish(ask.Tone)
	if p == music.AnyPlace {
		return nil
	}
	from, to := 0, len(score.Bars)-1
	if i := barIndex(score, ask.FromBar, false); i >= 0 {
		from = i
	}
	if i := barIndex(score, ask.ToBar, true); i >= 0 {
		to = i
	}
	a := t.Asked(p, score, from, to)
	say := strings.ToUpper(a.Say[:1]) + a.Say[1:] + "."
	switch a.Outcome {
	case tone.AsAsked:
		return []Answer{{AsAsked, true, say}}
	case tone.NotTold:
		return []Answer{{NotTold, false, say}}
	}
	return []Answer{{OtherPlace, false, say}}
}
