package take

import (
	"encoding/json"
	"errors"
	"net/http"
	"strconv"

	"antiphon/internal/amend"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// correct keeps where the teacher knew better. What needs another hearing gets one.
func (p *Pages) correct(w http.ResponseWriter, r *http.Request) error {
	f, _, err := parts(limited(w, r))
	if err != nil {
		return err
	}
	what, err := correctionOf(f)
	if err != nil {
		return err
	}
	v, id := page.Viewer(r), studio.TakeID(r.PathValue("take"))
	kind := amend.Kind(f["kind"])
	if _, err := amend.Parse(string(kind), what); err != nil {
		say := "This correction makes no sense here."
		if fault, ok := errors.AsType[*amend.Fault](err); ok {
			say = "This correction cannot be used: " + fault.Say
		}
		return &studio.Problem{Kind: studio.Invalid, Say: say, Err: err}
	}
	if _, err := p.desk.Correct(r.Context(), v, id, studio.HearingID(f["hearing"]), string(kind), what); err != nil {
		return err
	}
	say := "Kept. The page shows it as you say."
	again, err := p.mustHearAgain(r)
	if err != nil {
		return err
	}
	if again {
		if err := p.desk.HearAgain(r.Context(), v, id); err != nil && !isProblem(err, studio.Conflict) { // it is being heard already
			return err
		}
		say = "Kept. The take is heard once more with that."
	}
	return done(w, r, say, "#ear-title")
}

// mustHearAgain tells whether something that was corrected can only be followed by another hearing.
func (p *Pages) mustHearAgain(r *http.Request) (bool, error) {
	rv, err := p.take(r)
	if err != nil {
		return false, err
	}
	l, err := p.listen(rv.Hearing, rv.Work, rv.Corrections, goalsOf(rv))
	if errors.Is(err, errAnotherScore) {
		return true, nil
	}
	return l != nil && l.again, err
}

// correctionOf makes the correction's JSON from a form.
func correctionOf(f map[string]string) (json.RawMessage, error) {
	what := map[string]any{}
	number := func(field, as string) error {
		s, err := seconds(f[field])
		what[as] = s
		return err
	}
	switch amend.Kind(f["kind"]) {
	case amend.NoteRight, amend.MissedWasPlayed, amend.NoteMissed:
		what["note"] = short(f["note"])
		if n, err := strconv.Atoi(f["pass"]); err == nil {
			what["pass"] = n
		}
		if err := number("at", "s"); err != nil {
			return nil, err
		}
	case amend.ThisIsBar, amend.RestartHere:
		if bar := short(f["bar"]); bar != "" || amend.Kind(f["kind"]) == amend.ThisIsBar {
			what["bar"] = bar
		}
		if err := number("at", "at_s"); err != nil {
			return nil, err
		}
	case amend.NoRestart:
		if err := number("at", "at_s"); err != nil {
			return nil, err
		}
	case amend.IgnoreFromTo:
		if err := errors.Join(number("from", "from_s"), number("to", "to_s")); err != nil {
			return nil, &studio.Problem{Kind: studio.Invalid, Say: "Say from which second to which second nothing counts, such as 12.5 to 15.", Err: err}
		}
	default:
		return nil, &studio.Problem{Kind: studio.Invalid, Say: "The page does not know this sort of correction. Load it again."}
	}
	return json.Marshal(what)
}

func (p *Pages) takeBack(w http.ResponseWriter, r *http.Request) error {
	if err := p.desk.Uncorrect(r.Context(), page.Viewer(r), studio.CorrectionID(r.PathValue("which"))); err != nil {
		return err
	}
	return done(w, r, "Taken back.", "#ear-title")
}

// assign says which work a take is of.
func (p *Pages) assign(w http.ResponseWriter, r *http.Request) error {
	f, _, err := parts(limited(w, r))
	if err != nil {
		return err
	}
	work := studio.WorkID(f["work"])
	if !studio.IsID(work) {
		return &studio.Problem{Kind: studio.Invalid, Say: "Choose a work first."}
	}
	if err := p.desk.Assign(r.Context(), page.Viewer(r), studio.TakeID(r.PathValue("take")), "", work); err != nil {
		return err
	}
	return done(w, r, "It is heard against this work.", "")
}

func (p *Pages) hearAgain(w http.ResponseWriter, r *http.Request) error {
	if err := p.desk.HearAgain(r.Context(), page.Viewer(r), studio.TakeID(r.PathValue("take"))); err != nil {
		return err
	}
	return done(w, r, "It is heard again.", "")
}

// answered marks the take as seen and leads back to the desk.
func (p *Pages) answered(w http.ResponseWriter, r *http.Request) error {
	if err := p.desk.Answer(r.Context(), page.Viewer(r), studio.TakeID(r.PathValue("take"))); err != nil {
		return err
	}
	http.Redirect(w, r, "/desk", http.StatusSeeOther)
	return nil
}
