package lesson

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// A lesson of a person is short; more than this is somebody's script.
const (
	formBytes       = 1 << 20
	lessonBytes     = 20_000 // of one text in it
	assignmentsMost = 100
)

// How far back an answer looks: recordings that wait, and remarks.
const (
	takesCounted = 500
	remarksRead  = 500
)

// saveLesson keeps what stands in the form, and then does what its button says: save, add, up, down, twice, drop,
// quote, send or throw. A script that saves while it is being written gets JSON.
func (p *pages) saveLesson(w http.ResponseWriter, r *http.Request) error { // POST /lessons/{lesson}
	ctx, v := r.Context(), page.Viewer(r)
	r.Body = http.MaxBytesReader(w, r.Body, formBytes)
	if err := r.ParseForm(); err != nil {
		return unreadable(err)
	}
	stored, err := p.desk.Lesson(ctx, v, studio.LessonID(r.PathValue("lesson")))
	if err != nil {
		return err
	}
	act, arg, _ := strings.Cut(r.PostFormValue("act"), " ")
	script := byScript(r)
	at := "/lessons/" + string(stored.ID)
	if act == "throw" && r.PostForm.Get("version") == strconv.Itoa(stored.Version) && stored.Sent.IsZero() {
		if err := p.desk.DropDraft(ctx, v, stored.ID); err != nil {
			return err
		}
		return p.back(w, r, "/students/"+string(stored.Student)+"?done=thrown")
	}
	written, err := p.written(r, stored)
	if err == nil {
		err = p.acted(r, &written, act, arg)
	}
	var saved studio.Lesson
	if err == nil {
		saved, err = p.desk.SaveDraft(ctx, v, written)
	}
	if err == nil && act == "send" {
		if err = p.desk.SendLesson(ctx, v, saved.ID, saved.Version); err != nil && stored.Sent.IsZero() {
			written = saved // what was written is safe; only it did not go out
		}
	}
	if err == nil && act == "later" {
		if err = p.later(r, saved); err != nil {
			written = saved // what was written is safe; only the hour is not
		}
	}
	if err != nil && act == "send" && !stored.Sent.IsZero() && sameWords(written, stored) { // pressed twice
		return p.back(w, r, at+"?done=sent-was")
	}
	switch {
	case err != nil && script:
		return err
	case err != nil:
		return p.editAgain(w, r, written, saved.ID != "", err)
	case script:
		return p.savedAsWritten(w, r, saved)
	}
	return p.back(w, r, after(saved, act, arg, r.PostForm.Get("open")))
}

// after is where the teacher stands once her button was pressed.
func after(l studio.Lesson, act, arg, open string) string {
	i := place(arg)
	switch act {
	case "send":
		return "/lessons/" + string(l.ID) + "?done=sent"
	case "add":
		return lastOf(l)
	case "up":
		return toAssignment(l, i-1, "a")
	case "down", "twice":
		return toAssignment(l, i+1, "a")
	case "drop":
		return "/lessons/" + string(l.ID) + "#asked"
	case "later":
		return "/lessons/" + string(l.ID) + "#sending"
	case "preview":
		return "/lessons/" + string(l.ID) + "/preview"
	case "paper":
		return "/lessons/" + string(l.ID) + "/paper?size=" + url.QueryEscape(arg)
	case "quote":
		return "/lessons/" + string(l.ID) + "#waiting"
	case "phrase":
		return "/lessons/" + string(l.ID) + "#phrases"
	}
	return toAssignment(l, place(open), "a")
}

func unreadable(err error) error {
	if _, tooLarge := errors.AsType[*http.MaxBytesError](err); tooLarge {
		return err
	}
	return &studio.Problem{Kind: studio.Invalid, Say: "The page sent something that makes no sense. Load it again.", Err: err}
}

// place of an assignment in its lesson, from 0, of the number on the page; -1 for no number.
func place(n string) int {
	i, err := strconv.Atoi(n)
	if err != nil {
		return -1
	}
	return i - 1
}

// toAssignment leads to a card that is open: to its head, or to the field named.
func toAssignment(l studio.Lesson, i int, field string) string {
	at := "/lessons/" + string(l.ID)
	if i < 0 || i >= len(l.Assignments) {
		return at
	}
	return fmt.Sprintf("%s?open=%d#%s%d", at, i+1, field, i+1)
}

