package studio

import (
	"fmt"
	"strings"

	"antiphon/internal/findings"
)

// heardTake is a take of this week, with what is said of it.
type heardTake struct {
	Take
	doc    heardDoc
	remark string
	here   bool // its recording
}

// heardDoc is what a proposal reads of a hearing.
type heardDoc struct {
	Passes []struct {
		StartS float64 `json:"start_s"`
		EndS   float64 `json:"end_s"`
	} `json:"passes"`
	Findings []struct {
		Kind       string  `json:"kind"`
		Text       string  `json:"text"`
		FromS      float64 `json:"from_s"`
		ToS        float64 `json:"to_s"`
		Confidence float64 `json:"confidence"`
		Well       bool    `json:"well"`
	} `json:"findings"`
}

// inWords is what was heard in a take, beside what was asked, and the first thing that was not well.
func (t heardTake) inWords(g Goals) string {
	s := t.Summary
	var b strings.Builder
	switch {
	case s.Bpm > 0 && g.TempoBpm > 0:
		fmt.Fprintf(&b, "Heard at %.0f quarters a minute; asked was %.0f.", s.Bpm, g.TempoBpm)
	case s.Bpm > 0:
		fmt.Fprintf(&b, "Heard at %.0f quarters a minute.", s.Bpm)
	default:
		b.WriteString("Heard, without a tempo that could be measured.")
	}
	var faults []string
	for _, f := range []struct {
		n    int
		what string
	}{{s.Wrong, "wrong note"}, {s.Missed, "missed note"}, {s.Extra, "added note"}, {s.Restarts, "new start"}} {
		if f.n > 0 {
			faults = append(faults, counted(f.n, f.what))
		}
	}
	switch {
	case len(faults) > 0:
		fmt.Fprintf(&b, " In %s: %s.", counted(s.Notes, "note"), strings.Join(faults, ", "))
	case s.Notes > 0:
		fmt.Fprintf(&b, " No wrong or missing note in %s.", counted(s.Notes, "note"))
	}
	for _, f := range t.doc.Findings {
		told := findings.Kind(f.Kind) == findings.Tempo && g.TempoBpm > 0 // in quarters, above; the ear counts the beats of the metre
		if !f.Well && !told && f.Confidence >= sureEnough && f.Text != "" {
			b.WriteString(" " + f.Text)
			break
		}
	}
	if t.remark != "" {
		b.WriteString(" Your remark stands under what to watch for.")
	}
	return b.String()
}

// last is how the newest take ends, as a loop; best what was said to be well in it.
func (t heardTake) last() Clip {
	if n := len(t.doc.Passes); n > 0 {
		return t.loop(t.doc.Passes[n-1].StartS, t.doc.Passes[n-1].EndS)
	}
	return Clip{}
}

func (t heardTake) best() Clip {
	for _, f := range t.doc.Findings {
		if f.Well {
			return t.loop(f.FromS, f.ToS)
		}
	}
	return Clip{}
}

func (t heardTake) loop(from, to float64) Clip {
	c := Clip{Take: t.ID, FromS: from, ToS: min(to, from+longestLoopS)}
	if c.ready() != nil {
		return Clip{}
	}
	return c
}

// tapped is what the family tapped of a line, in words.
func (i ItemSoFar) tapped() string {
	var said []string
	if i.Done > 0 {
		said = append(said, "done "+counted(i.Done, "time"))
	}
	if i.Tries > 0 {
		said = append(said, fmt.Sprintf("%d of %d tries clean", i.Clean, i.Tries))
	}
	if i.TopBpm > 0 {
		said = append(said, fmt.Sprintf("clean up to %.0f", i.TopBpm))
	}
	if i.Answer != "" {
		said = append(said, fmt.Sprintf("answered “%s”", i.Answer))
	}
	if len(said) == 0 {
		return "Nothing was tapped at home."
	}
	return "At home they tapped: " + strings.Join(said, ", ") + "."
}
