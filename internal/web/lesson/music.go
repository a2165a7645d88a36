package lesson

import (
	"html/template"
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
	"antiphon/internal/web/sheet"
)

// music shows the passage that a task asks, with the fingering that the work's score has.
// GET /lessons/{lesson}/music?work=…&from=…&to=…&part=yes
func (p *pages) music(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	from, to := word(q.Get("from")), word(q.Get("to"))
	one, err := p.desk.Work(r.Context(), page.Viewer(r), studio.WorkID(q.Get("work")))
	if err != nil {
		return err
	}
	v := struct {
		Lesson, Title string
		Music         template.HTML
	}{Lesson: r.PathValue("lesson"), Title: one.Title}
	if b := prose.Bars(from, to); b != "" {
		v.Title += ", " + b
	}
	if one.Score != "" {
		if v.Music, err = sheet.Place(sheet.Placing{Work: one.ID, Title: one.Title, From: from, Until: to, NoTitle: true}); err != nil {
			return err
		}
	}
	if q.Has("part") {
		return p.Part(w, "music", v)
	}
	return p.Render(w, r, "music.html", page.View{Title: v.Title, Here: "students", Data: v})
}
