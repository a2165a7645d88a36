package lesson

import (
	"errors"
	"fmt"
	"net/http"

	"antiphon/internal/captions"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
)

// film is what was recorded of a lesson, as one film.
type film struct {
	Lesson   studio.LessonID
	Lang     string // of what is said
	State    studio.FilmState
	Why      string
	Media    studio.MediaID
	Length   string
	Chapters []chapter
	Worded   bool // it has captions
	Items    int  // recorded
	Sent     bool // with its lesson
}

// chapter is where one item begins.
type chapter struct{ Title, From, Clock string }

// filmOf is the film of a lesson as it stands.
func (p *pages) filmOf(r *http.Request, l studio.Lesson, as []studio.Answer, works prose.Titles) (film, error) {
	f, err := p.desk.Film(r.Context(), page.Viewer(r), l.ID)
	if err != nil {
		return film{}, err
	}
	in, err := p.tongue(r, l.Family)
	if err != nil {
		return film{}, err
	}
	x := film{Lesson: l.ID, Lang: in.Code, State: f.State, Why: f.Why, Media: f.Media, Length: page.Clock(f.DurationS), Items: len(as), Sent: !l.Sent.IsZero()}
	for _, c := range f.Chapters {
		x.Chapters = append(x.Chapters, chapter{chapterTitle(l, c.Assignment, works), fmt.Sprintf("%.2f", c.FromS), page.Clock(c.FromS)})
	}
	for _, a := range as {
		x.Worded = x.Worded || a.Captions != ""
	}
	return x, nil
}

func chapterTitle(l studio.Lesson, id studio.AssignmentID, works prose.Titles) string {
	for i, a := range l.Assignments {
		if a.ID == id {
			return fmt.Sprintf("%d. %s", i+1, titleOf(a, works))
		}
	}
	return "Beginning"
}

// filmPart is the film as it stands, for a script that waits for it. GET /lessons/{lesson}/film
func (p *pages) filmPart(w http.ResponseWriter, r *http.Request) error {
	ctx, v, id := r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson"))
	l, err := p.desk.Lesson(ctx, v, id)
	if err != nil {
		return err
	}
	as, err := p.desk.Answers(ctx, v, id)
	if err != nil {
		return err
	}
	works, err := p.works(r)
	if err != nil {
		return err
	}
	f, err := p.filmOf(r, l, as, works)
	if err != nil {
		return err
	}
	return p.Part(w, "filmed", f)
}

// makeFilm has it made anew, where it failed or where the teacher wants to see it before sending.
// POST /lessons/{lesson}/film
func (p *pages) makeFilm(w http.ResponseWriter, r *http.Request) error {
	if err := p.desk.MakeFilm(r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson"))); err != nil {
		return err
	}
	return p.back(w, r, "/lessons/"+r.PathValue("lesson")+"#film")
}

// filmCaptions are the words of the whole film. GET /lessons/{lesson}/film/captions.vtt
func (p *pages) filmCaptions(w http.ResponseWriter, r *http.Request) error {
	ctx, v, id := r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson"))
	f, err := p.desk.Film(ctx, v, id)
	if err != nil {
		return err
	}
	as, err := p.desk.Answers(ctx, v, id)
	if err != nil {
		return err
	}
	cues, err := Captions(f, as)
	if err != nil {
		return err
	}
	return vtt(w, cues)
}

// Captions are the words of a film of several answers, each where its chapter is.
func Captions(f studio.Film, as []studio.Answer) (all []captions.Cue, err error) {
	for _, c := range f.Chapters {
		for _, a := range as {
			if a.Assignment != c.Assignment || a.Captions == "" {
				continue
			}
			cues, err := captions.Read(a.Captions, c.ToS-c.FromS)
			if errors.Is(err, captions.ErrTimes) || errors.Is(err, captions.ErrTooLong) {
				continue // the film is seen without them
			}
			if err != nil {
				return nil, err
			}
			all = append(all, captions.Shift(cues, c.FromS, c.ToS)...)
		}
	}
	return all, nil
}

// filmChapters name the parts of a film. GET /lessons/{lesson}/film/chapters.vtt
func (p *pages) filmChapters(w http.ResponseWriter, r *http.Request) error {
	ctx, v, id := r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson"))
	l, err := p.desk.Lesson(ctx, v, id)
	if err != nil {
		return err
	}
	f, err := p.desk.Film(ctx, v, id)
	if err != nil {
		return err
	}
	works, err := p.worksOf(r, l)
	if err != nil {
		return err
	}
	var cues []captions.Cue
	for _, c := range f.Chapters {
		cues = append(cues, captions.Cue{FromS: c.FromS, ToS: c.ToS, Text: chapterTitle(l, c.Assignment, works)})
	}
	return vtt(w, cues)
}

// answerCaptions are the words of one recording. GET /lessons/{lesson}/answers/{item}/captions.vtt
func (p *pages) answerCaptions(w http.ResponseWriter, r *http.Request) error {
	as, err := p.desk.Answers(r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson")))
	if err != nil {
		return err
	}
	for _, a := range as {
		if a.Assignment != item(r) || a.Captions == "" {
			continue
		}
		cues, err := captions.Read(a.Captions, a.DurationS)
		if err != nil {
			return &studio.Problem{Kind: studio.Invalid, Say: "The times of these captions cannot be read.", Err: err}
		}
		return vtt(w, cues)
	}
	return &studio.Problem{Kind: studio.NotFound, Say: "Nobody has written down what is said in this recording."}
}

func vtt(w http.ResponseWriter, cues []captions.Cue) error {
	w.Header().Set("Content-Type", "text/vtt; charset=utf-8")
	return captions.Write(w, cues)
}

// worksOf are the works that a lesson names, with the fingers of its student. A family sees those that were asked of it.
func (p *pages) worksOf(r *http.Request, l studio.Lesson) (prose.Titles, error) {
	var all []studio.Work
	for _, a := range l.Assignments {
		for _, id := range []studio.WorkID{a.Work, a.For} {
			if id == "" {
				continue
			}
			one, err := p.desk.WorkFor(r.Context(), page.Viewer(r), l.Student, id)
			if gone(err) != nil {
				return nil, err
			}
			if err == nil {
				all = append(all, one)
			}
		}
	}
	return prose.TitlesOf(all), nil
}
