package take

import (
	"errors"
	"net/http"

	"antiphon/internal/evidence"
	"antiphon/internal/findings"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// heardDoc is what the script of the page draws: see _heard.ts.
type heardDoc struct {
	Hearing   studio.HearingID  `json:"hearing"`
	State     studio.TakeState  `json:"state"`
	DurationS float64           `json:"duration_s"`
	Names     map[string]string `json:"names"`
	Best      int               `json:"best"`
	Passes    []evidence.Pass   `json:"passes"`
}

// heard answers with what was heard, note by note.
func (p *Pages) heard(w http.ResponseWriter, r *http.Request) error {
	v, err := p.take(r)
	if err != nil {
		return err
	}
	d := heardDoc{State: v.Take.State, DurationS: v.Take.DurationS, Names: map[string]string{}, Passes: []evidence.Pass{}}
	l, err := p.listen(v.Hearing, v.Work, v.Corrections, goalsOf(v))
	if err != nil && !errors.Is(err, errAnotherScore) {
		return err
	}
	if l == nil {
		return page.JSON(w, d)
	}
	e := evidence.Of(l.hearing, l.score)
	d.Hearing, d.Best, d.Passes = v.Hearing.ID, e.Best, e.Passes
	if l.hearing.DurationS > 0 {
		d.DurationS = l.hearing.DurationS
	}
	for _, n := range l.hearing.Score {
		d.Names[n.ID] = findings.Sign(n.Name)
	}
	return page.JSON(w, d)
}

func goalsOf(v studio.Review) *studio.Goals {
	if v.Assignment == nil {
		return nil
	}
	return &v.Assignment.Goals
}
