package desk

import (
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

// note is a word between lessons, as it is being written.
type note struct {
	ID       studio.StudentID
	Name     string
	Family   string
	Code     string // of the language of the draft
	Language string
	Text     string
	Shown    string // what the family sees now; "" nothing
	ShownOn  string
	Said     string
}

func (p *pages) note(w http.ResponseWriter, r *http.Request) error { // GET /students/{student}/note
	ctx, v := r.Context(), page.Viewer(r)
	sf, err := p.desk.Student(ctx, v, studio.StudentID(r.PathValue("student")))
	if err != nil {
		return err
	}
	draft, err := p.desk.DraftNudge(ctx, v, sf.Student.ID)
	if err != nil {
		return err
	}
	n := note{ID: sf.Student.ID, Name: sf.Student.Name, Family: "Family " + sf.Family.Name, Code: draft.Language,
		Language: tongue.Of(draft.Language).Name, Text: draft.Text}
	if r.FormValue("done") == "sent" {
		n.Said = "Sent. It stands at the top of the family’s week."
	}
	shown, there, err := p.desk.NudgeFor(ctx, v, sf.Student.ID)
	if err != nil {
		return err
	}
	if there {
		n.Shown, n.ShownOn = shown.Text, page.Day(shown.Sent, p.f.Now())
	}
	return p.Render(w, r, "note.html", page.View{Title: "A note about " + n.Name, Here: "students", Data: n})
}

func (p *pages) sendNote(w http.ResponseWriter, r *http.Request) error { // POST /students/{student}/note
	id := studio.StudentID(r.PathValue("student"))
	if _, err := p.desk.SendNudge(r.Context(), page.Viewer(r), id, r.PostFormValue("text")); err != nil {
		return err
	}
	return p.back(w, r, "/students/"+string(id)+"/note?done=sent")
}
