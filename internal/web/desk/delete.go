package desk

import (
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
)

// deletePage asks before a take is deleted. It shows no recording, so nothing is written into the log.
func (p *pages) deletePage(w http.ResponseWriter, r *http.Request) error { // GET /students/{student}/takes/{take}/delete
	ctx, v := r.Context(), page.Viewer(r)
	id := studio.StudentID(r.PathValue("student"))
	sf, err := p.desk.Student(ctx, v, id)
	if err != nil {
		return err
	}
	takes, err := p.desk.TakesBy(ctx, v, studio.TakeQuery{Student: id, Limit: takesCounted})
	if err != nil {
		return err
	}
	works, err := p.works(r)
	if err != nil {
		return err
	}
	d := struct {
		What, Address string
		Student       studio.StudentID
	}{"An older recording of " + sf.Student.Name, r.URL.Path, id}
	for _, t := range takes {
		if string(t.ID) == r.PathValue("take") {
			d.What = sf.Student.Name + ": " + works.Of(t) + ", sent " + prose.On(page.Day(t.Announced, p.f.Now()))
		}
	}
	return p.Render(w, r, "delete.html", page.View{Title: "Delete this recording?", Here: "students", Data: d})
}

func (p *pages) deleteTake(w http.ResponseWriter, r *http.Request) error { // POST /students/{student}/takes/{take}/delete
	sf, err := p.desk.Student(r.Context(), page.Viewer(r), studio.StudentID(r.PathValue("student")))
	if err != nil {
		return err
	}
	if _, err := p.desk.DeleteTake(r.Context(), page.Viewer(r), studio.TakeID(r.PathValue("take"))); err != nil {
		return err
	}
	return p.back(w, r, "/students/"+string(sf.Student.ID)+"?done=deleted")
}
