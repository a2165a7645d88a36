package studio

import (
	"context"
	"time"
)

// TakeQuery narrows a list of takes. The zero value asks for the newest of all that the viewer may see.
type TakeQuery struct {
	Student    StudentID
	Work       WorkID
	Assignment AssignmentID
	State      TakeState
	Unanswered bool      // arrived, and not answered
	Models     bool      // the teacher's own takes instead of the families'
	Before     Take      // the last one of the page before; only its ID and Announced count
	Since      time.Time // announced since; zero for all
	Limit      int       // 0 means 50, and never more than 500
}

const (
	usualPage = 50
	mostAPage = 500
)

// page is how many rows are asked for where n were wanted.
func page(n int) int {
	if n <= 0 {
		return usualPage
	}
	return min(n, mostAPage)
}

// LessonQuery narrows a list of lessons. The newest come first, by their day; of one day what was sent last, and before it what was not sent yet.
type LessonQuery struct {
	Student StudentID
	Drafts  bool   // drafts too; a family never gets them
	Before  Lesson // the last one of the page before; without an ID, all before its Date
	Limit   int    // 0 means 50, and never more than 500
}

// CourseLine is what is known of one student and one work.
type CourseLine struct {
	Work    WorkID
	Asked   int       // in how many sent lessons
	Last    string    // day of the last of them; "" never
	Takes   int       // that are kept
	Heard   time.Time // arrival of the newest; zero none
	Summary *Summary  // of the newest that was heard
}

// Load is what a scope holds and what came into it.
type Load struct {
	Bytes    int64 // of all files kept
	Came     int64 // sent or announced since the time asked
	Arriving int   // takes that were announced and are not here
}

// Pulse is when something was last heard from a student, and last said to the student.
type Pulse struct {
	Student StudentID
	Family  FamilyID
	Heard   time.Time // arrival of the newest take; zero for none
	Told    time.Time // the last lesson was sent; zero for none
}

// TakesBy lists takes that v may see, the newest first.
func (d *Desk) TakesBy(ctx context.Context, v Viewer, q TakeQuery) ([]Take, error) {
	q.Limit = page(q.Limit)
	l, err := d.store.Takes(ctx, v.scope(), q)
	return l, problemOf(err)
}

// changesAtOnce is how many changes are told in one answer.
const changesAtOnce = 200

// Changes lists takes that changed after since, the oldest change first, and at most a few hundred:
// ask on from the last one's Changed. It works across processes. A change may become visible a moment
// after its own time, so whoever polls asks again for the last seconds and knows the ones it told.
func (d *Desk) Changes(ctx context.Context, v Viewer, since time.Time) ([]Take, error) {
	l, err := d.store.TakesChanged(ctx, v.scope(), since, changesAtOnce)
	return l, problemOf(err)
}

// Lessons lists a family's sent lessons, or for the teacher drafts too where they are asked for. Who shows one to a
// person says so with SeeLesson.
func (d *Desk) Lessons(ctx context.Context, v Viewer, q LessonQuery) ([]Lesson, error) {
	q.Drafts, q.Limit = q.Drafts && v.Role == Teacher, page(q.Limit)
	ls, err := d.store.Lessons(ctx, v.scope(), q)
	return ls, problemOf(err)
}

// Lesson is one lesson; a draft is the teacher's only.
func (d *Desk) Lesson(ctx context.Context, v Viewer, id LessonID) (Lesson, error) {
	l, err := d.store.Lesson(ctx, v.scope(), id)
	if err == nil && l.Sent.IsZero() && v.Role != Teacher && v.Role != Ear {
		err = ErrNotFound
	}
	if err != nil {
		return Lesson{}, problemOf(err)
	}
	return l, nil
}

// Course is what a student was asked and has sent, by work, in the order in which it was last asked.
func (d *Desk) Course(ctx context.Context, v Viewer, id StudentID) ([]CourseLine, error) {
	if _, err := d.store.Student(ctx, v.scope(), id); err != nil {
		return nil, problemOf(err)
	}
	l, err := d.store.Course(ctx, v.scope(), id)
	return l, problemOf(err)
}

// Pulse is when every student was last heard from and last told something.
func (d *Desk) Pulse(ctx context.Context, v Viewer) ([]Pulse, error) {
	if err := v.must(itsTheDesk, Teacher); err != nil {
		return nil, err
	}
	l, err := d.store.Pulse(ctx, v.Studio)
	return l, problemOf(err)
}
