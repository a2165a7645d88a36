package lesson

import (
	"errors"
	"io"
	"net/http"
	"slices"
	"strings"

	"antiphon/internal/captions"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
)

// opening is the item that belongs to no task: what is said at the beginning of a lesson.
const opening = "opening"

// answer is what the teacher said aloud to one item of a lesson: to one task, or to the whole.
type answer struct {
	Lesson   studio.LessonID
	Item     string // id of the task, or opening; "" while the task was never saved
	Title    string // of what it belongs to
	Said     bool
	Media    studio.MediaID
	Film     bool   // with a picture
	Sum      string // "film of 1:05, with words"
	Captions string
	Torn     bool // what came could not be played
}

// saying puts what is recorded of an item into words; as are all of the lesson.
func saying(l studio.LessonID, id studio.AssignmentID, item, title string, as []studio.Answer, torn []studio.AssignmentID) answer {
	x := answer{Lesson: l, Item: item, Title: title, Torn: slices.Contains(torn, id)}
	if x.Torn {
		x.Sum = "came damaged, record it again"
	}
	for _, a := range as {
		if a.Assignment != id {
			continue
		}
		x.Said, x.Media, x.Captions, x.Film = true, a.Media, a.Captions, strings.HasPrefix(a.Type, "video/")
		x.Sum = "sound"
		if x.Film {
			x.Sum = "film"
		}
		if a.DurationS > 0 {
			x.Sum += " of " + page.Clock(a.DurationS)
		}
		if a.Captions != "" {
			x.Sum += ", with its words"
		}
	}
	return x
}

// item is the one that an address names.
func item(r *http.Request) studio.AssignmentID {
	if id := r.PathValue("item"); id != opening {
		return studio.AssignmentID(id)
	}
	return ""
}

// answerPart is what is kept of one item, for the script that has just sent it. GET /lessons/{lesson}/answers/{item}
func (p *pages) answerPart(w http.ResponseWriter, r *http.Request) error {
	ctx, v, id := r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson"))
	as, err := p.desk.Answers(ctx, v, id)
	if err != nil {
		return err
	}
	torn, err := p.desk.Torn(ctx, v, id)
	if err != nil {
		return err
	}
	return p.Part(w, "kept", saying(id, item(r), r.PathValue("item"), r.FormValue("title"), as, torn))
}

// keepAnswer takes in a file of one item, from a form; what is recorded on the page comes in pieces through package
// arrive. POST /lessons/{lesson}/answers/{item}
func (p *pages) keepAnswer(w http.ResponseWriter, r *http.Request) error {
	return p.received(w, r, func(kind string, body io.Reader) error {
		_, err := p.desk.KeepAnswer(r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson")), item(r), kind, body)
		return err
	})
}

// keepRecording takes in what a family is to listen to. POST /lessons/{lesson}/recordings/{item}
func (p *pages) keepRecording(w http.ResponseWriter, r *http.Request) error {
	return p.received(w, r, func(kind string, body io.Reader) error {
		_, err := p.desk.KeepRecording(r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson")), item(r), kind, body)
		return err
	})
}

// received finds the recording in a request and gives it to keep. It is counted by the studio.
func (p *pages) received(w http.ResponseWriter, r *http.Request, keep func(kind string, body io.Reader) error) error {
	page.Takes(w, r, 0)
	kind, recorded, err := page.Recording(r)
	if err == nil {
		err = keep(kind, recorded)
	}
	if err != nil {
		return err
	}
	return p.toItem(w, r)
}

// toItem leads back to where the item stands.
func (p *pages) toItem(w http.ResponseWriter, r *http.Request) error {
	l, err := p.desk.Lesson(r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson")))
	if err != nil {
		return err
	}
	field := "say"
	if strings.Contains(r.URL.Path, "/recordings/") {
		field = "hear"
	}
	for i, a := range l.Assignments {
		if a.ID == item(r) && l.Sent.IsZero() {
			return p.back(w, r, toAssignment(l, i, field))
		}
	}
	return p.back(w, r, "/lessons/"+string(l.ID)+"#say0")
}

// removeAnswer takes one recording away again. POST /lessons/{lesson}/answers/{item}/remove
func (p *pages) removeAnswer(w http.ResponseWriter, r *http.Request) error {
	err := p.desk.RemoveAnswer(r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson")), item(r))
	if gone(err) != nil {
		return err
	}
	return p.toItem(w, r)
}

// removeRecording takes away what was to be listened to. POST /lessons/{lesson}/recordings/{item}/remove
func (p *pages) removeRecording(w http.ResponseWriter, r *http.Request) error {
	err := p.desk.RemoveRecording(r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson")), item(r))
	if gone(err) != nil {
		return err
	}
	return p.toItem(w, r)
}

// gone forgives that something to be removed is not there any more: the second of two equal posts.
func gone(err error) error {
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind == studio.NotFound {
		return nil
	}
	return err
}

// captionAnswer keeps the words of a recording. POST /lessons/{lesson}/answers/{item}/captions
func (p *pages) captionAnswer(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return unreadable(err)
	}
	text := lines(r.PostForm.Get("text"))
	if captions.Timed(text) {
		if _, err := captions.Read(text, 0); err != nil {
			say := "The times of these captions cannot be read. Paste WebVTT as it is, or only the words, one line below the other."
			if errors.Is(err, captions.ErrTooLong) {
				say = "That is more than is said in one recording. Paste the words of this one only."
			}
			return &studio.Problem{Kind: studio.Invalid, Say: say, Err: err}
		}
	}
	if err := p.desk.CaptionAnswer(r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson")), item(r), text); err != nil {
		return err
	}
	if strings.Contains(r.Header.Get("Accept"), "application/json") {
		return page.JSON(w, map[string]string{"kept": "yes"})
	}
	return p.toItem(w, r)
}

// answers puts what was recorded beside its cards, and beside the opening words.
func (e *editor) answers(l studio.Lesson, as []studio.Answer, torn []studio.AssignmentID, works prose.Titles) {
	e.Opening = saying(l.ID, "", opening, "Lesson for "+e.Name, as, torn)
	for i, a := range l.Assignments {
		e.Cards[i].Answer = saying(l.ID, a.ID, string(a.ID), titleOf(a, works), as, torn)
	}
}

// tornSays names what of a lesson that went out came damaged; "" nothing.
func tornSays(l studio.Lesson, torn []studio.AssignmentID, works prose.Titles) string {
	var of []string
	if slices.Contains(torn, "") {
		of = append(of, "the opening words")
	}
	for _, a := range l.Assignments {
		if slices.Contains(torn, a.ID) {
			of = append(of, titleOf(a, works))
		}
	}
	if len(of) == 0 {
		return ""
	}
	return "What you recorded for " + prose.Among(of) + " came damaged: nobody can play it, and the family does not have it. Say it in a note or in the next lesson."
}
