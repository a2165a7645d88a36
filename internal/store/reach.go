package store

import (
	"context"
	"time"

	"antiphon/internal/studio"
)

func (r records) PutPerson(ctx context.Context, p studio.Person) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE people SET email = $4, email_at = $5, note_names = $6, language = $7, language_at = $8,
			email_hash = CASE WHEN $4 = '' THEN '' ELSE email_hash END, email_off = CASE WHEN $4 = '' THEN '' ELSE email_off END
		WHERE studio_id = $1 AND COALESCE(family_id, '') = $2 AND id = $3`, p.Studio, p.Family, p.ID, p.Email, micros(p.EmailAt), p.NoteNames, p.Language, micros(p.LanguageAt))
}

func (r records) PutEmailSecrets(ctx context.Context, p studio.Person, hash, off string, now time.Time) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE people SET email_hash = $4, email_off = $5, email_asked = $6
		WHERE studio_id = $1 AND COALESCE(family_id, '') = $2 AND id = $3`, p.Studio, p.Family, p.ID, hash, off, micros(now))
}

// TakeEmailSecret confirms and reads in one statement, so that it works once.
func (r records) TakeEmailSecret(ctx context.Context, hash string, since, now time.Time) (studio.Person, error) {
	return one(ctx, r.write, scanPerson, `UPDATE people SET email_at = $3, email_hash = ''
		WHERE email_hash = $1 AND email_hash <> '' AND email_asked > $2 RETURNING `+personColumns, hash, micros(since), micros(now))
}

func (r records) MailsOffSecret(ctx context.Context, p studio.Person) (string, error) {
	return one(ctx, r.read, func(w row) (s string, err error) { return s, w.Scan(&s) },
		`SELECT email_off FROM people WHERE studio_id = $1 AND COALESCE(family_id, '') = $2 AND id = $3`, p.Studio, p.Family, p.ID)
}

func (r records) ForgetEmail(ctx context.Context, off string) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE people SET email = '', email_at = 0, email_hash = '', email_off = '' WHERE email_off = $1 AND email_off <> ''`, off)
}

const pushColumns = `id, studio_id, COALESCE(family_id, ''), person_id, device_id, doc, added_at`

func (r records) PutPush(ctx context.Context, a studio.PushAddress) error {
	return change(ctx, r.write, studio.ErrNotFound, `
		INSERT INTO push_addresses (id, studio_id, family_id, person_id, device_id, doc, added_at)
		SELECT $1, d.studio_id, d.family_id, d.person_id, d.id, $6, CAST($7 AS BIGINT) FROM devices AS d
			WHERE d.studio_id = $2 AND COALESCE(d.family_id, '') = $3 AND d.person_id = $4 AND d.id = $5 AND d.revoked_at = 0
		ON CONFLICT (device_id) DO UPDATE SET id = excluded.id, doc = excluded.doc, added_at = excluded.added_at`,
		a.ID, a.Studio, a.Family, a.Person, a.Device, string(a.Doc), micros(a.Added))
}

func (r records) PushAddresses(ctx context.Context, in studio.Scope, p studio.PersonID) ([]studio.PushAddress, error) {
	q := of(pick(in), "person_id", p)
	return list(ctx, r.read, func(w row) (a studio.PushAddress, err error) {
		return a, w.Scan(&a.ID, &a.Studio, &a.Family, &a.Person, &a.Device, asJSON{&a.Doc}, stamp{&a.Added})
	}, `SELECT `+pushColumns+` FROM push_addresses WHERE `+q.String()+` ORDER BY added_at, id`, q.args...)
}

func (r records) RemovePush(ctx context.Context, in studio.Scope, id studio.PushID) error {
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM push_addresses WHERE `+where(in)+` AND id = $3`, in.Studio(), in.Family(), id)
}

const noticeColumns = `id, studio_id, COALESCE(family_id, ''), person_id, kind, about, at, sent_at, tries, why, state`

func scanNotice(w row) (n studio.Notice, err error) {
	return n, w.Scan(&n.ID, &n.Studio, &n.Family, &n.Person, &n.Kind, &n.About, stamp{&n.At}, stamp{&n.Sent}, &n.Tries, &n.Why, &n.State)
}

func (r records) AddNotice(ctx context.Context, n studio.Notice) error {
	return change(ctx, r.write, studio.ErrNotFound, `
		INSERT INTO notices (id, studio_id, family_id, person_id, kind, about, at, sent_at, tries, why, state)
		SELECT $1, p.studio_id, p.family_id, p.id, $5, $6, CAST($7 AS BIGINT), CAST($8 AS BIGINT), CAST($9 AS BIGINT), $10, $11 FROM people AS p
			WHERE p.studio_id = $2 AND COALESCE(p.family_id, '') = $3 AND p.id = $4`,
		n.ID, n.Studio, n.Family, n.Person, n.Kind, n.About, micros(n.At), micros(n.Sent), n.Tries, n.Why, n.State)
}

func (r records) Notice(ctx context.Context, in studio.Scope, id studio.NoticeID) (studio.Notice, error) {
	return one(ctx, r.read, scanNotice, `SELECT `+noticeColumns+` FROM notices WHERE `+where(in)+` AND id = $3`, in.Studio(), in.Family(), id)
}

func (r records) Notices(ctx context.Context, in studio.Scope) ([]studio.Notice, error) {
	return list(ctx, r.read, scanNotice, `SELECT `+noticeColumns+` FROM notices WHERE `+where(in)+` ORDER BY at, id`, in.Studio(), in.Family())
}

func (r records) OpenNotices(ctx context.Context, in studio.Scope, p studio.PersonID) ([]studio.Notice, error) {
	q := of(pick(in), "person_id", p).and("sent_at = 0 AND state <> 'over'")
	return list(ctx, r.read, scanNotice, `SELECT `+noticeColumns+` FROM notices WHERE `+q.String()+` ORDER BY at, id`, q.args...)
}

func (r records) PutNotice(ctx context.Context, n studio.Notice) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE notices SET sent_at = $4, tries = $5, why = $6, state = $7 WHERE studio_id = $1 AND COALESCE(family_id, '') = $2 AND id = $3`,
		n.Studio, n.Family, n.ID, micros(n.Sent), n.Tries, n.Why, n.State)
}

func (r records) DropNotices(ctx context.Context, in studio.Scope, about string) error {
	return exec(ctx, r.write, `DELETE FROM notices WHERE `+where(in)+` AND about = $3 AND sent_at = 0`, in.Studio(), in.Family(), about)
}

func (r records) RemoveNotices(ctx context.Context, s studio.StudioID, before time.Time) error {
	return exec(ctx, r.write, `DELETE FROM notices WHERE studio_id = $1 AND at < $2`, s, micros(before))
}
