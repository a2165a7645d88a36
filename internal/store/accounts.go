package store

import (
	"context"
	"time"

	"antiphon/internal/studio"
)

func (r records) PutSetUp(ctx context.Context, hash string, now time.Time) error {
	if err := exec(ctx, r.write, `DELETE FROM set_ups`); err != nil {
		return err
	}
	return exec(ctx, r.write, `INSERT INTO set_ups (hash, made_at) VALUES ($1, $2)`, hash, micros(now))
}

// TakeSetUp takes the row away, so that one caller gets it.
func (r records) TakeSetUp(ctx context.Context, hash string) error {
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM set_ups WHERE hash = $1`, hash)
}

func (r records) PutPassword(ctx context.Context, p studio.Person, hash string, now time.Time) error {
	return change(ctx, r.write, studio.ErrNotFound, `
		INSERT INTO passwords (person_id, studio_id, hash, set_at) SELECT id, studio_id, $3, CAST($4 AS BIGINT) FROM people WHERE studio_id = $1 AND id = $2
		ON CONFLICT (person_id) DO UPDATE SET hash = excluded.hash, set_at = excluded.set_at`, p.Studio, p.ID, hash, micros(now))
}

func (r records) Password(ctx context.Context, p studio.Person) (string, error) {
	return one(ctx, r.read, func(w row) (hash string, err error) { return hash, w.Scan(&hash) },
		`SELECT hash FROM passwords WHERE studio_id = $1 AND person_id = $2`, p.Studio, p.ID)
}

func (r records) PutRecoveryCodes(ctx context.Context, p studio.Person, hashes []string, now time.Time) error {
	if err := exec(ctx, r.write, `DELETE FROM recovery_codes WHERE studio_id = $1 AND person_id = $2`, p.Studio, p.ID); err != nil {
		return err
	}
	for _, h := range hashes {
		if err := change(ctx, r.write, studio.ErrNotFound, `
			INSERT INTO recovery_codes (hash, studio_id, person_id, made_at) SELECT $3, studio_id, id, CAST($4 AS BIGINT) FROM people WHERE studio_id = $1 AND id = $2`,
			p.Studio, p.ID, h, micros(now)); err != nil {
			return err
		}
	}
	return nil
}

// TakeRecoveryCode takes the row away, so that one caller gets it.
func (r records) TakeRecoveryCode(ctx context.Context, hash string) (studio.Person, error) {
	type whose struct {
		studio studio.StudioID
		person studio.PersonID
	}
	w, err := one(ctx, r.write, func(w row) (o whose, err error) { return o, w.Scan(&o.studio, &o.person) },
		`DELETE FROM recovery_codes WHERE hash = $1 RETURNING studio_id, person_id`, hash)
	if err != nil {
		return studio.Person{}, err
	}
	return one(ctx, r.read, scanPerson, `SELECT `+personColumns+` FROM people WHERE studio_id = $1 AND id = $2`, w.studio, w.person)
}

func (r records) RecoveryCodesLeft(ctx context.Context, p studio.Person) (int, error) {
	return one(ctx, r.read, scanCount, `SELECT count(*) FROM recovery_codes WHERE studio_id = $1 AND person_id = $2`, p.Studio, p.ID)
}

func (r records) AddPasskey(ctx context.Context, k studio.Passkey) error {
	return change(ctx, r.write, studio.ErrNotFound, `
		INSERT INTO passkeys (id, studio_id, person_id, name, credential, added_at, used_at)
		SELECT $3, studio_id, id, $4, $5, CAST($6 AS BIGINT), CAST($7 AS BIGINT) FROM people WHERE studio_id = $1 AND id = $2`,
		k.Studio, k.Person, k.ID, k.Name, string(k.Credential), micros(k.Added), micros(k.Used))
}

func (r records) PutPasskey(ctx context.Context, k studio.Passkey) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE passkeys SET credential = $3, used_at = $4 WHERE studio_id = $1 AND id = $2`,
		k.Studio, k.ID, string(k.Credential), micros(k.Used))
}

func (r records) Passkeys(ctx context.Context, s studio.StudioID) ([]studio.Passkey, error) {
	return list(ctx, r.read, func(w row) (k studio.Passkey, err error) {
		return k, w.Scan(&k.ID, &k.Studio, &k.Person, &k.Name, asJSON{&k.Credential}, stamp{&k.Added}, stamp{&k.Used})
	}, `SELECT id, studio_id, person_id, name, credential, added_at, used_at FROM passkeys WHERE studio_id = $1 ORDER BY added_at, id`, s)
}

func (r records) RemovePasskey(ctx context.Context, s studio.StudioID, id studio.PasskeyID) error {
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM passkeys WHERE studio_id = $1 AND id = $2`, s, id)
}
