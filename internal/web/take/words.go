package take

import (
	"fmt"
	"strconv"
	"strings"

	"antiphon/internal/compare"
	"antiphon/internal/evidence"
	"antiphon/internal/studio"
	"antiphon/internal/tone"
)

// evidence lays the passes out in words.
func (v *view) evidence(l *listened) {
	best := evidence.Best(l.hearing, l.lines)
	for i, line := range l.lines {
		pv := passView{N: line.Pass.N, Say: passSay(line), Best: i == best}
		for _, m := range line.Bars {
			pv.Bars = append(pv.Bars, barView{Bar: m.Label, Say: evidence.SayBar(l.hearing, l.score, line, m),
				FromS: fmt.Sprintf("%.2f", max(0, m.FromS)), ToS: fmt.Sprintf("%.2f", max(0, m.ToS))})
		}
		v.Passes = append(v.Passes, pv)
		if j := line.Jump; j != nil && j.Kind == "restart" {
			v.Restarts = append(v.Restarts, restart{AtS: j.ResumeS, Say: "The ear heard a stop in bar " + j.FromBar + " and a new start in bar " + j.ToBar + "."})
		}
	}
	if best >= 0 {
		v.PlayedSay = playedSay(l, best)
	}
}

// asked sets what was played beside what was asked.
func (v *view) asked(rv studio.Review, l *listened) {
	if rv.Assignment == nil || len(l.hearing.Passes) == 0 {
		return
	}
	a := rv.Assignment
	ask := compare.Ask{FromBar: a.FromBar, ToBar: a.ToBar, Bpm: a.Goals.TempoBpm / beatQ(l.score), Dynamics: a.Goals.Dynamics != "", Tone: a.Goals.Tone}
	for _, x := range compare.Asked(ask, l.hearing, l.tone, l.score) {
		v.Apart = append(v.Apart, x.Say)
	}
}

// passSay is a pass without its number, which stands beside it.
func passSay(l evidence.Line) string {
	_, say, ok := strings.Cut(evidence.SayPass(l), ": ")
	if !ok {
		say = evidence.SayPass(l)
	}
	return strings.TrimSuffix(say, ".")
}

func playedSay(l *listened, best int) string {
	say := upper(passSay(l.lines[best]))
	if n := len(l.lines); n > 1 {
		say += "; " + strconv.Itoa(n) + " passes in all"
	}
	return say + "."
}

// askedInWords is an assignment as it is said; beatQ is the beat that its score counts, in quarters.
func askedInWords(a studio.Assignment, beatQ float64) string {
	var parts []string
	switch {
	case a.FromBar != "" && a.FromBar == a.ToBar:
		parts = append(parts, "bar "+a.FromBar)
	case a.FromBar != "" && a.ToBar != "":
		parts = append(parts, "bars "+a.FromBar+" to "+a.ToBar)
	case a.FromBar != "":
		parts = append(parts, "from bar "+a.FromBar)
	case a.ToBar != "":
		parts = append(parts, "up to bar "+a.ToBar)
	default:
		parts = append(parts, "all of it")
	}
	g := a.Goals
	if g.TempoBpm > 0 {
		parts = append(parts, fmt.Sprintf("at %.0f beats a minute", g.TempoBpm/beatQ))
	}
	for _, s := range []string{g.Dynamics, tone.Said(g.Tone)} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	if g.Stroke != "" {
		parts = append(parts, g.Stroke+" stroke")
	}
	if g.Fingering != "" {
		parts = append(parts, "fingers: "+g.Fingering)
	}
	say := upper(strings.Join(parts, ", ")) + "."
	if g.DoneWhen != "" {
		say += " Done when: " + g.DoneWhen
	}
	return say
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
