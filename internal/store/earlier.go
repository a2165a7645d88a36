package store

import (
	"context"

	"antiphon/internal/studio"
)

func scanEarlier(w row) (e studio.EarlierScore, err error) {
	return e, w.Scan(&e.ID, &e.Studio, &e.Work, &e.Score, &e.Same, &e.Notes, stamp{&e.Ended})
}

func (r records) AddEarlier(ctx context.Context, e studio.EarlierScore) error {
	return exec(ctx, r.write, `INSERT INTO earlier_scores (id, studio_id, work_id, score, same, notes, ended_at) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
		e.ID, e.Studio, e.Work, e.Score, e.Same, e.Notes, micros(e.Ended))
}

func (r records) EarlierScore(ctx context.Context, s studio.StudioID, w studio.WorkID, id studio.EarlierID) (studio.EarlierScore, error) {
	return one(ctx, r.read, scanEarlier, `SELECT id, studio_id, work_id, score, same, notes, ended_at FROM earlier_scores WHERE studio_id = $1 AND work_id = $2 AND id = $3`, s, w, id)
}

func (r records) Earlier(ctx context.Context, s studio.StudioID, w studio.WorkID) ([]studio.EarlierScore, error) {
	return list(ctx, r.read, scanEarlier, `SELECT id, studio_id, work_id, '', same, notes, ended_at FROM earlier_scores WHERE studio_id = $1 AND work_id = $2 ORDER BY ended_at DESC, id`, s, w)
}

func (r records) RemoveEarlier(ctx context.Context, s studio.StudioID, id studio.EarlierID) error {
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM earlier_scores WHERE studio_id = $1 AND id = $2`, s, id)
}

// HoldWork takes the row before it reads: one statement that did both would read the score as it was before it waited.
func (r records) HoldWork(ctx context.Context, s studio.StudioID, id studio.WorkID) (studio.Work, error) {
	if r.hold != "" {
		if _, err := one(ctx, r.write, func(w row) (found string, err error) { return found, w.Scan(&found) },
			`SELECT id FROM works WHERE studio_id = $1 AND id = $2 FOR NO KEY UPDATE`, s, id); err != nil {
			return studio.Work{}, err
		}
	}
	return r.Work(ctx, s, id)
}
