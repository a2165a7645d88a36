package store

import (
	"context"

	"antiphon/internal/studio"
)

func (r records) AddUnsorted(ctx context.Context, u studio.Unsorted) error {
	guesses, err := inJSON(u.Guesses)
	if err != nil {
		return err
	}
	return exec(ctx, r.write, `
		INSERT INTO unsorted (id, studio_id, file_name, type, bytes, sha256, arrived_at, keep_until, state, why, guesses)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
		u.ID, u.Studio, u.FileName, u.Type, u.Bytes, u.SHA256, micros(u.Arrived), micros(u.KeepUntil), u.State, u.Why, guesses)
}

const unsortedColumns = `id, studio_id, file_name, type, bytes, sha256, arrived_at, keep_until, state, why, guesses`

func scanUnsorted(w row) (u studio.Unsorted, err error) {
	return u, w.Scan(&u.ID, &u.Studio, &u.FileName, &u.Type, &u.Bytes, &u.SHA256, stamp{&u.Arrived}, stamp{&u.KeepUntil}, &u.State, &u.Why, asJSON{&u.Guesses})
}

func (r records) Unsorted(ctx context.Context, s studio.StudioID, id studio.UnsortedID) (studio.Unsorted, error) {
	return one(ctx, r.read, scanUnsorted, `SELECT `+unsortedColumns+` FROM unsorted WHERE studio_id = $1 AND id = $2`+r.hold, s, id)
}

func (r records) AllUnsorted(ctx context.Context, s studio.StudioID) ([]studio.Unsorted, error) {
	return list(ctx, r.read, scanUnsorted, `SELECT `+unsortedColumns+` FROM unsorted WHERE studio_id = $1 ORDER BY arrived_at, id`, s)
}

func (r records) PutUnsorted(ctx context.Context, u studio.Unsorted) error {
	guesses, err := inJSON(u.Guesses)
	if err != nil {
		return err
	}
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE unsorted SET state = $3, why = $4, guesses = $5 WHERE studio_id = $1 AND id = $2`,
		u.Studio, u.ID, u.State, u.Why, guesses)
}

func (r records) RemoveUnsorted(ctx context.Context, s studio.StudioID, id studio.UnsortedID) error {
	r.somethingDeleted()
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM unsorted WHERE studio_id = $1 AND id = $2`, s, id)
}
