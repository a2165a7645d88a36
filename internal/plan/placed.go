package plan

import (
	"antiphon/internal/plan/memory"
	"antiphon/internal/plan/place"
)

// Place is where a new student stands by the trial, and the works among which the first ones are chosen: those that
// need nothing the student is known not to have met, pieces only.
func (p *Planner) Place(st *Student) (place.Place, []place.Work) {
	var takes []place.Take
	var a place.Answers
	tried := map[string]bool{}
	if t := st.Trial; t != nil {
		for _, x := range t.Takes {
			takes = append(takes, place.Take{Load: p.works[x.Work].load(), Rating: memory.Rating(x.Rating)})
			tried[x.Work] = x.Rating >= int(memory.Steady)
		}
		a = place.Answers{Years: t.Years, ReadsMusic: t.ReadsMusic}
	}
	var works []place.Work
	for i := range p.studio.Works {
		w := &p.studio.Works[i]
		if (w.Kind == Piece || w.Kind == "") && !tried[w.ID] && len(w.After) == 0 {
			works = append(works, place.Work{ID: w.ID, Title: p.shelf.Title(w.ID), Load: w.load()})
		}
	}
	return place.Find(takes, a), works
}
