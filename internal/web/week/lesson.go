package week

import (
	"context"
	"errors"
	"html/template"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/music"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/tongue"
)

// weekPage is GET /week.
type weekPage struct {
	common
	New      bool // this phone has just been connected
	Told     bool // the teacher has just been told that something hurt
	Children []child
}

// child is what the page shows of one child.
type child struct {
	*tongue.Tongue
	studio.Student
	Lesson *lesson // nil while there is none
	Sent   []sent  // the newest first
}

// lesson is the newest one, in words.
type lesson struct {
	Day   string
	Words string
	Items []item
	Bars  bool // some are of a part, so it is said what a bar is
}

// item is one assignment as somebody carries it out who reads no music.
type item struct {
	ID    studio.AssignmentID
	N     int
	Title string
	Where string // which part of it
	Sheet template.HTML
	Do    string
	Pace  string // "about one beat a second"
	Bpm   string // the number beside it
	Sound string // address; "" none
	Lines []line
}

// line is one thing to look out for.
type line struct{ Label, Say string }

func (w *week) show(rw http.ResponseWriter, r *http.Request) error {
	c, err := w.common(r, "/week")
	if err != nil {
		return err
	}
	p := weekPage{common: c, New: r.URL.Query().Has("new"), Told: r.URL.Query().Has("told")}
	if p.Children, err = w.read(r, c).children(); err != nil {
		return err
	}
	return w.render(rw, r, "week.html", "week.title", c.Tongue, p)
}

// sentPart is GET /week/sent: what became of the recordings, for a script that looks again.
func (w *week) sentPart(rw http.ResponseWriter, r *http.Request) error {
	c, err := w.common(r, "/week")
	if err != nil {
		return err
	}
	x := child{Tongue: c.Tongue, Student: studio.Student{ID: studio.StudentID(r.URL.Query().Get("child"))}}
	if x.Sent, err = w.read(r, c).sent(x.ID); err != nil {
		return err
	}
	return w.p.Part(rw, "sent", x)
}

// reader looks things up for one request, and each work once.
type reader struct {
	*tongue.Tongue
	w      *week
	ctx    context.Context
	viewer studio.Viewer
	works  map[studio.WorkID]studio.Work

	replyDays int // the studio's promise
}

func (w *week) read(r *http.Request, c common) *reader {
	return &reader{c.Tongue, w, r.Context(), page.Viewer(r), map[studio.WorkID]studio.Work{}, c.replyDays}
}

func (r *reader) children() ([]child, error) {
	students, err := r.w.f.Desk().Students(r.ctx, r.viewer)
	if err != nil {
		return nil, err
	}
	inOrder(students)
	children := make([]child, len(students))
	for i, s := range students {
		c := child{Tongue: r.Tongue, Student: s}
		if c.Lesson, err = r.lesson(s.ID); err != nil {
			return nil, err
		}
		if c.Sent, err = r.sent(s.ID); err != nil {
			return nil, err
		}
		children[i] = c
	}
	return children, nil
}

// newest gives the newest sent lesson of a child, or nil.
func (r *reader) newest(s studio.StudentID) (*studio.Lesson, error) {
	ls, err := r.w.f.Desk().Lessons(r.ctx, r.viewer, studio.LessonQuery{Student: s, Limit: 1})
	if err != nil || len(ls) == 0 {
		return nil, err
	}
	return &ls[0], nil
}

func (r *reader) lesson(s studio.StudentID) (*lesson, error) {
	newest, err := r.newest(s)
	if err != nil || newest == nil {
		return nil, err
	}
	l := &lesson{Words: newest.Words}
	if l.Day, err = r.Day(newest.Sent, r.w.f.Now()); err != nil {
		return nil, err
	}
	for i, a := range newest.Assignments {
		it, err := r.item(a)
		if err != nil {
			return nil, err
		}
		it.N = i + 1
		l.Bars = l.Bars || a.FromBar != "" || a.ToBar != ""
		l.Items = append(l.Items, it)
	}
	return l, nil
}

