package store

import (
	"context"
	"time"

	"antiphon/internal/studio"
)

func (r records) AddInvitation(ctx context.Context, i studio.Invitation) error {
	return exec(ctx, r.write, `
		INSERT INTO invitations (id, studio_id, family_id, hash, what, keep_days, who, made_at, expires_at, redeemed_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`,
		i.ID, i.Studio, i.Family, i.Hash, i.What, i.KeepDays, i.Who, micros(i.Made), micros(i.Expires), micros(i.Redeemed))
}

const invitationColumns = `id, studio_id, family_id, hash, what, keep_days, who, made_at, expires_at, redeemed_at`

func scanInvitation(w row) (i studio.Invitation, err error) {
	return i, w.Scan(&i.ID, &i.Studio, &i.Family, &i.Hash, &i.What, &i.KeepDays, &i.Who,
		stamp{&i.Made}, stamp{&i.Expires}, stamp{&i.Redeemed})
}

func (r records) Invitations(ctx context.Context, in studio.Scope) ([]studio.Invitation, error) {
	return list(ctx, r.read, scanInvitation, `SELECT `+invitationColumns+` FROM invitations WHERE `+where(in)+` ORDER BY made_at, id`, in.Studio(), in.Family())
}

func (r records) OpenInvitation(ctx context.Context, hash string, now time.Time) (studio.Invitation, error) {
	return one(ctx, r.read, scanInvitation, `
		SELECT `+invitationColumns+` FROM invitations WHERE hash = $1 AND redeemed_at = 0 AND expires_at > $2`, hash, micros(now))
}

// RedeemInvitation closes and reads in one statement, so that two presses cannot both pass.
func (r records) RedeemInvitation(ctx context.Context, hash string, now time.Time) (studio.Invitation, error) {
	return one(ctx, r.write, scanInvitation, `
		UPDATE invitations SET redeemed_at = $2
		WHERE hash = $1 AND redeemed_at = 0 AND expires_at > $2
		RETURNING `+invitationColumns, hash, micros(now))
}

func (r records) AddDevice(ctx context.Context, d studio.Device) error {
	return exec(ctx, r.write, `
		INSERT INTO devices (id, studio_id, family_id, person_id, name, hash, bound_at, seen_at, revoked_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		d.ID, d.Studio, orNull(d.Family), d.Person, d.Name, d.Hash, micros(d.Bound), micros(d.Seen), micros(d.Revoked))
}

func (r records) DeviceByHash(ctx context.Context, hash string) (studio.Device, studio.Person, error) {
	var p studio.Person
	d, err := one(ctx, r.read, func(w row) (d studio.Device, err error) {
		return d, w.Scan(&d.ID, &d.Studio, &d.Family, &d.Person, &d.Name, &d.Hash, stamp{&d.Bound}, stamp{&d.Seen}, stamp{&d.Revoked},
			&p.ID, &p.Studio, &p.Family, &p.Role, &p.Name, &p.NoteNames)
	}, `
		SELECT d.id, d.studio_id, COALESCE(d.family_id, ''), d.person_id, d.name, d.hash, d.bound_at, d.seen_at, d.revoked_at,
			p.id, p.studio_id, COALESCE(p.family_id, ''), p.role, p.name, p.note_names
		FROM devices AS d JOIN people AS p ON p.id = d.person_id AND p.studio_id = d.studio_id AND COALESCE(p.family_id, '') = COALESCE(d.family_id, '')
		WHERE d.hash = $1 AND d.revoked_at = 0`, hash)
	return d, p, err
}

func (r records) Devices(ctx context.Context, in studio.Scope) ([]studio.Device, error) {
	q := `SELECT id, studio_id, COALESCE(family_id, ''), person_id, name, hash, bound_at, seen_at, revoked_at FROM devices WHERE ` + where(in) + ` ORDER BY bound_at, id`
	return list(ctx, r.read, func(w row) (d studio.Device, err error) {
		return d, w.Scan(&d.ID, &d.Studio, &d.Family, &d.Person, &d.Name, &d.Hash, stamp{&d.Bound}, stamp{&d.Seen}, stamp{&d.Revoked})
	}, q, in.Studio(), in.Family())
}

func (r records) RevokeDevice(ctx context.Context, in studio.Scope, id studio.DeviceID, now time.Time) error {
	q := `UPDATE devices SET revoked_at = $4 WHERE ` + where(in) + ` AND id = $3 AND revoked_at = 0`
	if err := change(ctx, r.write, studio.ErrNotFound, q, in.Studio(), in.Family(), id, micros(now)); err != nil {
		return err
	}
	// It is told of nothing any more.
	return exec(ctx, r.write, `DELETE FROM push_addresses WHERE `+where(in)+` AND device_id = $3`, in.Studio(), in.Family(), id)
}

func (r records) NameDevice(ctx context.Context, in studio.Scope, id studio.DeviceID, name string) error {
	q := `UPDATE devices SET name = $4 WHERE ` + where(in) + ` AND id = $3 AND revoked_at = 0`
	return change(ctx, r.write, studio.ErrNotFound, q, in.Studio(), in.Family(), id, name)
}

func (r records) SeeDevice(ctx context.Context, d studio.Device) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE devices SET seen_at = $3 WHERE studio_id = $1 AND id = $2`, d.Studio, d.ID, micros(d.Seen))
}
