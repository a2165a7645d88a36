package store

import (
	"context"
	"time"

	"antiphon/internal/studio"
)

func (r records) AddMedia(ctx context.Context, m studio.Media) error {
	return exec(ctx, r.write, `
		INSERT INTO media (id, studio_id, family_id, student_id, take_id, lesson_id, kind, what, type, bytes, sha256, clean, sent_sha256, made_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)`,
		m.ID, m.Studio, m.Family, m.Student, orNull(m.Take), orNull(m.Lesson), m.Kind, m.What, m.Type, m.Bytes, m.SHA256, bit(m.Clean), m.SentSHA256, micros(m.Made))
}

const mediaColumns = `id, studio_id, family_id, student_id, COALESCE(take_id, ''), COALESCE(lesson_id, ''), kind, what, type, bytes, sha256, clean, sent_sha256, made_at`

func scanMedia(w row) (m studio.Media, err error) {
	return m, w.Scan(&m.ID, &m.Studio, &m.Family, &m.Student, &m.Take, &m.Lesson, &m.Kind, &m.What, &m.Type, &m.Bytes, &m.SHA256, asBool{&m.Clean}, &m.SentSHA256, stamp{&m.Made})
}

func (r records) Media(ctx context.Context, in studio.Scope, take studio.TakeID) ([]studio.Media, error) {
	p := of(pick(in), "take_id", take)
	return list(ctx, r.read, scanMedia, `SELECT `+mediaColumns+` FROM media WHERE `+p.String()+` ORDER BY take_id, kind, id`, p.args...)
}

func (r records) MediaOfLesson(ctx context.Context, in studio.Scope, l studio.LessonID) ([]studio.Media, error) {
	return list(ctx, r.read, scanMedia, `SELECT `+mediaColumns+` FROM media WHERE `+where(in)+` AND lesson_id = $3 ORDER BY kind, what, id`, in.Studio(), in.Family(), l)
}

func (r records) LessonFilesUntil(ctx context.Context, s studio.StudioID, made time.Time) ([]studio.Media, error) {
	return list(ctx, r.read, scanMedia, `SELECT `+mediaColumns+` FROM media WHERE studio_id = $1 AND lesson_id IS NOT NULL AND made_at <= $2 ORDER BY made_at, id`, s, micros(made))
}

func (r records) Unclean(ctx context.Context, s studio.StudioID) ([]studio.Media, error) {
	return list(ctx, r.read, scanMedia, `SELECT `+mediaColumns+` FROM media WHERE studio_id = $1 AND clean = 0 AND kind IN ('remark', 'answer', 'voice', 'recording') ORDER BY made_at, id`, s)
}

func (r records) MediaByID(ctx context.Context, in studio.Scope, id studio.MediaID) (studio.Media, error) {
	q := `SELECT ` + mediaColumns + ` FROM media WHERE ` + where(in) + ` AND id = $3`
	return one(ctx, r.read, scanMedia, q, in.Studio(), in.Family(), id)
}

// RemoveMedia leaves the journal alone: it holds ids and no name, until the family is erased.
func (r records) RemoveMedia(ctx context.Context, in studio.Scope, id studio.MediaID) error {
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM media WHERE `+where(in)+` AND id = $3`, in.Studio(), in.Family(), id)
}

func (r records) SameBytes(ctx context.Context, in studio.Scope, sha256 string) (studio.Take, error) {
	q := `SELECT ` + takeColumns + ` FROM takes WHERE ` + where(in) + ` AND arrived_at <> 0
		AND id IN (SELECT take_id FROM media WHERE ` + where(in) + ` AND kind = 'original' AND sent_sha256 = $3)
		ORDER BY arrived_at, id LIMIT 1`
	return one(ctx, r.read, scanTake, q, in.Studio(), in.Family(), sha256)
}
