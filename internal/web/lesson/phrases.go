package lesson

import (
	"net/http"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
)

// phrase is a sentence of the teacher's own, with when it was said last and to whom.
type phrase struct {
	ID   string
	Text string
	Last string
}

func (p *pages) phrases(r *http.Request) (all []phrase, err error) {
	ctx, v := r.Context(), page.Viewer(r)
	some, err := p.desk.Phrases(ctx, v)
	if err != nil || len(some) == 0 {
		return nil, err
	}
	students, err := p.desk.Students(ctx, v)
	if err != nil {
		return nil, err
	}
	names := map[studio.StudentID]string{}
	for _, s := range students {
		names[s.ID] = s.Name
	}
	for _, one := range some {
		x := phrase{ID: one.ID, Text: one.Text, Last: "never said yet"}
		if !one.Used.IsZero() {
			x.Last = "said last " + prose.On(page.Day(one.Used, p.f.Now()))
			if name := names[one.To]; name != "" {
				x.Last += " to " + name
			}
		}
		all = append(all, x)
	}
	return all, nil
}

// say puts a phrase below the task that is open, or below the opening words, and notes to whom it was said.
func (p *pages) say(r *http.Request, l *studio.Lesson, id string) error {
	one, err := p.desk.UsePhrase(r.Context(), page.Viewer(r), id, l.Student)
	if err != nil {
		return err
	}
	into := &l.Words
	if i := place(r.PostForm.Get("open")); i >= 0 && i < len(l.Assignments) {
		into = &l.Assignments[i].Do
	}
	*into = strings.TrimLeft(*into+"\n"+one.Text, "\n")
	return nil
}

// usePhrase notes that a phrase was said, where a script has put it in. POST /lessons/{lesson}/phrases/{phrase}/use
func (p *pages) usePhrase(w http.ResponseWriter, r *http.Request) error {
	ctx, v := r.Context(), page.Viewer(r)
	l, err := p.desk.Lesson(ctx, v, studio.LessonID(r.PathValue("lesson")))
	if err != nil {
		return err
	}
	if _, err := p.desk.UsePhrase(ctx, v, r.PathValue("phrase"), l.Student); err != nil {
		return err
	}
	return page.JSON(w, map[string]string{"last": "said last today"})
}

// keepPhrase keeps a new one. POST /lessons/{lesson}/phrases
func (p *pages) keepPhrase(w http.ResponseWriter, r *http.Request) error {
	if _, err := p.desk.KeepPhrase(r.Context(), page.Viewer(r), studio.Phrase{Text: lines(r.PostFormValue("text"))}); err != nil {
		return err
	}
	return p.back(w, r, "/lessons/"+r.PathValue("lesson")+"#phrases")
}

// removePhrase forgets one. POST /lessons/{lesson}/phrases/{phrase}/remove
func (p *pages) removePhrase(w http.ResponseWriter, r *http.Request) error {
	if err := gone(p.desk.RemovePhrase(r.Context(), page.Viewer(r), r.PathValue("phrase"))); err != nil {
		return err
	}
	return p.back(w, r, "/lessons/"+r.PathValue("lesson")+"#phrases")
}
