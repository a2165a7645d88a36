package store

import (
	"context"
	"errors"
	"time"

	"antiphon/internal/studio"
)

func (r records) LogAccess(ctx context.Context, a studio.Access) error {
	return exec(ctx, r.write, `
		INSERT INTO access_log (studio_id, family_id, student_id, take_id, by_id, role, what, at) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
		a.Studio, a.Family, a.Student, a.Take, a.By, a.Role, a.What, micros(a.At))
}

func (r records) Logged(ctx context.Context, a studio.Access, since time.Time) (bool, error) {
	_, err := one(ctx, r.read, scanCount, `
		SELECT 1 FROM access_log WHERE studio_id = $1 AND family_id = $2 AND student_id = $3 AND at > $4
			AND take_id = $5 AND by_id = $6 AND role = $7 AND what = $8 LIMIT 1`,
		a.Studio, a.Family, a.Student, micros(since), a.Take, a.By, a.Role, a.What)
	if errors.Is(err, studio.ErrNotFound) {
		return false, nil
	}
	return err == nil, err
}

func (r records) AccessLog(ctx context.Context, in studio.Scope, s studio.StudentID, most int) ([]studio.Access, error) {
	p := of(pick(in), "student_id", s)
	return list(ctx, r.read, func(w row) (a studio.Access, err error) {
		return a, w.Scan(&a.Studio, &a.Family, &a.Student, &a.Take, &a.By, &a.Role, &a.What, stamp{&a.At})
	}, `SELECT studio_id, family_id, student_id, take_id, by_id, role, what, at FROM access_log WHERE `+p.String()+` ORDER BY at DESC, take_id, what`+limit(most), p.args...)
}

// EraseFamily counts, then deletes one row: every row of the family hangs on it by a foreign key.
func (r records) EraseFamily(ctx context.Context, in studio.Scope) (n studio.Receipt, err error) {
	if in.Whole() || in.Family() == studio.Shelf(in.Studio()) {
		return n, studio.ErrNotFound
	}
	n, err = one(ctx, r.read, func(w row) (n studio.Receipt, err error) {
		return n, w.Scan(&n.Takes, &n.Files, &n.Students)
	}, `SELECT
		(SELECT count(*) FROM takes WHERE studio_id = $1 AND family_id = $2),
		(SELECT count(*) FROM media WHERE studio_id = $1 AND family_id = $2),
		(SELECT count(*) FROM students WHERE studio_id = $1 AND family_id = $2)`, in.Studio(), in.Family())
	if err != nil {
		return n, err
	}
	r.somethingDeleted()
	// Single files that still waited to be removed go with the family's folder.
	if err := exec(ctx, r.write, `DELETE FROM doomed WHERE studio_id = $1 AND family_id = $2`, in.Studio(), in.Family()); err != nil {
		return n, err
	}
	return n, change(ctx, r.write, studio.ErrNotFound, `DELETE FROM families WHERE studio_id = $1 AND id = $2`, in.Studio(), in.Family())
}

func (r records) somethingDeleted() {
	if r.deleted != nil {
		*r.deleted = true
	}
}

func (r records) AddReceipt(ctx context.Context, c studio.Receipt) error {
	return exec(ctx, r.write, `
		INSERT INTO receipts (id, studio_id, what, by_role, takes, files, students, at) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
		c.ID, c.Studio, c.What, c.By, c.Takes, c.Files, c.Students, micros(c.At))
}

func (r records) Receipts(ctx context.Context, s studio.StudioID) ([]studio.Receipt, error) {
	return list(ctx, r.read, func(w row) (c studio.Receipt, err error) {
		return c, w.Scan(&c.ID, &c.Studio, &c.What, &c.By, &c.Takes, &c.Files, &c.Students, stamp{&c.At})
	}, `SELECT id, studio_id, what, by_role, takes, files, students, at FROM receipts WHERE studio_id = $1 ORDER BY at, id`, s)
}

func (r records) Doom(ctx context.Context, d studio.Doomed) error {
	return exec(ctx, r.write, `INSERT INTO doomed (studio_id, family_id, media_id) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING`, d.Studio, d.Family, d.Media)
}

func (r records) Dooms(ctx context.Context, s studio.StudioID) ([]studio.Doomed, error) {
	return list(ctx, r.read, func(w row) (d studio.Doomed, err error) {
		return d, w.Scan(&d.Studio, &d.Family, &d.Media)
	}, `SELECT studio_id, family_id, media_id FROM doomed WHERE studio_id = $1 ORDER BY family_id, media_id`, s)
}

// Undoom forgets a file that is removed. What an erased family was called goes out of the journal too.
func (r records) Undoom(ctx context.Context, d studio.Doomed) error {
	if d.Media == "" {
		r.somethingDeleted()
	}
	return exec(ctx, r.write, `DELETE FROM doomed WHERE studio_id = $1 AND family_id = $2 AND media_id = $3`, d.Studio, d.Family, d.Media)
}

// Outside a transaction a deletion makes its own: Within clears the journal behind it.

func (s *Store) EraseFamily(ctx context.Context, in studio.Scope) (n studio.Receipt, err error) {
	err = s.Within(ctx, func(tx studio.Records) (err error) { n, err = tx.EraseFamily(ctx, in); return err })
	return n, err
}

func (s *Store) RemoveTake(ctx context.Context, in studio.Scope, id studio.TakeID) error {
	return s.Within(ctx, func(tx studio.Records) error { return tx.RemoveTake(ctx, in, id) })
}

func (s *Store) Undoom(ctx context.Context, d studio.Doomed) error {
	return s.Within(ctx, func(tx studio.Records) error { return tx.Undoom(ctx, d) })
}

func (s *Store) RemoveRemark(ctx context.Context, in studio.Scope, id studio.RemarkID) error {
	return s.Within(ctx, func(tx studio.Records) error { return tx.RemoveRemark(ctx, in, id) })
}

func (s *Store) RemoveUnsorted(ctx context.Context, in studio.StudioID, id studio.UnsortedID) error {
	return s.Within(ctx, func(tx studio.Records) error { return tx.RemoveUnsorted(ctx, in, id) })
}

func (s *Store) RemoveTap(ctx context.Context, in studio.Scope, of studio.StudentID, id string) error {
	return s.Within(ctx, func(tx studio.Records) error { return tx.RemoveTap(ctx, in, of, id) })
}

func (s *Store) RemoveLetter(ctx context.Context, in studio.Scope, id studio.LetterID) error {
	return s.Within(ctx, func(tx studio.Records) error { return tx.RemoveLetter(ctx, in, id) })
}
