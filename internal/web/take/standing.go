package take

import (
	"net/http"
	"slices"
	"time"

	"antiphon/internal/findings"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// stand says where the take is on its way, and offers what can be done about it.
func (p *Pages) stand(r *http.Request, v *view, rv studio.Review, l *listened, stale bool) error {
	t := rv.Take
	switch {
	case t.State == studio.Arriving:
		v.Standing = &standing{Say: "The recording is still on its way."}
		return nil
	case t.State == studio.Waiting || t.State == studio.BeingHeard:
		v.Standing = &standing{Say: "The take is being heard.", Working: v.Playable != ""}
		return nil
	case v.Told:
		v.Standing = &standing{Say: "There is nothing to hear: the family wrote this without a recording. Answer with a remark here, or in the lesson: what to leave out, and until when."}
		return nil
	case t.State == studio.NeedsALook:
		v.Standing = &standing{Say: t.Why, Choose: !t.Model(), Again: t.Work != ""}
		if t.Why == "" {
			v.Standing.Say = "The ear could do nothing with this take."
		}
	case stale:
		v.Standing = &standing{Say: "The score was changed since this take was heard. What was heard then does not fit it any more.", Again: true}
		return nil
	case rv.Work == nil:
		v.Standing = &standing{Say: "Nobody said yet which work this is.", Choose: !t.Model()}
	case l != nil && len(l.hearing.Passes) == 0:
		v.Standing = &standing{Say: "The ear does not find the score of “" + rv.Work.Title + "” in this take. You can still listen and say what you like.", Choose: !t.Model(), Again: true}
		for _, f := range l.findings {
			if f.Kind == findings.NotThisScore {
				v.Standing.Say = f.Text
			}
		}
	default:
		return nil
	}
	v.Concerns = slices.DeleteFunc(slices.Clone(v.Concerns), func(c studio.Concern) bool { return c.Say == v.Standing.Say })
	if !v.Standing.Choose {
		return nil
	}
	works, err := p.desk.Works(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	title := map[studio.WorkID]string{}
	for _, w := range works {
		title[w.ID] = w.Title
		v.Works = append(v.Works, workChoice{ID: w.ID, Title: w.Title})
	}
	for i, s := range t.SoundsLike {
		if title[s.Work] != "" && i < 3 && s.Work != t.Work {
			v.Likely = append(v.Likely, workChoice{ID: s.Work, Title: title[s.Work], Say: sureInWords(s.Confidence)})
		}
	}
	return nil
}

// sureInWords is a confidence as it is said. The bounds are our choice, no source.
func sureInWords(c float64) string {
	switch {
	case c >= 0.9:
		return "clearly heard"
	case c >= 0.7:
		return "quite sure"
	}
	return "perhaps"
}

// lessonDay is the day of a lesson as it is said.
func lessonDay(date string) string {
	d, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return ""
	}
	return d.Format("2 January")
}