// acted does what the button says to the lesson in the form.
func (p *pages) acted(r *http.Request, l *studio.Lesson, act, arg string) error {
	as, i := l.Assignments, place(arg)
	switch act {
	case "add":
		a := studio.Assignment{Ask: studio.Ask(r.PostForm.Get("kind"))}
		if more := r.PostForm.Get("more"); word(more) != "" || a.Ask.NeedsWork() {
			var err error
			if a.Work, err = p.chosen(r, more); err != nil {
				return err
			}
		}
		l.Assignments = append(as, a)
	case "up":
		if i >= 1 && i < len(as) {
			as[i-1], as[i] = as[i], as[i-1]
		}
	case "down":
		if i >= 0 && i+1 < len(as) {
			as[i], as[i+1] = as[i+1], as[i]
		}
	case "drop":
		if i >= 0 && i < len(as) {
			l.Assignments = slices.Delete(as, i, i+1)
		}
	case "twice":
		if i >= 0 && i < len(as) {
			again := as[i]
			again.ID = ""
			l.Assignments = slices.Insert(as, i+1, again)
		}
	case "quote":
		return p.quote(r, l, studio.RemarkID(arg))
	case "phrase":
		return p.say(r, l, arg)
	case "hold":
		_, err := p.desk.HoldFingering(r.Context(), page.Viewer(r), studio.FingeringID(arg))
		return err
	case "send", "later":
		if l.Words == "" && len(as) == 0 {
			return &studio.Problem{Kind: studio.Invalid, Say: "This lesson is empty. Say something first, or ask for a work."}
		}
	case "throw": // what another window wrote meanwhile is not thrown away unseen
		return &studio.Problem{Kind: studio.Conflict, Say: "This lesson was changed in another window."}
	case "save", "preview", "paper", "":
	default:
		return &studio.Problem{Kind: studio.Invalid, Say: "The page asked for something that is not known here. Load it again."}
	}
	return nil
}

// quote copies a remark to where it belongs: what to do with its work, or the words at the top.
func (p *pages) quote(r *http.Request, l *studio.Lesson, id studio.RemarkID) error {
	ctx, v := r.Context(), page.Viewer(r)
	remarks, err := p.desk.RemarksOf(ctx, v, l.Student, remarksRead)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(remarks, func(m studio.Remark) bool { return m.ID == id })
	if at < 0 {
		return &studio.Problem{Kind: studio.NotFound, Say: "This remark is not there any more."}
	}
	m := remarks[at]
	text := m.Text
	if m.Anchor.Bar != "" {
		text = "Bar " + m.Anchor.Bar + ": " + text
	}
	takes, err := p.desk.TakesBy(ctx, v, studio.TakeQuery{Student: l.Student, Unanswered: true, Limit: takesCounted})
	if err != nil {
		return err
	}
	into := &l.Words
	if t := slices.IndexFunc(takes, func(t studio.Take) bool { return t.ID == m.Take }); t >= 0 && takes[t].Work != "" {
		for i := range l.Assignments {
			if l.Assignments[i].Work == takes[t].Work {
				into = &l.Assignments[i].Do
				break
			}
		}
	}
	*into = strings.TrimLeft(*into+"\n"+text, "\n")
	return nil
}

// sameWords says whether two lessons ask and say the same.
func sameWords(a, b studio.Lesson) bool {
	return a.Date == b.Date && a.Words == b.Words && slices.EqualFunc(a.Assignments, b.Assignments, func(a, b studio.Assignment) bool {
		a.ID, b.ID = "", ""
		return reflect.DeepEqual(a, b)
	})
}

// editAgain shows the form with everything that was typed, and why it was not saved, or saved and not sent.
func (p *pages) editAgain(w http.ResponseWriter, r *http.Request, written studio.Lesson, saved bool, why error) error {
	problem, ok := errors.AsType[*studio.Problem](why)
	if !ok || problem.Kind == studio.Internal {
		return why
	}
	now, err := p.desk.Lesson(r.Context(), page.Viewer(r), written.ID)
	if err != nil {
		return err
	}
	status := http.StatusUnprocessableEntity
	e, err := p.edit(r, written)
	if err != nil {
		return err
	}
	switch {
	case problem.Kind == studio.Conflict && !now.Sent.IsZero():
		status, e.WasSent = http.StatusConflict, true
	case problem.Kind == studio.Conflict:
		status = http.StatusConflict
		e.Conflict, e.Version = true, now.Version // whoever presses again has read it
		e.OtherAt = savedWhen(now, p.f.Now())
	default:
		e.Problem = problem.Say
	}
	if !saved {
		e.Saved, e.Unsaved = "What you see is not saved yet.", true
	}
	return p.renderEditor(page.WithStatus(w, status), r, e)
}
