package take

import (
	"errors"

	"antiphon/internal/amend"
	"antiphon/internal/ear"
	"antiphon/internal/evidence"
	"antiphon/internal/findings"
	"antiphon/internal/music"
	"antiphon/internal/report"
	"antiphon/internal/studio"
	"antiphon/internal/tone"
)

// listened is a hearing as the page shows it: with what the teacher knew better.
type listened struct {
	score    *music.Score
	hearing  *ear.Hearing
	findings []findings.Finding
	tone     tone.Heard // as it was measured: corrections do not change it
	lines    []evidence.Line
	fixes    []fix
	again    bool // a correction needs another hearing
}

// fix is one correction with what it did.
type fix struct {
	studio.Correction
	say string
}

// errAnotherScore is a hearing that was made before the score was changed.
var errAnotherScore = errors.New("the score was changed since this take was heard")

// listen puts a take's newest hearing, its score and its corrections together. Without a hearing or a
// score there is none, and no error.
func (p *Pages) listen(hearing *studio.Hearing, work *studio.Work, corrections []studio.Correction, goals *studio.Goals) (*listened, error) {
	if hearing == nil || work == nil || work.Score == "" {
		return nil, nil
	}
	score, err := p.sheets.Score(work.Score)
	if err != nil {
		return nil, err
	}
	rep, err := report.Read(hearing.JSON, score)
	switch {
	case errors.Is(err, report.ErrOtherScore):
		return nil, errAnotherScore
	case err != nil:
		return nil, err
	}
	l := &listened{score: score, hearing: rep.Hearing, findings: rep.Findings, tone: rep.Tone}
	l.correct(corrections, options(score, goals))
	l.lines = evidence.Lay(l.hearing, score)
	return l, nil
}

// options of the findings: the tempo that was asked, in the beat that the score counts.
func options(score *music.Score, goals *studio.Goals) findings.Options {
	if goals == nil || goals.TempoBpm <= 0 {
		return findings.Options{}
	}
	return findings.Options{GoalBpm: goals.TempoBpm / beatQ(score)}
}

// beatQ is the score's beat in quarters.
func beatQ(score *music.Score) float64 {
	if q := score.BeatUnitAt(music.Quarters(0, 1)).Q(); q > 0 {
		return q
	}
	return 1
}

// correct applies what the teacher said, in order, and tells what became of each.
func (l *listened) correct(all []studio.Correction, o findings.Options) {
	var good []amend.Correction
	var of []int // index of each in l.fixes
	for _, c := range all {
		parsed, err := amend.Parse(c.Kind, c.What)
		if err != nil {
			l.fixes = append(l.fixes, fix{c, "A correction that this version does not understand."})
			continue
		}
		good, of = append(good, parsed), append(of, len(l.fixes))
		l.fixes = append(l.fixes, fix{Correction: c})
	}
	if len(good) == 0 {
		return
	}
	r := amend.Apply(l.hearing, l.score, good, o)
	for i, each := range r.Each {
		say := each.Say
		if !each.Applied {
			say = "Kept, but it does not fit what was heard last: " + say
		}
		l.fixes[of[i]].say = say
	}
	l.hearing, l.findings, l.again = r.Hearing, r.Findings, len(r.Hints) > 0
}
