package library

import (
	"errors"
	"html/template"
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/sheet"
)

// earlierView is one score that the work had before.
type earlierView struct {
	ID    studio.EarlierID
	Say   string
	Do    string        // what its button says
	Sheet template.HTML // folded
}

// earlierOf lists what stood in the score before, the latest first.
func (l *library) earlierOf(r *http.Request, one studio.Work) (all []earlierView, err error) {
	kept, same, err := l.desk().EarlierScores(r.Context(), page.Viewer(r), one)
	if err != nil {
		return nil, err
	}
	now := l.f.Now()
	for _, k := range kept {
		e := earlierView{ID: k.ID, Say: "Other fingers, in the score until " + page.Day(k.Ended, now) + ".", Do: "Use these fingers for everybody again"}
		if !same[k.ID] {
			e.Say, e.Do = "Another score, here until "+page.Day(k.Ended, now)+".", "Put this score back"
		}
		if e.Sheet, err = sheet.Place(sheet.Placing{Title: one.Title + ", as it was before", NoTitle: true, Source: workAddress(one.ID) + "/earlier/" + string(k.ID) + "/picture"}); err != nil {
			return nil, err
		}
		all = append(all, e)
	}
	return all, nil
}

// earlierPicture draws an earlier score. GET /library/works/{work}/earlier/{earlier}/picture
func (l *library) earlierPicture(w http.ResponseWriter, r *http.Request) error {
	look, err := sheet.LookOf(r.URL.Query())
	if err != nil {
		return err
	}
	e, err := l.desk().EarlierScore(r.Context(), page.Viewer(r), workID(r), studio.EarlierID(r.PathValue("earlier")))
	if err != nil {
		return err
	}
	return l.o.Sheets.Serve(w, r, e.Score, look)
}

// restoreScore goes back to one. POST /library/works/{work}/earlier/{earlier}
func (l *library) restoreScore(w http.ResponseWriter, r *http.Request) error {
	err := l.desk().RestoreScore(r.Context(), page.Viewer(r), workID(r), studio.EarlierID(r.PathValue("earlier")))
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind == studio.NotFound { // it stands in the score already: pressed twice
		return see(w, r, workAddress(workID(r))+"#earlier")
	}
	if err != nil {
		return err
	}
	return see(w, r, workAddress(workID(r))+"?saved=back#earlier")
}
