package plan

import (
	"antiphon/internal/plan/memory"
	"antiphon/internal/plan/place"
	"antiphon/internal/plan/skills"
)

// Place is where a new student stands by the trial, and the works among which the first ones are chosen: pieces that
// need nothing but what the trial or the teacher showed.
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
	known := p.Skills(st)
	for i := range p.studio.Works {
		w := &p.studio.Works[i]
		if (w.Kind == Piece || w.Kind == "") && !tried[w.ID] &&
			len(skills.Missing(skills.Work{ID: w.ID, Needs: w.Needs, After: w.After}, known, p.shelf.Title)) == 0 {
			works = append(works, place.Work{ID: w.ID, Title: p.shelf.Title(w.ID), Load: w.load()})
		}
	}
	return place.Find(takes, a), works
}
