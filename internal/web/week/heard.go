package week

import (
	"errors"

	"antiphon/internal/amend"
	"antiphon/internal/findings"
	"antiphon/internal/report"
	"antiphon/internal/studio"
)

// heard is what a family reads of a hearing where the teacher wants that: a kind word, and the one next thing. Both are
// in words; no number and no mark is among them.
type heard struct{ Well, Next string }

// wells and nexts are phrases by what was found. What is missing here is the teacher's to say.
var wells = map[findings.Kind]string{
	findings.Clean: "heard.well.clean", findings.Steady: "heard.well.steady", findings.DynamicsHeard: "heard.well.dynamics",
}

var nexts = map[findings.Kind]string{
	findings.Wrong: "heard.next.notes", findings.Missed: "heard.next.notes", findings.Extra: "heard.next.notes", findings.Passage: "heard.next.notes",
	findings.Rushing: "heard.next.calm", findings.Dragging: "heard.next.slower", findings.Hesitation: "heard.next.slower", findings.Restart: "heard.next.slower",
	findings.Unsteady: "heard.next.beat", findings.UnevenPattern: "heard.next.beat", findings.UnevenFinger: "heard.next.fingers",
	findings.Skip: "heard.next.whole", findings.DynamicsFlat: "heard.next.dynamics",
	findings.StringTuning: "heard.next.tune", findings.ReferencePitch: "heard.next.tune", findings.MayBuzz: "heard.next.fret",
}

// heard tells what was heard in a take; nil where there is nothing to tell, or the teacher does not want it told.
func (r *reader) heard(rv studio.Review) (*heard, error) {
	t := rv.Take
	if !rv.Student.TellHearing || t.Hurt || t.State != studio.Ready || rv.Hearing == nil || rv.Work == nil {
		return nil, nil
	}
	score, err := r.score(*rv.Work)
	if err != nil || score == nil {
		return nil, err
	}
	rep, err := report.Read(rv.Hearing.JSON, score)
	if errors.Is(err, report.ErrOtherScore) || errors.Is(err, report.ErrSchema) {
		return nil, nil // it is to be heard again
	}
	if err != nil {
		return nil, err
	}
	if len(rep.Hearing.Passes) == 0 {
		return nil, nil
	}
	found := rep.Findings
	if len(rv.Corrections) > 0 { // the teacher knows better
		var all []amend.Correction
		for _, c := range rv.Corrections {
			if parsed, err := amend.Parse(c.Kind, c.What); err == nil {
				all = append(all, parsed)
			}
		}
		found = amend.Apply(rep.Hearing, score, all, findings.Options{}).Findings
	}
	well, next := "heard.well", "heard.next"
	for _, f := range found { // the strongest come first
		if key := wells[f.Kind]; key != "" && well == "heard.well" {
			well = key
		}
		if key := nexts[f.Kind]; key != "" && next == "heard.next" && f.Confidence >= findings.Sure {
			next = key
		}
	}
	h := &heard{}
	if h.Well, err = r.Say(well); err == nil {
		h.Next, err = r.Say(next)
	}
	return h, err
}
