package store

import (
	"context"
	"time"

	"antiphon/internal/studio"
)

const tapColumns = `id, studio_id, family_id, student_id, assignment_id, by_id, kind, at, came_at, clean, bpm, seconds, words, media_id, is_right, answered_at, keep_until`

func scanTap(w row) (t studio.Tap, err error) {
	return t, w.Scan(&t.ID, &t.Studio, &t.Family, &t.Student, &t.Assignment, &t.By, &t.Kind, stamp{&t.At}, stamp{&t.Came}, asBool{&t.Clean}, &t.Bpm, &t.Seconds,
		&t.Text, &t.Media, asBool{&t.Right}, stamp{&t.Answered}, stamp{&t.KeepUntil})
}

func (r records) AddTap(ctx context.Context, t studio.Tap) (bool, error) {
	res, err := r.write.ExecContext(ctx, `INSERT INTO taps (`+tapColumns+`)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17) ON CONFLICT DO NOTHING`,
		t.ID, t.Studio, t.Family, t.Student, t.Assignment, t.By, t.Kind, micros(t.At), micros(t.Came), bit(t.Clean), t.Bpm, t.Seconds,
		t.Text, t.Media, bit(t.Right), micros(t.Answered), micros(t.KeepUntil))
	if err != nil {
		return false, said(err)
	}
	n, err := res.RowsAffected()
	return n > 0, err
}

func (r records) Tap(ctx context.Context, in studio.Scope, s studio.StudentID, id string) (studio.Tap, error) {
	return one(ctx, r.read, scanTap, `SELECT `+tapColumns+` FROM taps WHERE `+where(in)+` AND student_id = $3 AND id = $4`, in.Studio(), in.Family(), s, id)
}

func (r records) Taps(ctx context.Context, in studio.Scope, q studio.TapQuery) ([]studio.Tap, error) {
	p := of(of(pick(in), "student_id", q.Student), "assignment_id", q.Assignment)
	if !q.Since.IsZero() {
		p.and("at >= ?", micros(q.Since))
	}
	if q.Told {
		p.and("kind NOT IN ('try', 'rung')")
	}
	return list(ctx, r.read, scanTap, `SELECT `+tapColumns+` FROM taps WHERE `+p.String()+` ORDER BY at DESC, id DESC`+limit(q.Limit), p.args...)
}

func (r records) TapsCame(ctx context.Context, in studio.Scope, since time.Time) (int, error) {
	return one(ctx, r.read, func(w row) (n int, err error) { return n, w.Scan(&n) },
		`SELECT count(*) FROM taps WHERE `+where(in)+` AND came_at > $3`, in.Studio(), in.Family(), micros(since))
}

// openTaps wait for the teacher; an index holds only these.
const openTaps = `answered_at = 0 AND kind IN ('hurt', 'question', 'voice')`

func (r records) OpenTaps(ctx context.Context, in studio.Scope, s studio.StudentID) ([]studio.Tap, error) {
	p := of(pick(in), "student_id", s).and(openTaps)
	return list(ctx, r.read, scanTap, `SELECT `+tapColumns+` FROM taps WHERE `+p.String()+` ORDER BY at, id`, p.args...)
}

// TapsOfWeek asks two indexes once for every student.
func (r records) TapsOfWeek(ctx context.Context, in studio.Scope, s studio.StudentID) ([]studio.Tap, error) {
	p := of(pick(in), "id", s)
	return list(ctx, r.read, scanTap, `
		SELECT t.id, t.studio_id, t.family_id, t.student_id, t.assignment_id, t.by_id, t.kind, t.at, t.came_at, t.clean, t.bpm, t.seconds,
			t.words, t.media_id, t.is_right, t.answered_at, t.keep_until
		FROM (SELECT id, studio_id FROM students WHERE `+p.String()+`) AS s
		CROSS JOIN taps AS t -- in this order: a student has few of them
		WHERE t.studio_id = s.studio_id AND t.student_id = s.id
			AND t.at >= (SELECT max(l.sent_at) FROM lessons AS l WHERE l.studio_id = s.studio_id AND l.student_id = s.id AND l.sent_at <> 0)
		ORDER BY t.student_id, t.at, t.id`, p.args...)
}

func (r records) AnswerTap(ctx context.Context, in studio.Scope, s studio.StudentID, id string, now time.Time) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE taps SET answered_at = $5 WHERE `+where(in)+` AND student_id = $3 AND id = $4`,
		in.Studio(), in.Family(), s, id, micros(now))
}

func (r records) AnswerTaps(ctx context.Context, in studio.Scope, s studio.StudentID, until, now time.Time) error {
	return exec(ctx, r.write, `UPDATE taps SET answered_at = $5 WHERE `+where(in)+` AND student_id = $3 AND came_at <= $4 AND `+openTaps,
		in.Studio(), in.Family(), s, micros(until), micros(now))
}

func (r records) ResayTap(ctx context.Context, in studio.Scope, from, to studio.MediaID) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE taps SET media_id = $4 WHERE `+where(in)+` AND media_id = $3 AND media_id <> ''`,
		in.Studio(), in.Family(), from, to)
}

func (r records) TapsUntil(ctx context.Context, s studio.StudioID, t time.Time) ([]studio.Tap, error) {
	return list(ctx, r.read, scanTap, `SELECT `+tapColumns+` FROM taps WHERE studio_id = $1 AND keep_until <= $2 ORDER BY keep_until, id`, s, micros(t))
}

func (r records) RemoveTap(ctx context.Context, in studio.Scope, s studio.StudentID, id string) error {
	r.somethingDeleted()
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM taps WHERE `+where(in)+` AND student_id = $3 AND id = $4`, in.Studio(), in.Family(), s, id)
}
