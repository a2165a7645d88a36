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

// line is one task of a proposal.
type line struct {
	Key    string // what it is chosen by
	Title  string
	Sum    string
	Do     string
	Reason string
}

// begin is how a lesson can be begun.
type begin struct {
	ID                    studio.StudentID
	Name, Family, Waiting string
	Last                  string // when the last one was: "on Monday", "yesterday"
	Lines                 []line
	Plan                  []line   // of the week's plan, where no line above asks for the same work
	Gone                  []string // what is not proposed again, and why
}

// lesson answers "write the lesson": it opens the draft that is there, or asks how to begin one.
func (p *pages) lesson(w http.ResponseWriter, r *http.Request) error { // GET /students/{student}/lesson
	ctx, v := r.Context(), page.Viewer(r)
	sf, err := p.desk.Student(ctx, v, studio.StudentID(r.PathValue("student")))
	if err != nil {
		return err
	}
	draft, last := draftAndLast(sf.Lessons)
	if draft.ID != "" {
		return p.back(w, r, "/lessons/"+string(draft.ID))
	}
	b := begin{ID: sf.Student.ID, Name: sf.Student.Name, Family: "Family " + sf.Family.Name}
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
		b.Last = prose.On(page.Day(day, p.f.Now()))
	}
	works, err := p.works(r)
	if err != nil {
		return err
	}
	proposed, reasons, err := p.desk.ProposeLesson(ctx, v, b.ID)
	if err != nil {
		return err
	}
	keys := keysOf(proposed.Assignments)
	for i, a := range proposed.Assignments {
		b.Lines = append(b.Lines, line{keys[i], titleOf(a, works), sumOf(a), a.Do, strings.Join(reasonsFor(i, reasons), " ")})
	}
	b.Gone = reasonsFor(-1, reasons)
	plan, err := p.desk.PlanOf(ctx, v, b.ID)
	if err != nil {
		return err
	}
	for _, l := range plan.Week.Lines {
		if !asks(proposed.Assignments, l.Work) {
			b.Plan = append(b.Plan, line{Key: l.Work, Title: l.Title, Sum: fmt.Sprintf("%d min on %s", l.Minutes, prose.Number(len(l.Days), "day", "days")), Reason: l.Why})
		}
	}
	return p.Render(w, r, "begin.html", page.View{Title: "A lesson for " + b.Name, Here: "students", Data: b})
}

// asks says whether a work is asked for.
func asks(as []studio.Assignment, work string) bool {
	return slices.ContainsFunc(as, func(a studio.Assignment) bool { return string(a.Work) == work })
}

// withPlan puts what was chosen of the week's plan behind what was chosen of the proposal. The plan remembers what was
// wanted of it, in whichever list it stood. What it does not hold any more is left out.
func (p *pages) withPlan(r *http.Request, l studio.Lesson) (studio.Lesson, error) {
	ctx, v := r.Context(), page.Viewer(r)
	plan, err := p.desk.PlanOf(ctx, v, l.Student)
	if err != nil {
		return l, err
	}
	var works []studio.WorkID
	for _, one := range plan.Week.Lines {
		if slices.Contains(r.PostForm["plan"], one.Work) || asks(l.Assignments, one.Work) {
			works = append(works, studio.WorkID(one.Work))
		}
	}
	if len(works) == 0 {
		return l, nil
	}
	return p.desk.TakeIntoLesson(ctx, v, l.Student, works...)
}

// reasonsFor are the words about one line of a proposal, -1 for what is gone.
func reasonsFor(i int, all []studio.Reason) (say []string) {
	for _, x := range all {
		if x.Line == i && x.Say != "" {
			say = append(say, strings.TrimSpace(x.Say))
		}
	}
	return say
}

// keysOf names tasks by what they ask, so that a choice is still known when a recording arrives in between.
func keysOf(as []studio.Assignment) []string {
	keys, seen := make([]string, len(as)), map[string]int{}
	for i, a := range as {
		k := strings.Join([]string{string(a.Ask), string(a.Work), a.FromBar, a.ToBar}, "|")
		if seen[k]++; seen[k] > 1 {
			k += fmt.Sprintf("|%d", seen[k])
		}
		keys[i] = k
	}
	return keys
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

// draftOf gives the draft of a student, or begins one: "last" with what was asked before, "proposed" with those lines of
// the proposal that were chosen, else with nothing.
func (p *pages) draftOf(r *http.Request, id studio.StudentID, from string) (studio.Lesson, error) {
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
	switch from {
	case "last":
		for _, a := range last.Assignments {
			a.ID, a.Recording = "", ""
			l.Assignments = append(l.Assignments, a)
		}
	case "proposed":
		proposed, _, err := p.desk.ProposeLesson(ctx, v, id)
		if err != nil {
			return studio.Lesson{}, err
		}
		for i, k := range keysOf(proposed.Assignments) {
			if slices.Contains(r.PostForm["line"], k) {
				l.Assignments = append(l.Assignments, proposed.Assignments[i])
			}
		}
	}
	l, err = p.desk.SaveDraft(ctx, v, l)
	if err != nil || from != "proposed" {
		return l, err
	}
	return p.withPlan(r, l)
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
	l, err := p.draftOf(r, student, r.PostFormValue("begin"))
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
	l, err := p.draftOf(r, studio.StudentID(r.PathValue("student")), "")
	if err != nil {
		return err
	}
	l.Assignments = append(l.Assignments, studio.Assignment{Work: work})
	if l, err = p.desk.SaveDraft(r.Context(), page.Viewer(r), l); err != nil {
		return err
	}
	return p.back(w, r, lastOf(l))
}

// chosen is a work of the library, by its id or by its title.
func (p *pages) chosen(r *http.Request, s string) (studio.WorkID, error) {
	works, err := p.works(r)
	if err != nil {
		return "", err
	}
	if w, ok := works[studio.WorkID(s)]; ok {
		return w.ID, nil
	}
	if w, ok := works.Called(s); ok {
		return w.ID, nil
	}
	if word(s) == "" {
		return "", &studio.Problem{Kind: studio.Invalid, Say: "Choose a work first, then ask for it."}
	}
	return "", &studio.Problem{Kind: studio.Invalid, Say: fmt.Sprintf("“%s” is not in the library. Choose a title from the list.", short(s))}
}

// lastOf leads to the assignment that was added last, to where it is written what to do.
func lastOf(l studio.Lesson) string {
	return toAssignment(l, len(l.Assignments)-1, "do")
}
