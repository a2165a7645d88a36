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
	"antiphon/internal/web/practice"
	"antiphon/internal/web/record"
	"antiphon/internal/web/tongue"
)

// weekPage is GET /week: the week of one child.
type weekPage struct {
	common
	New      bool  // this phone has just been connected
	Told     bool  // the teacher has just been told that something hurt
	Children []tab // where there are several
	Child    *child
	Tune     bool // there is a page that tunes
	Notices  noticesPart
	Names    namesPart
	Mailed   bool     // an address is to be confirmed
	LogWords string   // what the taps say, for their script
	Keep     []string // addresses that the phone keeps for when there is no network
}

// tab leads to one child's week.
type tab struct {
	Name string
	ID   studio.StudentID
	Here bool
}

// child is what the page shows of one child.
type child struct {
	*tongue.Tongue
	studio.Student
	Pending template.HTML // recordings that are not sent yet
	Nudge   string        // a kind word of the teacher's; "" none
	Letters []ofTerm      // about a term, the newest first
	Lesson  *lesson       // nil while there is none
	Sent    []sent        // the newest first
}

// lesson is the newest one, in words.
type lesson struct {
	id      studio.LessonID
	Day     string
	Words   string
	Film    *film   // nil while there is none
	Opening *spoken // what the teacher says at the top, where there is no film
	Minutes string  // of all that is asked, a day
	Items   []item
	Signs   bool // there is music, so it is said what its signs are
}

// remembered is the cookie with the child that was looked at last on this phone.
const (
	remembered   = "child"
	rememberedIn = 400 * 24 * 60 * 60 // seconds; browsers allow no more
)

func (w *week) show(rw http.ResponseWriter, r *http.Request) error {
	c, err := w.common(r, "/week")
	if err != nil {
		return err
	}
	p := weekPage{common: c, New: r.URL.Query().Has("new"), Told: r.URL.Query().Has("told")}
	read, err := w.read(r, c)
	if err != nil {
		return err
	}
	students, err := w.f.Desk().Students(r.Context(), read.viewer)
	if err != nil {
		return err
	}
	inOrder(students)
	if p.LogWords, err = logWords(c.Tongue); err != nil {
		return err
	}
	if p.Notices, err = read.notices(read.me); err != nil {
		return err
	}
	p.Names, p.Mailed = namesPart{c.Tongue, studio.NoteNames(read.names)}, r.URL.Query().Has("mailed")
	p.Keep = []string{"/week", "/week/away"}
	if p.Tune = w.o.Sounds; p.Tune {
		p.Keep = append(p.Keep, "/week/tune")
	}
	if len(students) > 0 {
		chosen := students[w.chosen(rw, r, students)]
		if p.Child, err = read.child(chosen); err != nil {
			return err
		}
		if p.Child.Lesson != nil && seen(r) {
			if err := w.f.Desk().SeeLesson(r.Context(), read.viewer, p.Child.Lesson.id); err != nil {
				return err
			}
		}
		if len(students) > 1 {
			for _, s := range students {
				p.Children = append(p.Children, tab{s.Name, s.ID, s.ID == chosen.ID})
				p.Keep = append(p.Keep, "/week?child="+string(s.ID))
			}
		}
	}
	return w.render(rw, r, "week.html", "week.title", c.Tongue, p)
}

// chosen is which of the children is looked at: the one that the address names, or the last one on this phone.
func (w *week) chosen(rw http.ResponseWriter, r *http.Request, students []studio.Student) int {
	at := func(id string) int {
		return slices.IndexFunc(students, func(s studio.Student) bool { return string(s.ID) == id })
	}
	if i := at(r.URL.Query().Get("child")); i >= 0 {
		if len(students) > 1 && seen(r) {
			http.SetCookie(rw, &http.Cookie{Name: remembered, Value: string(students[i].ID), Path: "/week", MaxAge: rememberedIn,
				HttpOnly: true, Secure: w.f.Secure(), SameSite: http.SameSiteLaxMode})
		}
		return i
	}
	if c, err := r.Cookie(remembered); err == nil {
		return max(at(c.Value), 0)
	}
	return 0
}

// seen tells whether a person opens the page. One that a script fetches to keep it was looked at by nobody.
func seen(r *http.Request) bool {
	return !page.Ahead(r) && r.Header.Get("Sec-Fetch-Mode") != "cors"
}

