package store

import (
	"context"
	"errors"
	"math"
	"strings"
	"time"

	"antiphon/internal/studio"
)

func (r records) PutLesson(ctx context.Context, l studio.Lesson) error {
	var err error
	if l.Version == 0 {
		err = exec(ctx, r.write, `
			INSERT INTO lessons (id, studio_id, family_id, student_id, day, words, version, saved_at, sent_at)
			VALUES ($1, $2, $3, $4, $5, $6, 1, $7, 0)`,
			l.ID, l.Studio, l.Family, l.Student, l.Date, l.Words, micros(l.Saved))
	} else {
		err = change(ctx, r.write, studio.ErrConflict, `
			UPDATE lessons SET day = $6, words = $7, saved_at = $8, version = version + 1
			WHERE studio_id = $1 AND family_id = $2 AND student_id = $3 AND id = $4 AND version = $5 AND sent_at = 0`,
			l.Studio, l.Family, l.Student, l.ID, l.Version, l.Date, l.Words, micros(l.Saved))
	}
	if err != nil {
		return err
	}
	// A take is only ever for an assignment of a sent lesson, so a draft's may be written anew.
	if err := exec(ctx, r.write, `DELETE FROM assignments WHERE studio_id = $1 AND family_id = $2 AND lesson_id = $3`,
		l.Studio, l.Family, l.ID); err != nil {
		return err
	}
	for i, a := range l.Assignments {
		goals, err := inJSON(a.Goals)
		if err != nil {
			return err
		}
		more, err := inJSON(moreOf(a))
		if err != nil {
			return err
		}
		work := a.Work
		if work == "" {
			work = noWork(l.Studio)
		}
		if err := exec(ctx, r.write, `
			INSERT INTO assignments (id, studio_id, family_id, lesson_id, place, ask, work_id, from_bar, to_bar, goals, what_to_do, model_id, more)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)`,
			a.ID, l.Studio, l.Family, l.ID, i, a.Ask, work, a.FromBar, a.ToBar, goals, a.Do, a.Model, more); err != nil {
			return err
		}
	}
	return nil
}

func (r records) RemoveDraft(ctx context.Context, in studio.Scope, id studio.LessonID) error {
	if _, err := r.Lesson(ctx, in, id); err != nil {
		return err
	}
	return change(ctx, r.write, studio.ErrConflict, `DELETE FROM lessons WHERE `+where(in)+` AND id = $3 AND sent_at = 0`, in.Studio(), in.Family(), id)
}

func (r records) SendLesson(ctx context.Context, in studio.Scope, id studio.LessonID, version int, now time.Time) error {
	if _, err := r.Lesson(ctx, in, id); err != nil {
		return err
	}
	q := `UPDATE lessons SET sent_at = $5, send_at = 0, missed_at = 0 WHERE ` + where(in) + ` AND id = $3 AND version = $4 AND sent_at = 0`
	return change(ctx, r.write, studio.ErrConflict, q, in.Studio(), in.Family(), id, version, micros(now))
}

func (r records) SetSending(ctx context.Context, in studio.Scope, id studio.LessonID, version int, at, now time.Time) error {
	if _, err := r.Lesson(ctx, in, id); err != nil {
		return err
	}
	q := `UPDATE lessons SET send_at = $5, missed_at = 0, saved_at = $6 WHERE ` + where(in) + ` AND id = $3 AND version = $4 AND sent_at = 0`
	return change(ctx, r.write, studio.ErrConflict, q, in.Studio(), in.Family(), id, version, micros(at), micros(now))
}

