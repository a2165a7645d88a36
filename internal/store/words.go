package store

import (
	"context"
	"time"

	"antiphon/internal/studio"
)

func (r records) AddNudge(ctx context.Context, n studio.Nudge) error {
	return exec(ctx, r.write, `INSERT INTO nudges (id, studio_id, family_id, student_id, language, words, sent_at) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
		n.ID, n.Studio, n.Family, n.Student, n.Language, n.Text, micros(n.Sent))
}

func (r records) Nudges(ctx context.Context, in studio.Scope, s studio.StudentID) ([]studio.Nudge, error) {
	p := of(pick(in), "student_id", s)
	return list(ctx, r.read, func(w row) (n studio.Nudge, err error) {
		return n, w.Scan(&n.ID, &n.Studio, &n.Family, &n.Student, &n.Language, &n.Text, stamp{&n.Sent})
	}, `SELECT id, studio_id, family_id, student_id, language, words, sent_at FROM nudges WHERE `+p.String()+` ORDER BY sent_at, id`, p.args...)
}

func (r records) PutPhrase(ctx context.Context, p studio.Phrase) error {
	return change(ctx, r.write, studio.ErrNotFound, `
		INSERT INTO phrases (id, studio_id, words, used_at, to_id, times)
		VALUES ($1, $2, $3, $4, (SELECT s.id FROM students AS s WHERE s.studio_id = $2 AND s.id = $5), $6)
		ON CONFLICT (id) DO UPDATE SET words = excluded.words, used_at = excluded.used_at, to_id = excluded.to_id, times = excluded.times
			WHERE phrases.studio_id = excluded.studio_id`, p.ID, p.Studio, p.Text, micros(p.Used), p.To, p.Times)
}

func (r records) Phrases(ctx context.Context, s studio.StudioID) ([]studio.Phrase, error) {
	return list(ctx, r.read, func(w row) (p studio.Phrase, err error) {
		return p, w.Scan(&p.ID, &p.Studio, &p.Text, stamp{&p.Used}, &p.To, &p.Times)
	}, `SELECT id, studio_id, words, used_at, COALESCE(to_id, ''), times FROM phrases WHERE studio_id = $1 ORDER BY used_at DESC, words, id`, s)
}

func (r records) RemovePhrase(ctx context.Context, s studio.StudioID, id string) error {
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM phrases WHERE studio_id = $1 AND id = $2`, s, id)
}

const letterColumns = `id, studio_id, family_id, student_id, from_day, to_day, parts, version, saved_at, sent_at`

func scanLetter(w row) (l studio.Letter, err error) {
	return l, w.Scan(&l.ID, &l.Studio, &l.Family, &l.Student, &l.From, &l.To, asJSON{&l.Parts}, &l.Version, stamp{&l.Saved}, stamp{&l.Sent})
}

// PutLetter does as PutLesson does with versions.
func (r records) PutLetter(ctx context.Context, l studio.Letter) error {
	parts, err := inJSON(l.Parts)
	if err != nil {
		return err
	}
	if l.Version == 0 {
		return exec(ctx, r.write, `INSERT INTO letters (`+letterColumns+`) VALUES ($1, $2, $3, $4, $5, $6, $7, 1, $8, 0)`,
			l.ID, l.Studio, l.Family, l.Student, l.From, l.To, parts, micros(l.Saved))
	}
	return change(ctx, r.write, studio.ErrConflict, `UPDATE letters SET from_day = $6, to_day = $7, parts = $8, saved_at = $9, version = version + 1
		WHERE studio_id = $1 AND family_id = $2 AND student_id = $3 AND id = $4 AND version = $5 AND sent_at = 0`,
		l.Studio, l.Family, l.Student, l.ID, l.Version, l.From, l.To, parts, micros(l.Saved))
}

func (r records) Letter(ctx context.Context, in studio.Scope, id studio.LetterID) (studio.Letter, error) {
	return one(ctx, r.read, scanLetter, `SELECT `+letterColumns+` FROM letters WHERE `+where(in)+` AND id = $3`, in.Studio(), in.Family(), id)
}

func (r records) Letters(ctx context.Context, in studio.Scope, s studio.StudentID) ([]studio.Letter, error) {
	p := of(pick(in), "student_id", s)
	return list(ctx, r.read, scanLetter, `SELECT `+letterColumns+` FROM letters WHERE `+p.String()+` ORDER BY to_day DESC, saved_at DESC, id`, p.args...)
}

func (r records) SendLetter(ctx context.Context, in studio.Scope, id studio.LetterID, version int, now time.Time) error {
	if _, err := r.Letter(ctx, in, id); err != nil {
		return err
	}
	return change(ctx, r.write, studio.ErrConflict, `UPDATE letters SET sent_at = $5 WHERE `+where(in)+` AND id = $3 AND version = $4 AND sent_at = 0`,
		in.Studio(), in.Family(), id, version, micros(now))
}

func (r records) RemoveLetter(ctx context.Context, in studio.Scope, id studio.LetterID) error {
	r.somethingDeleted()
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM letters WHERE `+where(in)+` AND id = $3 AND sent_at = 0`, in.Studio(), in.Family(), id)
}
