package store

import (
	"context"

	"antiphon/internal/studio"
)

func (r records) PutAnswer(ctx context.Context, a studio.Answer) error {
	return change(ctx, r.write, studio.ErrNotFound, `
		INSERT INTO answers (lesson_id, assignment_id, studio_id, family_id, media_id, duration_s, captions, made_at) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
		ON CONFLICT (lesson_id, assignment_id) DO UPDATE
			SET media_id = excluded.media_id, duration_s = excluded.duration_s, captions = excluded.captions, made_at = excluded.made_at
			WHERE answers.studio_id = excluded.studio_id AND answers.family_id = excluded.family_id`,
		a.Lesson, a.Assignment, a.Studio, a.Family, a.Media, a.DurationS, a.Captions, micros(a.Made))
}

func (r records) Answers(ctx context.Context, in studio.Scope, l studio.LessonID) ([]studio.Answer, error) {
	p := of(pick(in), "lesson_id", l)
	return list(ctx, r.read, func(w row) (a studio.Answer, err error) {
		return a, w.Scan(&a.Lesson, &a.Assignment, &a.Studio, &a.Family, &a.Media, &a.Type, &a.DurationS, &a.Captions, stamp{&a.Made})
	}, `SELECT lesson_id, assignment_id, studio_id, family_id, media_id, COALESCE((SELECT m.type FROM media AS m WHERE m.id = answers.media_id), ''),
		duration_s, captions, made_at FROM answers WHERE `+p.String()+` ORDER BY lesson_id, made_at, assignment_id`+r.hold, p.args...)
}

func (r records) Reanswer(ctx context.Context, in studio.Scope, l studio.LessonID, from, to studio.MediaID) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE answers SET media_id = $5 WHERE `+where(in)+` AND lesson_id = $3 AND media_id = $4`,
		in.Studio(), in.Family(), l, from, to)
}

func (r records) RemoveAnswer(ctx context.Context, in studio.Scope, l studio.LessonID, a studio.AssignmentID) error {
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM answers WHERE `+where(in)+` AND lesson_id = $3 AND assignment_id = $4`,
		in.Studio(), in.Family(), l, a)
}

func (r records) RemoveFilm(ctx context.Context, in studio.Scope, l studio.LessonID) error {
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM films WHERE `+where(in)+` AND lesson_id = $3`, in.Studio(), in.Family(), l)
}

func (r records) PutFilm(ctx context.Context, f studio.Film) error {
	chapters, err := inJSON(f.Chapters)
	if err != nil {
		return err
	}
	return change(ctx, r.write, studio.ErrNotFound, `
		INSERT INTO films (lesson_id, studio_id, family_id, media_id, duration_s, chapters, state, why) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
		ON CONFLICT (lesson_id) DO UPDATE
			SET media_id = excluded.media_id, duration_s = excluded.duration_s, chapters = excluded.chapters, state = excluded.state, why = excluded.why
			WHERE films.studio_id = excluded.studio_id AND films.family_id = excluded.family_id`,
		f.Lesson, f.Studio, f.Family, f.Media, f.DurationS, chapters, f.State, f.Why)
}

const filmColumns = `lesson_id, studio_id, family_id, media_id, duration_s, chapters, state, why`

func scanFilm(w row) (f studio.Film, err error) {
	return f, w.Scan(&f.Lesson, &f.Studio, &f.Family, &f.Media, &f.DurationS, asJSON{&f.Chapters}, &f.State, &f.Why)
}

func (r records) Film(ctx context.Context, in studio.Scope, l studio.LessonID) (studio.Film, error) {
	return one(ctx, r.read, scanFilm, `SELECT `+filmColumns+` FROM films WHERE `+where(in)+` AND lesson_id = $3`, in.Studio(), in.Family(), l)
}

func (r records) Films(ctx context.Context, in studio.Scope) ([]studio.Film, error) {
	return list(ctx, r.read, scanFilm, `SELECT `+filmColumns+` FROM films WHERE `+where(in)+` ORDER BY lesson_id`, in.Studio(), in.Family())
}
