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
)

// listened is a hearing as the page shows it: with what the teacher knew better.
type listened struct {
	score    *music.Score
	hearing  *ear.Hearing
	findings []findings.Finding
	lines    []evidence.Line
	fixes    []fix
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
	l := &listened{score: score, hearing: rep.Hearing, findings: rep.Findings}
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

// correct applies what the teacher said, one after the other, so that each can be told with what it did.
func (l *listened) correct(all []studio.Correction, o findings.Options) {
	var good []amend.Correction
	for _, c := range all {
		x := fix{Correction: c}
		parsed, err := amend.Parse(c.Kind, c.What)
		if err != nil {
			x.say = "A correction that this version does not understand."
			l.fixes = append(l.fixes, x)
			continue
		}
		one := amend.Apply(l.hearing, l.score, append(good[:len(good):len(good)], parsed), o)
		x.say = "Kept, but it does not fit what was heard last."
		if n := len(one.Left); n > 0 && len(one.Changed) <= len(good) {
			x.say = "Kept, but: " + one.Left[n-1].Say
		} else if n := len(one.Changed); n > 0 {
			x.say = one.Changed[n-1]
			good = append(good, parsed)
		}
		l.fixes = append(l.fixes, x)
	}
	if len(good) > 0 {
		r := amend.Apply(l.hearing, l.score, good, o)
		l.hearing, l.findings = r.Hearing, r.Findings
	}
}
