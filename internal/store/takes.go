package store

import (
	"context"
	"strconv"
	"strings"
	"time"

	"antiphon/internal/studio"
)

const takeColumns = `id, studio_id, family_id, student_id, COALESCE(assignment_id, ''), by_id, state, why, announced_at, arrived_at, keep_until, answered_at`

func scanTake(w row) (t studio.Take, err error) {
	return t, w.Scan(&t.ID, &t.Studio, &t.Family, &t.Student, &t.Assignment, &t.By, &t.State, &t.Why,
		stamp{&t.Announced}, stamp{&t.Arrived}, stamp{&t.KeepUntil}, stamp{&t.Answered})
}

func (r records) AddTake(ctx context.Context, t studio.Take) error {
	return exec(ctx, r.write, `
		INSERT INTO takes (id, studio_id, family_id, student_id, assignment_id, by_id, state, why, announced_at, arrived_at, keep_until, answered_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`,
		t.ID, t.Studio, t.Family, t.Student, orNull(t.Assignment), t.By, t.State, t.Why,
		micros(t.Announced), micros(t.Arrived), micros(t.KeepUntil), micros(t.Answered))
}

func (r records) Take(ctx context.Context, in studio.Scope, id studio.TakeID) (studio.Take, error) {
	q := `SELECT ` + takeColumns + ` FROM takes WHERE ` + where(in) + ` AND id = $3`
	return one(ctx, r.read, scanTake, q, in.Studio(), in.Family(), id)
}

func (r records) Takes(ctx context.Context, in studio.Scope, s studio.StudentID) ([]studio.Take, error) {
	q := `SELECT ` + takeColumns + ` FROM takes WHERE ` + where(in) + ` AND ($3 = '' OR student_id = $3) ORDER BY announced_at, id`
	return list(ctx, r.read, scanTake, q, in.Studio(), in.Family(), s)
}

func (r records) TakesIn(ctx context.Context, in studio.Scope, state studio.TakeState) ([]studio.Take, error) {
	q := `SELECT ` + takeColumns + ` FROM takes WHERE ` + where(in) + ` AND state = $3 ORDER BY announced_at, id`
	return list(ctx, r.read, scanTake, q, in.Studio(), in.Family(), state)
}

func (r records) TakesUntil(ctx context.Context, s studio.StudioID, t time.Time) ([]studio.Take, error) {
	return list(ctx, r.read, scanTake, `SELECT `+takeColumns+` FROM takes WHERE studio_id = $1 AND keep_until <= $2 ORDER BY keep_until, id`, s, micros(t))
}

func (r records) MoveTake(ctx context.Context, t studio.Take, from ...studio.TakeState) error {
	args := []any{t.Studio, t.Family, t.ID, t.State, t.Why, micros(t.Arrived), micros(t.KeepUntil)}
	var in []string
	for _, f := range from {
		args = append(args, f)
		in = append(in, "$"+strconv.Itoa(len(args)))
	}
	return change(ctx, r.write, studio.ErrConflict, `
		UPDATE takes SET state = $4, why = $5, arrived_at = $6, keep_until = $7
		WHERE studio_id = $1 AND family_id = $2 AND id = $3 AND state IN (`+strings.Join(in, ", ")+`)`, args...)
}

func (r records) RemoveTake(ctx context.Context, in studio.Scope, id studio.TakeID) error {
	r.somethingDeleted()
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM takes WHERE `+where(in)+` AND id = $3`, in.Studio(), in.Family(), id)
}

func (r records) AddMedia(ctx context.Context, m studio.Media) error {
	return exec(ctx, r.write, `
		INSERT INTO media (id, studio_id, family_id, take_id, kind, type, bytes, sha256) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
		m.ID, m.Studio, m.Family, m.Take, m.Kind, m.Type, m.Bytes, m.SHA256)
}

const mediaColumns = `id, studio_id, family_id, take_id, kind, type, bytes, sha256`

func scanMedia(w row) (m studio.Media, err error) {
	return m, w.Scan(&m.ID, &m.Studio, &m.Family, &m.Take, &m.Kind, &m.Type, &m.Bytes, &m.SHA256)
}

func (r records) Media(ctx context.Context, in studio.Scope, take studio.TakeID) ([]studio.Media, error) {
	q := `SELECT ` + mediaColumns + ` FROM media WHERE ` + where(in) + ` AND ($3 = '' OR take_id = $3) ORDER BY take_id, kind`
	return list(ctx, r.read, scanMedia, q, in.Studio(), in.Family(), take)
}

func (r records) MediaByID(ctx context.Context, in studio.Scope, id studio.MediaID) (studio.Media, error) {
	q := `SELECT ` + mediaColumns + ` FROM media WHERE ` + where(in) + ` AND id = $3`
	return one(ctx, r.read, scanMedia, q, in.Studio(), in.Family(), id)
}

func (r records) SameBytes(ctx context.Context, in studio.Scope, sha256 string) (studio.Take, error) {
	q := `SELECT ` + takeColumns + ` FROM takes AS t WHERE ` + where(in) + ` AND arrived_at <> 0
		AND EXISTS (SELECT 1 FROM media AS m WHERE m.studio_id = t.studio_id AND m.family_id = t.family_id
			AND m.take_id = t.id AND m.kind = 'original' AND m.sha256 = $3)
		ORDER BY arrived_at, id LIMIT 1`
	return one(ctx, r.read, scanTake, q, in.Studio(), in.Family(), sha256)
}
