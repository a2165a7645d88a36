package lesson

import (
	"net/http"

	"antiphon/internal/listen"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
)

// clipTakes is how many recordings are offered to take a moment from.
const clipTakes = 60

// moments are the recordings that a lesson can point into: the student's own, and the teacher's of each work.
type moments struct {
	p      *pages
	takes  []studio.Take // the newest first
	titles prose.Titles
	models map[studio.WorkID][]studio.ModelTake
}

func (p *pages) moments(r *http.Request, s studio.StudentID, works prose.Titles) (*moments, error) {
	all, err := p.desk.TakesBy(r.Context(), page.Viewer(r), studio.TakeQuery{Student: s, Limit: clipTakes})
	if err != nil {
		return nil, err
	}
	m := &moments{p: p, titles: works, models: map[studio.WorkID][]studio.ModelTake{}}
	for _, t := range all {
		if !t.Arrived.IsZero() {
			m.takes = append(m.takes, t)
		}
	}
	return m, nil
}

// modelsOf are the teacher's takes of a work.
func (m *moments) modelsOf(r *http.Request, w studio.WorkID) ([]studio.ModelTake, error) {
	if w == "" {
		return nil, nil
	}
	if all, ok := m.models[w]; ok {
		return all, nil
	}
	all, err := m.p.desk.ModelTakes(r.Context(), page.Viewer(r), w)
	m.models[w] = all
	return all, err
}

// choices fills in what can be heard with a card.
func (m *moments) choices(r *http.Request, c *card, l studio.LessonID, a studio.Assignment) error {
	now := m.p.f.Now()
	models, err := m.modelsOf(r, a.Work)
	if err != nil {
		return err
	}
	yours := func(t studio.ModelTake) string { return "Yours of " + page.Day(t.Arrived, now) }
	c.Models = []option{{"", "None", a.Model == ""}}
	for _, t := range models {
		c.Models = append(c.Models, option{string(t.ID), yours(t), t.ID == a.Model})
	}
	if !stands(c.Models) {
		c.Models = append(c.Models, option{string(a.Model), "The one that was chosen", true})
	}
	for _, x := range []struct {
		field, legend string
		is            studio.Clip
		mine          bool // the teacher's own are offered too
	}{{"like", "Like this", a.Like, true}, {"unlike", "Not like this", a.Unlike, true}, {"best", "The best moment so far, as a loop", a.Best, false}, {"last", "The last time, as a loop", a.Last, false}} {
		k := clip{Field: x.field, Legend: x.legend, Say: x.is.Say, Own: []option{{"", "None", x.is.Take == ""}}}
		for _, t := range m.takes {
			if a.Work != "" && t.Work != "" && t.Work != a.Work && t.ID != x.is.Take {
				continue
			}
			say := page.Day(t.Arrived, now)
			if t.Work != a.Work {
				say += ", " + m.titles.Of(t)
			}
			k.Own = append(k.Own, option{string(t.ID), say, t.ID == x.is.Take})
		}
		if x.mine {
			for _, t := range models {
				k.Mine = append(k.Mine, option{string(t.ID), yours(t), t.ID == x.is.Take})
			}
		}
		if !stands(k.Own) && !stands(k.Mine) {
			k.Own = append(k.Own, option{string(x.is.Take), "An older one", true})
		}
		if x.is.Take != "" {
			k.From, k.To = typed(a, x.field+".from", moment(x.is.FromS)), typed(a, x.field+".to", moment(x.is.ToS))
			k.Listen = "/lessons/" + string(l) + "/listen/" + string(x.is.Take)
		}
		c.Clips = append(c.Clips, k)
	}
	return nil
}

// listen leads to the sound of a recording, for a small player. GET /lessons/{lesson}/listen/{take}
func (p *pages) listen(w http.ResponseWriter, r *http.Request) error {
	rv, err := p.desk.ReviewTake(r.Context(), page.Viewer(r), studio.TakeID(r.PathValue("take")))
	if err != nil {
		return err
	}
	m, ok := listen.Player(rv.Media)
	if !ok {
		return &studio.Problem{Kind: studio.NotFound, Say: "This recording cannot be played yet. It is being made ready; try again in a minute."}
	}
	http.Redirect(w, r, "/media/"+string(m.ID), http.StatusSeeOther)
	return nil
}
