package arrive

import (
	"context"
	"errors"
	"io"
	"net/http"
	"strings"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// unsortedPage is GET /unsorted: the files that nobody's name is on, with whose they may be.
type unsortedPage struct {
	Files    []unsortedFile
	Students []studio.Student // by name
	Works    []studio.Work
	Waits    bool // some are still being listened to
	Sorted   string
}

type unsortedFile struct {
	studio.Unsorted
	Megabytes float64
	Waits     bool
	Choices   []choice
}

// choice is a guess as a person reads it.
type choice struct {
	Value string // student/assignment/work
	Name  string
	Title string // of the work; "" not known
	Why   string
	Sure  string
	First bool
}

func (a *Arrivals) unsorted(w http.ResponseWriter, r *http.Request) error {
	p, err := a.unsortedPage(r)
	if err != nil {
		return err
	}
	if r.URL.Query().Has("part") {
		return a.pages.Part(w, "unsorted-list", p)
	}
	return a.pages.Render(w, r, "unsorted.html", page.View{Title: "Recordings without a name", Here: "desk", Data: p})
}

func (a *Arrivals) unsortedPage(r *http.Request) (unsortedPage, error) {
	ctx, v := r.Context(), page.Viewer(r)
	var p unsortedPage
	all, err := a.desk.Unsorted(ctx, v)
	if err != nil {
		return p, err
	}
	if p.Students, err = a.desk.Students(ctx, v); err != nil {
		return p, err
	}
	if p.Works, err = a.desk.Works(ctx, v); err != nil {
		return p, err
	}
	names, titles := map[studio.StudentID]string{}, map[studio.WorkID]string{}
	for _, s := range p.Students {
		names[s.ID] = s.Name
	}
	for _, w := range p.Works {
		titles[w.ID] = w.Title
	}
	for _, u := range all {
		f := unsortedFile{Unsorted: u, Megabytes: float64(u.Bytes) / 1e6, Waits: u.State == studio.Waiting || u.State == studio.BeingHeard}
		p.Waits = p.Waits || f.Waits
		for _, g := range u.Guesses {
			name := names[g.Student]
			if name == "" {
				continue // erased meanwhile
			}
			f.Choices = append(f.Choices, choice{Value: strings.Join([]string{string(g.Student), string(g.Assignment), string(g.Work)}, "/"),
				Name: name, Title: titles[g.Work], Why: g.Why, Sure: sureWords(g.Confidence), First: len(f.Choices) == 0})
		}
		p.Files = append(p.Files, f)
	}
	p.Sorted = r.URL.Query().Get("sorted")
	return p, nil
}

// sureWords says how sure a guess is. The bounds are our choice, no source.
func sureWords(confidence float64) string {
	switch {
	case confidence >= 0.8:
		return "very likely"
	case confidence >= 0.4:
		return "likely"
	}
	return "possible"
}

const mostFieldBytes = 8 << 10 // of a form's field that is no file

// drop is POST /unsorted: files in a plain form.
func (a *Arrivals) drop(w http.ResponseWriter, r *http.Request) error {
	page.Takes(w, r, 0) // the studio counts
	parts, err := r.MultipartReader()
	if err != nil {
		return &studio.Problem{Kind: studio.Invalid, Say: "No file arrived. Choose recordings and send them again.", Err: err}
	}
	came := 0
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return &studio.Problem{Kind: studio.Invalid, Say: "The files did not arrive whole. Send them again.", Err: err}
		}
		if part.FileName() == "" {
			continue
		}
		if _, err := a.desk.Drop(r.Context(), page.Viewer(r), part.FileName(), typeOf(part.FileName(), part.Header.Get("Content-Type")), part); err != nil {
			return err
		}
		came++
	}
	if came == 0 {
		return &studio.Problem{Kind: studio.Invalid, Say: "No file arrived. Choose recordings and send them again."}
	}
	http.Redirect(w, r, "/unsorted", http.StatusSeeOther)
	return nil
}

// sort is POST /unsorted/{unsorted}: whose a file is, as the teacher says.
func (a *Arrivals) sort(w http.ResponseWriter, r *http.Request) error {
	r.Body = http.MaxBytesReader(w, r.Body, mostFieldBytes)
	if err := r.ParseForm(); err != nil {
		return err
	}
	id := studio.UnsortedID(r.PathValue("unsorted"))
	v := page.Viewer(r)
	ann := studio.Announcement{Student: studio.StudentID(r.PostForm.Get("student")), Work: studio.WorkID(r.PostForm.Get("work"))}
	if choice := r.PostForm.Get("choice"); choice != "else" && choice != "" {
		parts := strings.Split(choice, "/")
		if len(parts) != 3 {
			return &studio.Problem{Kind: studio.Invalid, Say: "The page sent something that makes no sense. Load it again."}
		}
		ann = studio.Announcement{Student: studio.StudentID(parts[0]), Assignment: studio.AssignmentID(parts[1]), Work: studio.WorkID(parts[2])}
	}
	if ann.Student == "" {
		return &studio.Problem{Kind: studio.Invalid, Say: "Choose whose recording it is first."}
	}
	if err := a.asAsked(r.Context(), v, &ann); err != nil {
		return err
	}
	t, err := a.desk.Sort(r.Context(), v, id, ann)
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/unsorted?sorted="+string(t.ID), http.StatusSeeOther)
	return nil
}

// asAsked fills in the assignment where the work was asked of the student in the newest lesson.
func (a *Arrivals) asAsked(ctx context.Context, v studio.Viewer, ann *studio.Announcement) error {
	if ann.Assignment != "" || ann.Work == "" {
		return nil
	}
	ls, err := a.desk.Lessons(ctx, v, studio.LessonQuery{Student: ann.Student, Limit: 1})
	if err != nil {
		return err
	}
	for _, l := range ls {
		for _, as := range l.Assignments {
			if as.Work == ann.Work {
				ann.Assignment = as.ID
				return nil
			}
		}
	}
	return nil
}

func (a *Arrivals) discard(w http.ResponseWriter, r *http.Request) error {
	if err := a.desk.Discard(r.Context(), page.Viewer(r), studio.UnsortedID(r.PathValue("unsorted"))); err != nil {
		return err
	}
	http.Redirect(w, r, "/unsorted", http.StatusSeeOther)
	return nil
}

// unsortedSound plays a file before anybody's name is on it: it came from the teacher, and goes to nobody else.
func (a *Arrivals) unsortedSound(w http.ResponseWriter, r *http.Request) (err error) {
	u, f, err := a.desk.OpenUnsorted(r.Context(), page.Viewer(r), studio.UnsortedID(r.PathValue("unsorted")))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	giveOut(w, u.Type, u.SHA256, true)
	http.ServeContent(w, r, "", time.Time{}, f)
	return nil
}
