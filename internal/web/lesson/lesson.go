package lesson

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
)

// editor is a draft in a form.
type editor struct {
	ID          studio.LessonID
	Student     studio.StudentID
	Name        string
	Family      string
	Version     int
	Date        string
	Words       string
	Assignments []asked
	Library     []studio.Work
	SendSays    string
	Saved       string
	Unsaved     bool // what stands in the form is not in the store
	Problem     string
	Conflict    bool // somebody saved in between
	WasSent     bool // somebody sent it in between
	OtherAt     string
	Hurt        bool // in a recording that waits
	Takes       []reviewed
}

// asked is one assignment in the form; N counts from 1.
type asked struct {
	N                                 int
	ID                                studio.AssignmentID
	Work                              studio.WorkID
	Title                             string
	From, To, Tempo, Do, Done         string
	Tone, Dynamics, Stroke, Fingering string
	Passages                          string
	First, Final, More                bool
}

// reviewed is a take that waits, with what was said about it.
type reviewed struct {
	ID      studio.TakeID
	Work    string
	Sent    string
	Note    string
	Says    []string
	Remarks []said
}

// said is a remark, and where it was made.
type said struct {
	ID    studio.RemarkID
	Text  string
	Where string
}

func saidIn(m studio.Remark) said {
	one := said{ID: m.ID, Text: m.Text, Where: "at " + page.Clock(m.Anchor.AtS)}
	if one.Text == "" {
		one.Text = "Said aloud"
	}
	if m.Anchor.Bar != "" {
		one.Where = "bar " + m.Anchor.Bar
	}
	return one
}

// lessonPage shows a draft to the teacher, and a lesson that was sent to its family too.
func (p *pages) lessonPage(w http.ResponseWriter, r *http.Request) error { // GET /lessons/{lesson}
	l, err := p.desk.Lesson(r.Context(), page.Viewer(r), studio.LessonID(r.PathValue("lesson")))
	if err != nil {
		return err
	}
	if !l.Sent.IsZero() {
		return p.readLesson(w, r, l)
	}
	e, err := p.edit(r, l)
	if err != nil {
		return err
	}
	return p.renderEditor(w, r, e)
}

func (p *pages) renderEditor(w http.ResponseWriter, r *http.Request, e editor) error {
	return p.Render(w, r, "lesson.html", page.View{Title: "Lesson for " + e.Name, Here: "students", Wide: true, Data: e})
}

// edit puts a draft into words, with what waits beside it.
func (p *pages) edit(r *http.Request, l studio.Lesson) (editor, error) {
	ctx, v, now := r.Context(), page.Viewer(r), p.f.Now()
	works, err := p.works(r)
	if err != nil {
		return editor{}, err
	}
	sf, err := p.desk.Student(ctx, v, l.Student)
	if err != nil {
		return editor{}, err
	}
	takes, err := p.desk.TakesBy(ctx, v, studio.TakeQuery{Student: l.Student, Unanswered: true, Limit: takesCounted})
	if err != nil {
		return editor{}, err
	}
	remarks, err := p.desk.RemarksOf(ctx, v, l.Student, remarksRead)
	if err != nil {
		return editor{}, err
	}
	e := editor{ID: l.ID, Student: l.Student, Name: sf.Student.Name, Family: sf.Family.Name, Version: l.Version,
		Date: l.Date, Words: l.Words, Library: works.InOrder(), Saved: savedSays(l, now)}
	slices.Reverse(takes) // as they came
	unsaid := 0
	for _, t := range takes {
		one := reviewed{ID: t.ID, Work: works.Of(t), Sent: page.Ago(t.Arrived, now), Note: t.Note, Says: prose.Take(t)}
		for _, m := range slices.Backward(remarks) {
			if m.Take == t.ID {
				one.Remarks = append(one.Remarks, saidIn(m))
			}
		}
		if len(one.Remarks) == 0 {
			unsaid++
		}
		e.Hurt = e.Hurt || t.Hurt
		e.Takes = append(e.Takes, one)
	}
	e.SendSays = sendSays(e.Name, namesOf(sf.People), len(takes), unsaid)
	for i, a := range l.Assignments {
		one := asked{N: i + 1, ID: a.ID, Work: a.Work, Title: works.Name(a.Work), From: a.FromBar, To: a.ToBar, Tempo: tempo(a.Goals.TempoBpm),
			Do: a.Do, Done: a.Goals.DoneWhen, Tone: a.Goals.Tone, Dynamics: a.Goals.Dynamics, Stroke: a.Goals.Stroke, Fingering: a.Goals.Fingering,
			First: i == 0, Final: i == len(l.Assignments)-1}
		one.More = one.Tone+one.Dynamics+one.Stroke+one.Fingering != ""
		passages, err := p.desk.Passages(ctx, v, a.Work)
		if err != nil {
			return editor{}, err
		}
		one.Passages = passagesSay(passages)
		e.Assignments = append(e.Assignments, one)
	}
	return e, nil
}

func passagesSay(all []studio.Passage) string {
	var parts []string
	for _, one := range all {
		parts = append(parts, one.Name+" ("+prose.Bars(one.FromBar, one.ToBar)+")")
	}
	return strings.Join(parts, ", ")
}

func savedSays(l studio.Lesson, now time.Time) string {
	if l.Version == 0 {
		return ""
	}
	return "Saved " + savedWhen(l, now) + "."
}

// savedWhen is the moment of the last saving: "at 18:09" for today, else "yesterday at 18:09", "on Monday at 18:09".
func savedWhen(l studio.Lesson, now time.Time) string {
	at := l.Saved.In(now.Location())
	clock := "at " + at.Format("15:04")
	if day := page.Day(at, now); day != "today" {
		return prose.On(day) + " " + clock
	}
	return clock
}

