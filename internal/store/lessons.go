package store

import (
	"context"
	"encoding/json"
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
		goals, err := json.Marshal(a.Goals)
		if err != nil {
			return err
		}
		if err := exec(ctx, r.write, `
			INSERT INTO assignments (id, studio_id, family_id, lesson_id, place, work_id, from_bar, to_bar, goals, what_to_do)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`,
			a.ID, l.Studio, l.Family, l.ID, i, a.Work, a.FromBar, a.ToBar, string(goals), a.Do); err != nil {
			return err
		}
	}
	return nil
}

func (r records) SendLesson(ctx context.Context, in studio.Scope, id studio.LessonID, version int, now time.Time) error {
	if _, err := r.Lesson(ctx, in, id); err != nil {
		return err
	}
	q := `UPDATE lessons SET sent_at = $5 WHERE ` + where(in) + ` AND id = $3 AND version = $4 AND sent_at = 0`
	return change(ctx, r.write, studio.ErrConflict, q, in.Studio(), in.Family(), id, version, micros(now))
}

const lessonColumns = `id, studio_id, family_id, student_id, day, words, version, saved_at, sent_at`

func scanLesson(w row) (l studio.Lesson, err error) {
	return l, w.Scan(&l.ID, &l.Studio, &l.Family, &l.Student, &l.Date, &l.Words, &l.Version, stamp{&l.Saved}, stamp{&l.Sent})
}

func (r records) Lesson(ctx context.Context, in studio.Scope, id studio.LessonID) (studio.Lesson, error) {
	q := `SELECT ` + lessonColumns + ` FROM lessons WHERE ` + where(in) + ` AND id = $3`
	l, err := one(ctx, r.read, scanLesson, q, in.Studio(), in.Family(), id)
	if err != nil {
		return studio.Lesson{}, err
	}
	asked, err := r.assignments(ctx, in, id)
	l.Assignments = asked[id]
	return l, err
}

func (r records) Lessons(ctx context.Context, in studio.Scope, drafts bool) ([]studio.Lesson, error) {
	q := `SELECT ` + lessonColumns + ` FROM lessons WHERE ` + where(in)
	if !drafts {
		q += ` AND sent_at <> 0`
	}
	ls, err := list(ctx, r.read, scanLesson, q+` ORDER BY day, id`, in.Studio(), in.Family())
	if err != nil {
		return nil, err
	}
	asked, err := r.assignments(ctx, in, "")
	for i := range ls {
		ls[i].Assignments = asked[ls[i].ID]
	}
	return ls, err
}

// assignments of one lesson, or of all with "", in their order.
func (r records) assignments(ctx context.Context, in studio.Scope, of studio.LessonID) (map[studio.LessonID][]studio.Assignment, error) {
	type line struct {
		lesson studio.LessonID
		a      studio.Assignment
	}
	q := `SELECT lesson_id, id, work_id, from_bar, to_bar, goals, what_to_do FROM assignments
		WHERE ` + where(in) + ` AND ($3 = '' OR lesson_id = $3) ORDER BY lesson_id, place`
	lines, err := list(ctx, r.read, func(w row) (l line, err error) {
		return l, w.Scan(&l.lesson, &l.a.ID, &l.a.Work, &l.a.FromBar, &l.a.ToBar, asJSON{&l.a.Goals}, &l.a.Do)
	}, q, in.Studio(), in.Family(), of)
	by := map[studio.LessonID][]studio.Assignment{}
	for _, l := range lines {
		by[l.lesson] = append(by[l.lesson], l.a)
	}
	return by, err
}

func (r records) StudentAsked(ctx context.Context, in studio.Scope, s studio.StudentID, a studio.AssignmentID) (bool, error) {
	q := `SELECT count(*) FROM lessons AS l WHERE ` + where(in) + ` AND student_id = $3 AND sent_at <> 0
		AND EXISTS (SELECT 1 FROM assignments AS a WHERE a.id = $4 AND a.studio_id = l.studio_id AND a.family_id = l.family_id AND a.lesson_id = l.id)`
	n, err := one(ctx, r.read, func(w row) (n int, err error) { return n, w.Scan(&n) }, q, in.Studio(), in.Family(), s, a)
	return n > 0, err
}