// sentPart is GET /week/sent: what became of the recordings, for a script that looks again.
func (w *week) sentPart(rw http.ResponseWriter, r *http.Request) error {
	c, err := w.common(r, "/week")
	if err != nil {
		return err
	}
	x := child{Tongue: c.Tongue, Student: studio.Student{ID: studio.StudentID(r.URL.Query().Get("child"))}}
	read, err := w.read(r, c)
	if err != nil {
		return err
	}
	if x.Sent, err = read.sent(x.ID); err != nil {
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
	works  map[played]studio.Work

	me        studio.Person
	replyDays int    // the studio's promise
	names     string // how the family calls the notes
}

func (w *week) read(r *http.Request, c common) (*reader, error) {
	read := &reader{Tongue: c.Tongue, w: w, ctx: r.Context(), viewer: page.Viewer(r), works: map[played]studio.Work{}, replyDays: c.replyDays}
	var err error
	if read.me, err = w.f.Desk().Self(r.Context(), read.viewer); err != nil {
		return nil, err
	}
	read.names = string(namesOf(read.me, c.Tongue))
	return read, nil
}

// child reads the week of one.
func (r *reader) child(s studio.Student) (*child, error) {
	c := &child{Tongue: r.Tongue, Student: s}
	nudge, there, err := r.w.f.Desk().NudgeFor(r.ctx, r.viewer, s.ID)
	if err != nil {
		return nil, err
	}
	if there {
		c.Nudge = nudge.Text
	}
	if c.Letters, err = r.letters(s.ID); err != nil {
		return nil, err
	}
	if c.Lesson, err = r.lesson(s.ID); err != nil {
		return nil, err
	}
	if c.Pending, err = record.Pending(s.ID, r.Tongue); err != nil {
		return nil, err
	}
	c.Sent, err = r.sent(s.ID)
	return c, err
}

// ways adds where it is practised and recorded.
func (r *reader) ways(s studio.StudentID, a studio.Assignment, it *item) error {
	if !it.plays {
		return nil
	}
	var err error
	if it.Record, err = record.Place(record.Card{Student: s, Assignment: a.ID, Title: it.Title, In: r.Tongue}); err != nil || !r.w.o.Sounds {
		return err
	}
	c := practice.Card{Student: s, Assignment: a.ID, Work: a.Work, Bpm: a.Goals.TempoBpm, Ladder: a.Ladder, Second: a.Second, Title: it.Title, In: r.Tongue}
	if it.Sheet == "" {
		c.Work = "" // without notes there is nothing to hear, but a click to play with
	} else {
		it.Sound = soundOf(s, a)
	}
	it.Practice, err = practice.Place(c)
	return err
}

// soundOf is the address of how an assignment goes, from package practice: to be heard, not to be played along with.
func soundOf(s studio.StudentID, a studio.Assignment) string {
	q := url.Values{"child": {string(s)}, "plain": {"yes"}}
	if a.Goals.TempoBpm > 0 {
		q.Set("bpm", strconv.FormatFloat(math.Round(10*a.Goals.TempoBpm)/10, 'f', -1, 64))
	}
	return (&url.URL{Path: "/week/sound/" + string(a.ID), RawQuery: q.Encode()}).String()
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
	l := &lesson{id: newest.ID, Words: newest.Words}
	if l.Day, err = r.Day(newest.Sent, r.w.f.Now()); err != nil {
		return nil, err
	}
	states, err := r.states(*newest)
	if err != nil {
		return nil, err
	}
	aloud, err := r.aloud(*newest)
	if err != nil {
		return nil, err
	}
	l.Film, l.Opening = aloud.film, aloud.opening
	minutes := 0
	for i, a := range newest.Assignments {
		it, err := r.item(s, a)
		if err != nil {
			return nil, err
		}
		it.N, it.Said = i+1, aloud.items[a.ID]
		it.state = states[a.ID]
		if err := r.ways(s, a, &it); err != nil {
			return nil, err
		}
		if it.Question != nil && it.Right {
			it.Question.Explain = a.Question.Explain
		}
		l.Signs = l.Signs || it.Sheet != ""
		minutes += a.Minutes
		l.Items = append(l.Items, it)
	}
	if minutes > 0 {
		l.Minutes, err = r.Count("week.minutes", minutes)
	}
	return l, err
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

// played is a work as one child plays it.
type played struct {
	by   studio.StudentID
	work studio.WorkID
}

// work is the work of an assignment with the child's own fingers; the zero value where it is gone from the library.
func (r *reader) work(by studio.StudentID, id studio.WorkID) (studio.Work, error) {
	if work, known := r.works[played{by, id}]; known || id == "" {
		return work, nil
	}
	work, err := r.w.f.Desk().WorkFor(r.ctx, r.viewer, by, id)
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind == studio.NotFound {
		work, err = studio.Work{}, nil
	}
	if err == nil {
		r.works[played{by, id}] = work
	}
	return work, err
}

// inOrder puts children by their names, so that every page has them alike.
func inOrder(students []studio.Student) {
	slices.SortStableFunc(students, func(a, b studio.Student) int { return strings.Compare(a.Name, b.Name) })
}