func (r *reader) item(a studio.Assignment) (item, error) {
	it := item{ID: a.ID, Do: a.Do}
	work, err := r.work(a.Work)
	if err != nil {
		return item{}, err
	}
	if it.Title = work.Title; it.Title == "" {
		if it.Title, err = r.Say("item.untitled"); err != nil {
			return item{}, err
		}
	}
	if it.Where, err = where(r.Tongue, a); err != nil {
		return item{}, err
	}
	score, err := r.score(work)
	if err != nil {
		return item{}, err
	}
	bpm := a.Goals.TempoBpm
	if score != nil {
		it.Sheet, err = sheet.Place(sheet.Placing{Work: work.ID, Title: work.Title, From: a.FromBar, Until: a.ToBar, NoTitle: true, In: r.Tongue})
		if err != nil {
			return item{}, err
		}
		bpm /= beatQ(score)
		if r.w.o.Sounds {
			it.Sound = soundOf(a, bpm)
		}
	}
	if it.Pace, err = r.Pace(bpm); err != nil {
		return item{}, err
	}
	if it.Pace != "" {
		it.Bpm = strconv.FormatFloat(math.Round(bpm), 'f', -1, 64)
	}
	it.Lines, err = lines(r.Tongue, a.Goals)
	return it, err
}

// score is the music of a work, or nil where there is none that can be read: the words are there without it.
func (r *reader) score(work studio.Work) (*music.Score, error) {
	if work.Score == "" {
		return nil, nil
	}
	score, err := r.w.sheets.Score(work.Score)
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind != studio.Internal {
		return nil, nil
	}
	return score, err
}

// beatQ is the beat that the score begins with, in quarters: what a metronome counts, and the sounds.
func beatQ(score *music.Score) float64 {
	if q := score.BeatUnitAt(music.Quarters(0, 1)).Q(); q > 0 {
		return q
	}
	return 1
}

// soundOf is the address of how an assignment goes, at the tempo that is asked in the score's own beat.
func soundOf(a studio.Assignment, bpm float64) string {
	q := url.Values{}
	if a.FromBar != "" {
		q.Set("from", a.FromBar)
	}
	if a.ToBar != "" {
		q.Set("to", a.ToBar)
	}
	if bpm > 0 {
		q.Set("bpm", strconv.FormatFloat(math.Round(10*bpm)/10, 'f', -1, 64))
	}
	u := url.URL{Path: "/sounds/" + string(a.Work), RawQuery: q.Encode()}
	return u.String()
}

// work is the work of an assignment; the zero value where it is gone from the library.
func (r *reader) work(id studio.WorkID) (studio.Work, error) {
	if work, known := r.works[id]; known || id == "" {
		return work, nil
	}
	work, err := r.w.f.Desk().Work(r.ctx, r.viewer, id)
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind == studio.NotFound {
		work, err = studio.Work{}, nil
	}
	if err == nil {
		r.works[id] = work
	}
	return work, err
}

func where(t *tongue.Tongue, a studio.Assignment) (string, error) {
	switch {
	case a.FromBar == "" && a.ToBar == "":
		return t.Say("item.all")
	case a.FromBar == a.ToBar:
		return t.Say("item.bar", a.FromBar)
	case a.FromBar == "":
		return t.Say("item.up-to", a.ToBar)
	case a.ToBar == "":
		return t.Say("item.from", a.FromBar)
	}
	return t.Say("item.bars", a.FromBar, a.ToBar)
}

// lines says the goals that are more than a tempo. What the teacher wrote stays as it was written.
func lines(t *tongue.Tongue, g studio.Goals) ([]line, error) {
	stroke := g.Stroke
	if key := "stroke." + stroke; t.Has(key) {
		var err error
		if stroke, err = t.Say(key); err != nil {
			return nil, err
		}
	}
	var all []line
	for _, x := range []struct{ key, say string }{
		{"goal.dynamics", g.Dynamics}, {"goal.tone", g.Tone}, {"goal.stroke", stroke}, {"goal.fingering", g.Fingering}, {"goal.done", g.DoneWhen},
	} {
		if x.say == "" {
			continue
		}
		label, err := t.Say(x.key)
		if err != nil {
			return nil, err
		}
		all = append(all, line{label, x.say})
	}
	return all, nil
}

// inOrder puts children by their names, so that every page has them alike.
func inOrder(students []studio.Student) {
	slices.SortStableFunc(students, func(a, b studio.Student) int { return strings.Compare(a.Name, b.Name) })
}
