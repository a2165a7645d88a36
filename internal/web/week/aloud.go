package week

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/captions"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

// film is the teacher's answer as one film, with a chapter for each thing.
type film struct {
	*tongue.Tongue
	Media    studio.MediaID
	Video    bool
	Captions string // address; "" where nothing of it was written down
	Chapters []chapter
	MB       string // its size
}

// chapter is where one thing begins.
type chapter struct {
	Title string
	From  string // seconds, as an address takes it
	Clock string
}

// spoken is what the teacher says about one thing.
type spoken struct {
	*tongue.Tongue
	Address  string
	Video    bool
	Keep     bool   // it is small enough to be kept unasked
	Captions string // address; "" none
	Words    string // what is said, to read; "" none
}

// aloud is what the teacher says in a lesson, as a film and item by item.
type aloud struct {
	film    *film
	opening *spoken
	items   map[studio.AssignmentID]*spoken
}

func (r *reader) aloud(l studio.Lesson) (aloud, error) {
	said := aloud{items: map[studio.AssignmentID]*spoken{}}
	answers, err := r.w.f.Desk().Answers(r.ctx, r.viewer, l.ID)
	if err != nil || len(answers) == 0 {
		return said, err
	}
	reel, err := r.w.f.Desk().Film(r.ctx, r.viewer, l.ID)
	if err != nil {
		return said, err
	}
	if reel.State == studio.FilmReady {
		if said.film, err = r.film(l, reel, answers); err != nil {
			return said, err
		}
	}
	for _, a := range answers {
		s := &spoken{Tongue: r.Tongue, Video: strings.HasPrefix(a.Type, "video/")}
		if a.Captions != "" {
			s.Captions = fmt.Sprintf("/week/captions/%s/%s", l.ID, a.Assignment)
			s.Words = plainly(a.Captions)
		}
		i := slices.IndexFunc(reel.Chapters, func(c studio.Chapter) bool { return c.Assignment == a.Assignment })
		if said.film != nil && i >= 0 { // one file for all of it
			c := reel.Chapters[i]
			s.Address = fmt.Sprintf("/media/%s#t=%.2f,%.2f", said.film.Media, c.FromS, c.ToS)
			s.Video, s.Captions = said.film.Video, said.film.Captions
		} else {
			m, err := r.hearable(a.Media)
			if err != nil {
				return said, err
			}
			if m.ID == "" {
				continue // not clean yet
			}
			s.Address, s.Keep = "/media/"+string(m.ID), !s.Video
		}
		if a.Assignment != "" {
			said.items[a.Assignment] = s
		} else if said.film == nil {
			said.opening = s
		}
	}
	return said, nil
}

func (r *reader) film(l studio.Lesson, reel studio.Film, answers []studio.Answer) (*film, error) {
	m, err := r.hearable(reel.Media)
	if err != nil || m.ID == "" {
		return nil, err
	}
	f := &film{Tongue: r.Tongue, Media: m.ID, Video: strings.HasPrefix(m.Type, "video/"), MB: strconv.FormatInt(max(1, (m.Bytes+500_000)/1_000_000), 10)}
	if slices.ContainsFunc(answers, func(a studio.Answer) bool { return a.Captions != "" }) {
		f.Captions = "/week/captions/" + string(l.ID)
	}
	for _, c := range reel.Chapters {
		ch := chapter{From: strconv.FormatFloat(c.FromS, 'f', 2, 64), Clock: page.Clock(c.FromS)}
		if ch.Title, err = r.chapter(l, c.Assignment); err != nil {
			return nil, err
		}
		f.Chapters = append(f.Chapters, ch)
	}
	return f, nil
}

// chapter is the name of the thing that a chapter is about, with its number in the list.
func (r *reader) chapter(l studio.Lesson, id studio.AssignmentID) (string, error) {
	for i, a := range l.Assignments {
		if a.ID != id {
			continue
		}
		work, err := r.work(l.Student, a.Work)
		if err != nil {
			return "", err
		}
		title := work.Title
		if title == "" {
			title, err = r.Say(untitled(a.Ask))
		}
		return fmt.Sprintf("%d %s", i+1, title), err
	}
	return r.Say("film.opening")
}

// hearable is a file that may be heard now; the zero value where it is not there, or not ready.
func (r *reader) hearable(id studio.MediaID) (studio.Media, error) {
	if id == "" {
		return studio.Media{}, nil
	}
	return ready(r.w.f.Desk().Hearable(r.ctx, r.viewer, id))
}

func ready(m studio.Media, err error) (studio.Media, error) {
	if p, ok := errors.AsType[*studio.Problem](err); ok && (p.Kind == studio.NotFound || p.Kind == studio.Conflict) {
		return studio.Media{}, nil
	}
	return m, err
}

// plainly is what captions say, without their times.
func plainly(text string) string {
	if !captions.Timed(text) {
		return strings.TrimSpace(text)
	}
	cues, err := captions.Read(text, 0)
	if err != nil {
		return "" // the teacher is told where they are written
	}
	var lines []string
	for _, c := range cues {
		lines = append(lines, c.Text)
	}
	return strings.Join(lines, "\n")
}

// showCaptions is GET /week/captions/{lesson}, of the film, and GET /week/captions/{lesson}/{assignment}, of one
// answer: WebVTT.
func (w *week) showCaptions(rw http.ResponseWriter, r *http.Request) error {
	d, v, lesson := w.f.Desk(), page.Viewer(r), studio.LessonID(r.PathValue("lesson"))
	answers, err := d.Answers(r.Context(), v, lesson)
	if err != nil {
		return err
	}
	var cues []captions.Cue
	if one := r.PathValue("assignment"); one != "" || strings.HasSuffix(r.URL.Path, "/") {
		for _, a := range answers {
			if string(a.Assignment) == one {
				cues = append(cues, cuesOf(a)...)
			}
		}
	} else {
		reel, err := d.Film(r.Context(), v, lesson)
		if err != nil {
			return err
		}
		for _, c := range reel.Chapters {
			for _, a := range answers {
				if a.Assignment == c.Assignment {
					a.DurationS = c.ToS - c.FromS
					cues = append(cues, captions.Shift(cuesOf(a), c.FromS, c.ToS)...)
				}
			}
		}
	}
	var b bytes.Buffer
	if err := captions.Write(&b, cues); err != nil {
		return err
	}
	rw.Header().Set("Content-Type", "text/vtt; charset=utf-8")
	_, err = b.WriteTo(rw)
	return err
}

// cuesOf are the captions of one answer; none where they cannot be read: the words stand beside it all the same.
func cuesOf(a studio.Answer) []captions.Cue {
	cues, err := captions.Read(a.Captions, a.DurationS)
	if err != nil {
		return nil
	}
	return cues
}
