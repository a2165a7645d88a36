package desk

import (
	"net/http"
	"strings"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
)

// file is a student's page in words.
type file struct {
	ID          studio.StudentID
	FamilyID    studio.FamilyID
	Name        string
	Family      string
	Coaches     string
	Since       string
	Hurt        bool // in a recording that waits
	Said        string
	Media       studio.MediaMode
	LessonSays  string
	NextTake    studio.TakeID
	Months      []month
	Earlier     string
	Works       []course
	Library     []studio.Work
	Words       string
	Remarks     []said
	MoreRemarks string
	Ways        []way
	AtHome      *weekAtHome // nil before the first lesson
}

type said struct {
	ID    studio.RemarkID
	Text  string
	Way   string
	Where string
	Day   string
}

// way is a collection as the student goes through it.
type way struct {
	ID    studio.CollectionID
	Name  string
	Says  string
	Steps []wayStep
}

type wayStep struct {
	Title string
	Says  string
	Kind  string // "way-kept", "way-asked", "way-ahead": which mark stands before it
}

func (p *pages) student(w http.ResponseWriter, r *http.Request) error { // GET /students/{student}?words=…&before=DATE
	ctx, v, now := r.Context(), page.Viewer(r), p.f.Now()
	sf, err := p.desk.Student(ctx, v, studio.StudentID(r.PathValue("student")))
	if err != nil {
		return err
	}
	works, err := p.works(r)
	if err != nil {
		return err
	}
	f := file{ID: sf.Student.ID, FamilyID: sf.Family.ID, Name: sf.Student.Name, Family: "Family " + sf.Family.Name,
		Coaches: prose.Among(namesOf(sf.People)), Since: "with you since " + page.Day(sf.Student.Since, now), Media: sf.Student.Media,
		LessonSays: "Begin a lesson", Library: works.InOrder(), Words: strings.TrimSpace(r.FormValue("words")),
		Said: doneWords[r.FormValue("done")]}
	for _, l := range sf.Lessons {
		if l.Sent.IsZero() {
			f.LessonSays = "Go on with the lesson"
			break
		}
	}
	for i := len(sf.Takes) - 1; i >= 0; i-- { // the oldest first
		if t := sf.Takes[i]; !t.Arrived.IsZero() && t.Answered.IsZero() {
			f.Hurt = f.Hurt || t.Hurt
			if f.NextTake == "" {
				f.NextTake = t.ID
			}
		}
	}
	earlier := ""
	if f.Months, earlier, err = p.history(r, sf, r.FormValue("before"), works); err != nil {
		return err
	}
	if earlier != "" {
		f.Earlier = "/students/" + string(f.ID) + "?before=" + earlier + "#weeks"
	}
	if f.Works, err = p.courses(r, sf.Student.ID, works); err != nil {
		return err
	}
	if f.Remarks, f.MoreRemarks, err = p.saidTo(r, sf.Student.ID, f.Words); err != nil {
		return err
	}
	week, err := p.desk.SoFarOf(ctx, v, sf.Student.ID)
	if err != nil {
		return err
	}
	if week.Lesson != "" {
		one := weekOf(week, works, now)
		f.AtHome = &one
	}
	for _, c := range sf.Progress {
		f.Ways = append(f.Ways, wayOf(c, now))
	}
	return p.Render(w, r, "student.html", page.View{Title: f.Name, Here: "students", Wide: true, Data: f})
}

func namesOf(people []studio.Person) (names []string) {
	for _, one := range people {
		names = append(names, one.Name)
	}
	return names
}

// doneWords say what has just been done, by its name in the address.
var doneWords = map[string]string{
	"kept":    "Kept.",
	"added":   "Written down.",
	"deleted": "The recording is deleted, with everything that was measured and said. A receipt stands in the studio’s settings.",
	"out":     "That device is signed out. It sees nothing any more.",
	"thrown":  "The draft is thrown away.",
}

func (p *pages) changeStudent(w http.ResponseWriter, r *http.Request) error { // POST /students/{student}
	s := studio.Student{ID: studio.StudentID(r.PathValue("student")), Name: r.PostFormValue("name"), Media: studio.MediaMode(r.PostFormValue("media"))}
	if _, err := p.desk.ChangeStudent(r.Context(), page.Viewer(r), s); err != nil {
		return err
	}
	return p.back(w, r, "/students/"+string(s.ID)+"?done=kept")
}

// back leads on after a change, so that loading the page again changes nothing.
func (p *pages) back(w http.ResponseWriter, r *http.Request, to string) error {
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

func wayOf(c studio.Progress, now time.Time) way {
	one := way{ID: c.Collection.ID, Name: c.Collection.Name}
	asked := 0
	for _, s := range c.Steps {
		st := wayStep{Title: s.Work.Title, Says: "still ahead", Kind: "way-ahead"}
		if s.Line.Asked > 0 {
			asked++
			st.Kind, st.Says = "way-asked", "asked "+prose.Times(s.Line.Asked)
			if !s.Line.Heard.IsZero() {
				st.Kind = "way-kept"
				st.Says += ", last recording " + page.Day(s.Line.Heard, now)
			}
		}
		one.Steps = append(one.Steps, st)
	}
	one.Says = prose.Capital(prose.Count(asked)) + " of " + prose.Count(len(c.Steps)) + " asked so far"
	return one
}

// remarksShown on a student's page, remarksFound where words are searched: among remarksRead of them.
const (
	remarksShown = 6
	remarksFound = 20
	remarksRead  = 500
)

func (p *pages) saidTo(r *http.Request, id studio.StudentID, words string) (all []said, more string, err error) {
	remarks, err := p.desk.RemarksOf(r.Context(), page.Viewer(r), id, remarksRead)
	if err != nil {
		return nil, "", err
	}
	found, most := 0, remarksShown
	if words != "" {
		most = remarksFound
	}
	for _, m := range remarks {
		if !holds(m.Text, words) {
			continue
		}
		if found++; found > most {
			continue
		}
		all = append(all, saidIn(m, p.f.Now()))
	}
	if found > most {
		more = "There are " + page.Plural(found-most, "older one") + ". Find them by their words, or on the page of all that is remembered."
	}
	return all, more, nil
}

func saidIn(m studio.Remark, now time.Time) said {
	one := said{ID: m.ID, Text: m.Text, Way: "/takes/" + string(m.Take) + "?remark=" + string(m.ID), Day: page.Day(m.Made, now)}
	if one.Text == "" {
		one.Text = "Said aloud"
	}
	one.Where = "at " + page.Clock(m.Anchor.AtS)
	if m.Anchor.Bar != "" {
		one.Where = "bar " + m.Anchor.Bar
	}
	return one
}
