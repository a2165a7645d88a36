package store

import (
	"context"

	"antiphon/internal/studio"
)

const fingeringColumns = `id, studio_id, family_id, student_id, work_id, score, asked, why, lesson_id, kept_at, held_at, ended_at, fits`

func scanFingering(w row) (f studio.OwnFingering, err error) {
	return f, w.Scan(&f.ID, &f.Studio, &f.Family, &f.Student, &f.Work, &f.Score, &f.Asked, &f.Why, &f.Lesson, stamp{&f.Kept}, stamp{&f.Held}, stamp{&f.Ended}, asBool{&f.Fits})
}

func (r records) AddFingering(ctx context.Context, f studio.OwnFingering) error {
	return exec(ctx, r.write, `INSERT INTO own_fingerings (`+fingeringColumns+`) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)`,
		f.ID, f.Studio, f.Family, f.Student, f.Work, f.Score, f.Asked, f.Why, f.Lesson, micros(f.Kept), micros(f.Held), micros(f.Ended), bit(f.Fits))
}

func (r records) PutFingering(ctx context.Context, f studio.OwnFingering) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE own_fingerings SET demand = CASE WHEN score = $5 THEN demand ELSE 'null' END, score = $5, held_at = $6, ended_at = $7, fits = $8
		WHERE studio_id = $1 AND family_id = $2 AND student_id = $3 AND id = $4`,
		f.Studio, f.Family, f.Student, f.ID, f.Score, micros(f.Held), micros(f.Ended), bit(f.Fits))
}

func (r records) Fingering(ctx context.Context, in studio.Scope, id studio.FingeringID) (studio.OwnFingering, error) {
	return one(ctx, r.read, scanFingering, `SELECT `+fingeringColumns+` FROM own_fingerings WHERE `+where(in)+` AND id = $3`, in.Studio(), in.Family(), id)
}

func (r records) HoldingFingering(ctx context.Context, in studio.Scope, s studio.StudentID, w studio.WorkID) (studio.OwnFingering, error) {
	return one(ctx, r.read, scanFingering, `SELECT `+fingeringColumns+` FROM own_fingerings
		WHERE `+where(in)+` AND student_id = $3 AND work_id = $4 AND held_at <> 0 AND ended_at = 0 AND fits = 1`, in.Studio(), in.Family(), s, w)
}

func (r records) Fingerings(ctx context.Context, in studio.Scope, s studio.StudentID, w studio.WorkID) ([]studio.OwnFingering, error) {
	p := of(of(pick(in), "student_id", s), "work_id", w)
	return list(ctx, r.read, scanFingering, `SELECT `+fingeringColumns+` FROM own_fingerings WHERE `+p.String()+` ORDER BY kept_at DESC, id`, p.args...)
}

func (r records) FingeringsKept(ctx context.Context, in studio.Scope, s studio.StudentID, w studio.WorkID) ([]studio.OwnFingering, error) {
	p := of(of(pick(in), "student_id", s), "work_id", w)
	return list(ctx, r.read, scanFingering, `SELECT id, studio_id, family_id, student_id, work_id, '', asked, why, lesson_id, kept_at, held_at, ended_at, fits
		FROM own_fingerings WHERE `+p.String()+` ORDER BY kept_at DESC, id`, p.args...)
}

func (r records) FingeringsOf(ctx context.Context, s studio.StudioID, w studio.WorkID) ([]studio.OwnFingering, error) {
	return list(ctx, r.read, scanFingering, `SELECT `+fingeringColumns+` FROM own_fingerings WHERE studio_id = $1 AND work_id = $2 ORDER BY kept_at, id`, s, w)
}

func (r records) UnprofiledOwn(ctx context.Context, s studio.StudioID, most int) ([]studio.OwnFingering, error) {
	return list(ctx, r.read, scanFingering, `SELECT `+fingeringColumns+` FROM own_fingerings
		WHERE studio_id = $1 AND held_at <> 0 AND ended_at = 0 AND fits = 1 AND demand = 'null' ORDER BY kept_at, id`+limit(most), s)
}

func (r records) PutOwnDemand(ctx context.Context, in studio.Scope, id studio.FingeringID, d studio.Demand) error {
	doc, err := inJSON(d)
	if err != nil {
		return err
	}
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE own_fingerings SET demand = $4 WHERE `+where(in)+` AND id = $3`, in.Studio(), in.Family(), id, doc)
}

func (r records) OwnDemands(ctx context.Context, in studio.Scope, s studio.StudentID) ([]studio.OwnDemand, error) {
	return list(ctx, r.read, func(w row) (d studio.OwnDemand, err error) {
		return d, w.Scan(&d.Work, asJSON{&d.Demand})
	}, `SELECT work_id, demand FROM own_fingerings
		WHERE `+where(in)+` AND student_id = $3 AND held_at <> 0 AND ended_at = 0 AND fits = 1 ORDER BY work_id`, in.Studio(), in.Family(), s)
}