// sendSays is what pressing the button does, before it is pressed.
func sendSays(student string, adults []string, waiting, unsaid int) string {
	who := prose.Among(adults)
	if who == "" {
		who = "the family, as soon as a phone is connected,"
	}
	say := prose.Capital(who) + " and " + student + " see this lesson at once. It cannot be changed afterwards; a new one can follow any time."
	switch {
	case waiting == 1:
		say += " The recording that waits counts as answered."
	case waiting > 1:
		say += " The " + prose.Number(waiting, "recording", "recordings") + " that wait count as answered."
	}
	if waiting > 0 && unsaid > 0 && unsaid < waiting {
		say += " " + prose.Capital(prose.Number(unsaid, "of them has", "of them have")) + " no remark yet."
	}
	return say
}

// lesson answers "write the lesson": it opens the draft that is there, or asks how to begin one.
func (p *pages) lesson(w http.ResponseWriter, r *http.Request) error { // GET /students/{student}/lesson
	sf, err := p.desk.Student(r.Context(), page.Viewer(r), studio.StudentID(r.PathValue("student")))
	if err != nil {
		return err
	}
	draft, last := draftAndLast(sf.Lessons)
	if draft.ID != "" {
		return p.back(w, r, "/lessons/"+string(draft.ID))
	}
	b := struct {
		ID                          studio.StudentID
		Name, Family, Waiting, Last string
	}{ID: sf.Student.ID, Name: sf.Student.Name, Family: "Family " + sf.Family.Name}
	waiting := 0
	for _, t := range sf.Takes {
		if !t.Arrived.IsZero() && t.Answered.IsZero() {
			waiting++
		}
	}
	if waiting > 0 {
		b.Waiting = prose.Capital(prose.Number(waiting, "recording waits", "recordings wait")) + " for this answer."
	}
	if day, err := time.ParseInLocation(time.DateOnly, last.Date, p.f.Now().Location()); err == nil && len(last.Assignments) > 0 {
		b.Last = page.Day(day, p.f.Now())
	}
	return p.Render(w, r, "begin.html", page.View{Title: "A lesson for " + b.Name, Here: "students", Data: b})
}

// draftAndLast finds the newest draft and the newest lesson that was sent; lessons come the newest first.
func draftAndLast(ls []studio.Lesson) (draft, last studio.Lesson) {
	for _, l := range ls {
		switch {
		case l.Sent.IsZero() && draft.ID == "":
			draft = l
		case !l.Sent.IsZero() && last.ID == "":
			last = l
		}
	}
	return draft, last
}

// draftOf gives the draft of a student, or begins one; from is a lesson whose assignments it starts with.
func (p *pages) draftOf(r *http.Request, id studio.StudentID, fromLast bool) (studio.Lesson, error) {
	ctx, v := r.Context(), page.Viewer(r)
	sf, err := p.desk.Student(ctx, v, id)
	if err != nil {
		return studio.Lesson{}, err
	}
	draft, last := draftAndLast(sf.Lessons)
	if draft.ID != "" { // pressed twice: one draft is enough
		return draft, nil
	}
	l := studio.Lesson{Student: id, Date: p.f.Now().Format(time.DateOnly)}
	if fromLast {
		for _, a := range last.Assignments {
			a.ID = ""
			l.Assignments = append(l.Assignments, a)
		}
	}
	return p.desk.SaveDraft(ctx, v, l)
}

// beginLesson makes the draft; with "form" it keeps what was written into one that is sent by now.
func (p *pages) beginLesson(w http.ResponseWriter, r *http.Request) error { // POST /students/{student}/lesson
	student := studio.StudentID(r.PathValue("student"))
	if r.PostFormValue("begin") == "form" {
		l, err := p.written(r, studio.Lesson{Student: student})
		if err != nil {
			return err
		}
		l.Version = 0
		if l, err = p.desk.SaveDraft(r.Context(), page.Viewer(r), l); err != nil {
			return err
		}
		return p.back(w, r, "/lessons/"+string(l.ID))
	}
	l, err := p.draftOf(r, student, r.PostFormValue("begin") == "last")
	if err != nil {
		return err
	}
	return p.back(w, r, "/lessons/"+string(l.ID))
}

// assign puts a work into the draft, from the student's page.
func (p *pages) assign(w http.ResponseWriter, r *http.Request) error { // POST /students/{student}/assign
	work, err := p.chosen(r, r.PostFormValue("work"))
	if err != nil {
		return err
	}
	l, err := p.draftOf(r, studio.StudentID(r.PathValue("student")), false)
	if err != nil {
		return err
	}
	l.Assignments = append(l.Assignments, studio.Assignment{Work: work})
	if l, err = p.desk.SaveDraft(r.Context(), page.Viewer(r), l); err != nil {
		return err
	}
	return p.back(w, r, lastOf(l))
}

// chosen is a work of the library.
func (p *pages) chosen(r *http.Request, id string) (studio.WorkID, error) {
	works, err := p.works(r)
	if err != nil {
		return "", err
	}
	w, ok := works[studio.WorkID(id)]
	if !ok {
		return "", &studio.Problem{Kind: studio.Invalid, Say: "Choose a work first, then ask for it."}
	}
	return w.ID, nil
}

// lastOf leads to the assignment that was added last, to where it is written what to do.
func lastOf(l studio.Lesson) string {
	return fmt.Sprintf("/lessons/%s#do%d", l.ID, len(l.Assignments))
}

func namesOf(people []studio.Person) (names []string) {
	for _, one := range people {
		names = append(names, one.Name)
	}
	return names
}