func (r records) MissHour(ctx context.Context, in studio.Scope, id studio.LessonID) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE lessons SET missed_at = send_at, send_at = 0 WHERE `+where(in)+` AND id = $3 AND sent_at = 0`,
		in.Studio(), in.Family(), id)
}

func (r records) DueLessons(ctx context.Context, s studio.StudioID, now time.Time) ([]studio.Lesson, error) {
	ls, err := list(ctx, r.read, scanLesson, `SELECT `+lessonColumns+` FROM lessons
		WHERE studio_id = $1 AND sent_at = 0 AND send_at <> 0 AND send_at <= $2 ORDER BY send_at, id`, s, micros(now))
	if err != nil {
		return nil, err
	}
	return ls, r.withAssignments(ctx, studio.WholeStudio(s), ls)
}

func (r records) UnsendLesson(ctx context.Context, in studio.Scope, id studio.LessonID, s studio.StudentID, sent time.Time) error {
	if _, err := r.Lesson(ctx, in, id); err != nil {
		return err
	}
	if err := change(ctx, r.write, studio.ErrConflict, `UPDATE lessons SET sent_at = 0, opened_at = 0, version = version + 1
		WHERE `+where(in)+` AND id = $3 AND student_id = $4 AND sent_at = $5 AND sent_at <> 0`, in.Studio(), in.Family(), id, s, micros(sent)); err != nil {
		return err
	}
	for _, q := range []string{`UPDATE takes SET answered_at = 0, changed_at = changed_at + 1 WHERE `, `UPDATE taps SET answered_at = 0 WHERE `} {
		if err := exec(ctx, r.write, q+where(in)+` AND student_id = $3 AND answered_at = $4`, in.Studio(), in.Family(), s, micros(sent)); err != nil {
			return err
		}
	}
	return nil
}

func (r records) SeeLesson(ctx context.Context, in studio.Scope, id studio.LessonID, now time.Time) error {
	if _, err := r.Lesson(ctx, in, id); err != nil {
		return err
	}
	return exec(ctx, r.write, `UPDATE lessons SET opened_at = $4 WHERE `+where(in)+` AND id = $3 AND sent_at <> 0 AND opened_at = 0`, in.Studio(), in.Family(), id, micros(now))
}

const lessonColumns = `id, studio_id, family_id, student_id, day, words, version, saved_at, send_at, missed_at, sent_at, opened_at`

func scanLesson(w row) (l studio.Lesson, err error) {
	return l, w.Scan(&l.ID, &l.Studio, &l.Family, &l.Student, &l.Date, &l.Words, &l.Version, stamp{&l.Saved}, stamp{&l.SendAt}, stamp{&l.Missed}, stamp{&l.Sent}, stamp{&l.Opened})
}

func (r records) Lesson(ctx context.Context, in studio.Scope, id studio.LessonID) (studio.Lesson, error) {
	q := `SELECT ` + lessonColumns + ` FROM lessons WHERE ` + where(in) + ` AND id = $3`
	l, err := one(ctx, r.read, scanLesson, q, in.Studio(), in.Family(), id)
	if err != nil {
		return studio.Lesson{}, err
	}
	ls := []studio.Lesson{l}
	err = r.assignments(ctx, in, ls)
	return ls[0], err
}

// lessonSent puts the lessons of one day into order: as they were sent, and what was not sent yet after all of them.
const (
	lessonSent = `CASE sent_at WHEN 0 THEN 9223372036854775807 ELSE sent_at END`
	neverSent  = math.MaxInt64
)

func sentOrNever(l studio.Lesson) int64 {
	if l.Sent.IsZero() {
		return neverSent
	}
	return micros(l.Sent)
}

func (r records) Lessons(ctx context.Context, in studio.Scope, q studio.LessonQuery) ([]studio.Lesson, error) {
	p := pick(in)
	of(p, "student_id", q.Student)
	if !q.Drafts {
		p.and("sent_at <> 0")
	}
	switch b := q.Before; {
	case b.ID != "":
		p.and("(day, "+lessonSent+", id) < (?, ?, ?)", b.Date, sentOrNever(b), b.ID)
	case b.Date != "":
		p.and("day < ?", b.Date)
	}
	ls, err := list(ctx, r.read, scanLesson, `SELECT `+lessonColumns+` FROM lessons WHERE `+p.String()+` ORDER BY day DESC, `+lessonSent+` DESC, id DESC`+limit(q.Limit), p.args...)
	if err != nil {
		return nil, err
	}
	return ls, r.withAssignments(ctx, in, ls)
}

func (r records) withAssignments(ctx context.Context, in studio.Scope, ls []studio.Lesson) error {
	const atOnce = 500 // parameters of one question
	for rest := ls; len(rest) > 0; rest = rest[min(atOnce, len(rest)):] {
		if err := r.assignments(ctx, in, rest[:min(atOnce, len(rest))]); err != nil {
			return err
		}
	}
	return nil
}

const assignmentColumns = `lesson_id, id, ask, CASE WHEN work_id = studio_id THEN '' ELSE work_id END, from_bar, to_bar, goals, what_to_do, model_id, more`

type assignmentLine struct {
	lesson studio.LessonID
	a      studio.Assignment
}

func scanAssignment(w row) (l assignmentLine, err error) {
	var m more
	err = w.Scan(&l.lesson, &l.a.ID, &l.a.Ask, &l.a.Work, &l.a.FromBar, &l.a.ToBar, asJSON{&l.a.Goals}, &l.a.Do, &l.a.Model, asJSON{&m})
	m.into(&l.a)
	return l, err
}

// assignments puts into each lesson what was asked in it.
func (r records) assignments(ctx context.Context, in studio.Scope, ls []studio.Lesson) error {
	p := pick(in)
	at := map[studio.LessonID]*studio.Lesson{}
	var ids []any
	for i := range ls {
		at[ls[i].ID] = &ls[i]
		ids = append(ids, ls[i].ID)
	}
	p.and("lesson_id IN ("+strings.TrimSuffix(strings.Repeat("?, ", len(ids)), ", ")+")", ids...)
	lines, err := list(ctx, r.read, scanAssignment, `SELECT `+assignmentColumns+` FROM assignments WHERE `+p.String()+` ORDER BY lesson_id, place`, p.args...)
	if err != nil {
		return err
	}
	for _, l := range lines {
		at[l.lesson].Assignments = append(at[l.lesson].Assignments, l.a)
	}
	return r.heardIn(ctx, p, at)
}

func (r records) Assigned(ctx context.Context, in studio.Scope, s studio.StudentID, a studio.AssignmentID) (studio.Assignment, studio.Lesson, error) {
	line, err := one(ctx, r.read, scanAssignment, `SELECT `+assignmentColumns+` FROM assignments WHERE `+where(in)+` AND id = $3`, in.Studio(), in.Family(), a)
	if err != nil {
		return studio.Assignment{}, studio.Lesson{}, err
	}
	l, err := one(ctx, r.read, scanLesson, `SELECT `+lessonColumns+` FROM lessons WHERE `+where(in)+` AND id = $3 AND student_id = $4 AND sent_at <> 0`,
		in.Studio(), in.Family(), line.lesson, s)
	if err != nil {
		return studio.Assignment{}, studio.Lesson{}, err
	}
	l.Assignments = []studio.Assignment{line.a}
	err = r.heardIn(ctx, pick(in).and("lesson_id = ?", l.ID), map[studio.LessonID]*studio.Lesson{l.ID: &l})
	line.a, l.Assignments = l.Assignments[0], nil
	return line.a, l, err
}

func (r records) ModelAsked(ctx context.Context, in studio.Scope, t studio.TakeID) (bool, error) {
	q := `SELECT id FROM lessons WHERE ` + where(in) + ` AND sent_at <> 0
		AND id IN (SELECT a.lesson_id FROM assignments AS a WHERE a.studio_id = $1 AND a.model_id = $3 AND a.model_id <> '') LIMIT 1`
	_, err := one(ctx, r.read, func(w row) (id string, err error) { return id, w.Scan(&id) }, q, in.Studio(), in.Family(), t)
	if errors.Is(err, studio.ErrNotFound) {
		return false, nil
	}
	return err == nil, err
}

// LastLessons asks an index once for every student.
func (r records) LastLessons(ctx context.Context, in studio.Scope, s studio.StudentID) ([]studio.Lesson, error) {
	p := of(pick(in), "id", s)
	ls, err := list(ctx, r.read, scanLesson, `
		SELECT `+lessonColumns+` FROM lessons WHERE id IN (
			SELECT (SELECT l.id FROM lessons AS l WHERE l.studio_id = s.studio_id AND l.student_id = s.id AND l.sent_at <> 0
				ORDER BY l.sent_at DESC, l.id DESC LIMIT 1)
			FROM (SELECT id, studio_id FROM students WHERE `+p.String()+`) AS s
		) ORDER BY student_id`, p.args...)
	if err != nil {
		return nil, err
	}
	return ls, r.withAssignments(ctx, in, ls)
}

func (r records) WorkAsked(ctx context.Context, in studio.Scope, w studio.WorkID) (bool, error) {
	q := `SELECT id FROM lessons WHERE ` + where(in) + ` AND sent_at <> 0
		AND id IN (SELECT a.lesson_id FROM assignments AS a WHERE a.studio_id = $1 AND a.work_id = $3) LIMIT 1`
	_, err := one(ctx, r.read, func(w row) (id string, err error) { return id, w.Scan(&id) }, q, in.Studio(), in.Family(), w)
	if errors.Is(err, studio.ErrNotFound) {
		return false, nil
	}
	return err == nil, err
}

// Course puts together what was asked and what came, by work.
func (r records) Course(ctx context.Context, in studio.Scope, s studio.StudentID) ([]studio.CourseLine, error) {
	at := map[studio.WorkID]int{}
	var all []studio.CourseLine
	line := func(w studio.WorkID) *studio.CourseLine {
		i, known := at[w]
		if !known {
			i = len(all)
			at[w] = i
			all = append(all, studio.CourseLine{Work: w})
		}
		return &all[i]
	}
	asked, err := list(ctx, r.read, func(w row) (l studio.CourseLine, err error) {
		return l, w.Scan(&l.Work, &l.Asked, &l.Last)
	}, `
		SELECT a.work_id, count(DISTINCT a.lesson_id), max(l.day)
		FROM (SELECT id, day FROM lessons WHERE `+where(in)+` AND student_id = $3 AND sent_at <> 0) AS l
		JOIN assignments AS a ON a.lesson_id = l.id
		WHERE a.work_id <> a.studio_id
		GROUP BY a.work_id ORDER BY max(l.day), a.work_id`, in.Studio(), in.Family(), s)
	if err != nil {
		return nil, err
	}
	for _, l := range asked {
		*line(l.Work) = l
	}
	// Of each work the newest take that was heard, and how many there are.
	came, err := list(ctx, r.read, func(w row) (l studio.CourseLine, err error) {
		return l, w.Scan(&l.Work, &l.Takes, stamp{&l.Heard}, asJSON{&l.Summary})
	}, `
		SELECT work_id, takes, heard, summary FROM (
			SELECT work_id, summary, announced_at, count(*) OVER (PARTITION BY work_id) AS takes, max(arrived_at) OVER (PARTITION BY work_id) AS heard,
				row_number() OVER (PARTITION BY work_id ORDER BY CASE WHEN summary = 'null' THEN 1 ELSE 0 END, announced_at DESC, id DESC) AS place
			FROM takes WHERE `+where(in)+` AND student_id = $3 AND work_id IS NOT NULL AND arrived_at <> 0
		) AS newest WHERE place = 1 ORDER BY heard, work_id`, in.Studio(), in.Family(), s)
	for _, c := range came {
		l := line(c.Work)
		l.Takes, l.Heard, l.Summary = c.Takes, c.Heard, c.Summary
	}
	return all, err
}
