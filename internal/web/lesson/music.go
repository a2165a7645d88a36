package lesson

import (
	"html/template"
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
	"antiphon/internal/web/sheet"
)

// music shows the passage that a task asks, with the fingers of the student, and leads to where others are chosen.
// GET /lessons/{lesson}/music?work=…&card=…&from=…&to=…&part=yes
func (p *pages) music(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	from, to := word(q.Get("from")), word(q.Get("to"))
	l, err := p.desk.Lesson(r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson")))
	if err != nil {
		return err
	}
	one, err := p.desk.WorkFor(r.Context(), page.Viewer(r), l.Student, studio.WorkID(q.Get("work")))
	if err != nil {
		return err
	}
	v := struct {
		Lesson, Title string
		Music         template.HTML
		Fingers       *fingersView
	}{Lesson: r.PathValue("lesson"), Title: one.Title}
	if b := prose.Bars(from, to); b != "" {
		v.Title += ", " + b
	}
	if one.Score != "" {
		if v.Music, err = sheet.Place(sheet.Placing{Work: one.ID, For: l.Student, Title: one.Title, From: from, Until: to, NoTitle: true}); err != nil {
			return err
		}
		if v.Fingers, err = p.fingers(r, l, one, q.Get("card"), from, to); err != nil {
			return err
		}
	}
	if q.Has("part") {
		return p.Part(w, "music", v)
	}
	return p.Render(w, r, "music.html", page.View{Title: v.Title, Here: "students", Data: v})
}
