package store

import (
	"context"

	"antiphon/internal/studio"
)

func (r records) AddHearing(ctx context.Context, h studio.Hearing) error {
	return exec(ctx, r.write, `
		INSERT INTO hearings (id, studio_id, family_id, take_id, version, json, heard_at) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
		h.ID, h.Studio, h.Family, h.Take, h.Schema, string(h.JSON), micros(h.Heard))
}

const hearingColumns = `id, studio_id, family_id, take_id, version, json, heard_at`

func scanHearing(w row) (h studio.Hearing, err error) {
	return h, w.Scan(&h.ID, &h.Studio, &h.Family, &h.Take, &h.Schema, asJSON{&h.JSON}, stamp{&h.Heard})
}

func (r records) Hearings(ctx context.Context, in studio.Scope, take studio.TakeID) ([]studio.Hearing, error) {
	p := of(pick(in), "take_id", take)
	return list(ctx, r.read, scanHearing, `SELECT `+hearingColumns+` FROM hearings WHERE `+p.String()+` ORDER BY heard_at, id`, p.args...)
}

func (r records) NewestHearing(ctx context.Context, in studio.Scope, take studio.TakeID) (studio.Hearing, error) {
	q := `SELECT ` + hearingColumns + ` FROM hearings WHERE ` + where(in) + ` AND take_id = $3 ORDER BY heard_at DESC, id DESC LIMIT 1`
	return one(ctx, r.read, scanHearing, q, in.Studio(), in.Family(), take)
}

func (r records) AddCorrection(ctx context.Context, c studio.Correction) error {
	return exec(ctx, r.write, `
		INSERT INTO corrections (id, studio_id, family_id, take_id, hearing_id, by_id, kind, what, made_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		c.ID, c.Studio, c.Family, c.Take, c.Hearing, c.By, c.Kind, string(c.What), micros(c.Made))
}

func (r records) Corrections(ctx context.Context, in studio.Scope, take studio.TakeID) ([]studio.Correction, error) {
	p := of(pick(in), "take_id", take)
	return list(ctx, r.read, func(w row) (c studio.Correction, err error) {
		return c, w.Scan(&c.ID, &c.Studio, &c.Family, &c.Take, &c.Hearing, &c.By, &c.Kind, asJSON{&c.What}, stamp{&c.Made})
	}, `SELECT id, studio_id, family_id, take_id, hearing_id, by_id, kind, what, made_at FROM corrections WHERE `+p.String()+` ORDER BY made_at, id`, p.args...)
}

func (r records) RemoveCorrection(ctx context.Context, in studio.Scope, id studio.CorrectionID) error {
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM corrections WHERE `+where(in)+` AND id = $3`, in.Studio(), in.Family(), id)
}

func (r records) AddRemark(ctx context.Context, m studio.Remark) error {
	anchor, err := inJSON(m.Anchor)
	if err != nil {
		return err
	}
	return exec(ctx, r.write, `
		INSERT INTO remarks (id, studio_id, family_id, student_id, take_id, by_id, anchor, words, remedy, media_id, made_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
		m.ID, m.Studio, m.Family, m.Student, m.Take, m.By, anchor, m.Text, m.Remedy, m.Media, micros(m.Made))
}

const remarkColumns = `id, studio_id, family_id, student_id, take_id, by_id, anchor, words, remedy, media_id, made_at`

func scanRemark(w row) (m studio.Remark, err error) {
	return m, w.Scan(&m.ID, &m.Studio, &m.Family, &m.Student, &m.Take, &m.By, asJSON{&m.Anchor}, &m.Text, &m.Remedy, &m.Media, stamp{&m.Made})
}

func (r records) Remarks(ctx context.Context, in studio.Scope, take studio.TakeID) ([]studio.Remark, error) {
	p := of(pick(in), "take_id", take)
	return list(ctx, r.read, scanRemark, `SELECT `+remarkColumns+` FROM remarks WHERE `+p.String()+` ORDER BY made_at, id`, p.args...)
}

func (r records) RemarksTo(ctx context.Context, in studio.Scope, s studio.StudentID, most int) ([]studio.Remark, error) {
	p := pick(in).and("student_id = ?", s)
	return list(ctx, r.read, scanRemark, `SELECT `+remarkColumns+` FROM remarks WHERE `+p.String()+` ORDER BY made_at DESC, id DESC`+limit(most), p.args...)
}

func (r records) Remark(ctx context.Context, in studio.Scope, id studio.RemarkID) (studio.Remark, error) {
	q := `SELECT ` + remarkColumns + ` FROM remarks WHERE ` + where(in) + ` AND id = $3` + r.hold
	return one(ctx, r.read, scanRemark, q, in.Studio(), in.Family(), id)
}

func (r records) PutRemark(ctx context.Context, m studio.Remark) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE remarks SET words = $4 WHERE studio_id = $1 AND family_id = $2 AND id = $3`, m.Studio, m.Family, m.ID, m.Text)
}

func (r records) Respeak(ctx context.Context, in studio.Scope, take studio.TakeID, from, to studio.MediaID) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE remarks SET media_id = $5 WHERE `+where(in)+` AND take_id = $3 AND media_id = $4 AND media_id <> ''`,
		in.Studio(), in.Family(), take, from, to)
}

func (r records) RemoveRemark(ctx context.Context, in studio.Scope, id studio.RemarkID) error {
	r.somethingDeleted()
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM remarks WHERE `+where(in)+` AND id = $3`, in.Studio(), in.Family(), id)
}

// Said looks up, for each remark, the first lesson that was sent after it, and counts those sent since.
func (r records) Said(ctx context.Context, in studio.Scope, s studio.StudentID, remedy string) ([]studio.Said, error) {
	p := pick(in).and("student_id = ? AND remedy = ? AND remedy <> ''", s, remedy)
	return list(ctx, r.read, func(w row) (s studio.Said, err error) {
		return s, w.Scan(&s.Take, &s.Text, stamp{&s.Made}, &s.Lesson, &s.Ago)
	}, `
		SELECT take_id, words, made_at,
			COALESCE((SELECT l.day FROM lessons AS l WHERE l.studio_id = remarks.studio_id AND l.student_id = remarks.student_id
				AND l.sent_at >= remarks.made_at AND l.sent_at <> 0 ORDER BY l.sent_at LIMIT 1), ''),
			(SELECT count(*) FROM lessons AS l WHERE l.studio_id = remarks.studio_id AND l.student_id = remarks.student_id
				AND l.sent_at >= remarks.made_at AND l.sent_at <> 0)
		FROM remarks WHERE `+p.String()+` ORDER BY made_at DESC, id DESC`, p.args...)
}
