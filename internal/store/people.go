package store

import (
	"context"

	"antiphon/internal/studio"
)

// AddStudio also puts up the studio's shelf: a family, a student and a work under the studio's own id,
// which stand in no list.
func (r records) AddStudio(ctx context.Context, s studio.Studio) error {
	if err := exec(ctx, r.write, `INSERT INTO studios (id, name, keep_days, reply_days, language, founded_at) VALUES ($1, $2, $3, $4, $5, $6)`,
		s.ID, s.Name, s.KeepDays, s.ReplyDays, s.Language, micros(s.Founded)); err != nil {
		return err
	}
	if err := r.AddWork(ctx, studio.Work{ID: noWork(s.ID), Studio: s.ID, Added: s.Founded}); err != nil {
		return err
	}
	shelf := studio.Shelf(s.ID)
	if err := r.AddFamily(ctx, studio.Family{ID: shelf, Studio: s.ID, Since: s.Founded}); err != nil {
		return err
	}
	return r.AddStudent(ctx, studio.Student{ID: studio.StudentID(shelf), Studio: s.ID, Family: shelf, Media: studio.FullVideo, Since: s.Founded})
}

func (r records) PutStudio(ctx context.Context, s studio.Studio) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE studios SET name = $2, keep_days = $3, reply_days = $4, language = $5 WHERE id = $1`,
		s.ID, s.Name, s.KeepDays, s.ReplyDays, s.Language)
}

const studioColumns = `id, name, keep_days, reply_days, language, founded_at`

func scanStudio(w row) (s studio.Studio, err error) {
	return s, w.Scan(&s.ID, &s.Name, &s.KeepDays, &s.ReplyDays, &s.Language, stamp{&s.Founded})
}

func (r records) Studio(ctx context.Context, id studio.StudioID) (studio.Studio, error) {
	return one(ctx, r.read, scanStudio, `SELECT `+studioColumns+` FROM studios WHERE id = $1`, id)
}

func (r records) FirstStudio(ctx context.Context) (studio.Studio, error) {
	return one(ctx, r.read, scanStudio, `SELECT `+studioColumns+` FROM studios ORDER BY founded_at, id LIMIT 1`)
}

func (r records) Looks(ctx context.Context, id studio.StudioID) (studio.Looks, error) {
	return one(ctx, r.read, func(w row) (l studio.Looks, err error) {
		return l, w.Scan(stamp{&l.Last}, stamp{&l.Since})
	}, `SELECT looked_at, looked_since FROM studios WHERE id = $1`, id)
}

func (r records) PutLooks(ctx context.Context, id studio.StudioID, l studio.Looks) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE studios SET looked_at = $2, looked_since = $3 WHERE id = $1`, id, micros(l.Last), micros(l.Since))
}

func (r records) AddFamily(ctx context.Context, f studio.Family) error {
	return exec(ctx, r.write, `INSERT INTO families (id, studio_id, name, since) VALUES ($1, $2, $3, $4)`,
		f.ID, f.Studio, f.Name, micros(f.Since))
}

func (r records) Families(ctx context.Context, in studio.Scope) ([]studio.Family, error) {
	// The family's own table calls its id so.
	q := `SELECT id, studio_id, name, since FROM (SELECT id, id AS family_id, studio_id, name, since FROM families WHERE id <> studio_id) AS f WHERE ` + where(in) + ` ORDER BY since, id`
	return list(ctx, r.read, func(w row) (f studio.Family, err error) {
		return f, w.Scan(&f.ID, &f.Studio, &f.Name, stamp{&f.Since})
	}, q, in.Studio(), in.Family())
}

func (r records) AddPerson(ctx context.Context, p studio.Person) error {
	return exec(ctx, r.write, `INSERT INTO people (id, studio_id, family_id, role, name, language, language_at) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
		p.ID, p.Studio, orNull(p.Family), p.Role, p.Name, p.Language, micros(p.LanguageAt))
}

const personColumns = `id, studio_id, COALESCE(family_id, ''), role, name, email, email_at, note_names, language, language_at`

func scanPerson(w row) (p studio.Person, err error) {
	return p, w.Scan(&p.ID, &p.Studio, &p.Family, &p.Role, &p.Name, &p.Email, stamp{&p.EmailAt}, &p.NoteNames, &p.Language, stamp{&p.LanguageAt})
}

func (r records) People(ctx context.Context, in studio.Scope) ([]studio.Person, error) {
	return list(ctx, r.read, scanPerson, `SELECT `+personColumns+` FROM people WHERE `+where(in)+` ORDER BY id`, in.Studio(), in.Family())
}

func (r records) AddStudent(ctx context.Context, s studio.Student) error {
	return exec(ctx, r.write, `INSERT INTO students (id, studio_id, family_id, name, media, since) VALUES ($1, $2, $3, $4, $5, $6)`,
		s.ID, s.Studio, s.Family, s.Name, s.Media, micros(s.Since))
}

func (r records) PutStudent(ctx context.Context, s studio.Student) error {
	return change(ctx, r.write, studio.ErrNotFound, `UPDATE students SET name = $4, media = $5, tell_hearing = $6 WHERE studio_id = $1 AND family_id = $2 AND id = $3`,
		s.Studio, s.Family, s.ID, s.Name, s.Media, bit(s.TellHearing))
}

const studentColumns = `id, studio_id, family_id, name, media, since, tell_hearing`

func scanStudent(w row) (s studio.Student, err error) {
	return s, w.Scan(&s.ID, &s.Studio, &s.Family, &s.Name, &s.Media, stamp{&s.Since}, asBool{&s.TellHearing})
}

func (r records) Student(ctx context.Context, in studio.Scope, id studio.StudentID) (studio.Student, error) {
	q := `SELECT ` + studentColumns + ` FROM students WHERE ` + where(in) + ` AND id = $3`
	return one(ctx, r.read, scanStudent, q, in.Studio(), in.Family(), id)
}

func (r records) Students(ctx context.Context, in studio.Scope) ([]studio.Student, error) {
	q := `SELECT ` + studentColumns + ` FROM students WHERE ` + where(in) + ` AND id <> studio_id ORDER BY since, id`
	return list(ctx, r.read, scanStudent, q, in.Studio(), in.Family())
}

func (r records) AddConsent(ctx context.Context, c studio.Consent) error {
	return exec(ctx, r.write, `
		INSERT INTO consents (id, studio_id, family_id, person_id, what, keep_days, who, given_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
		c.ID, c.Studio, c.Family, c.Person, c.What, c.KeepDays, c.Who, micros(c.Given))
}

func (r records) Consents(ctx context.Context, in studio.Scope) ([]studio.Consent, error) {
	q := `SELECT id, studio_id, family_id, person_id, what, keep_days, who, given_at FROM consents WHERE ` + where(in) + ` ORDER BY given_at, id`
	return list(ctx, r.read, func(w row) (c studio.Consent, err error) {
		return c, w.Scan(&c.ID, &c.Studio, &c.Family, &c.Person, &c.What, &c.KeepDays, &c.Who, stamp{&c.Given})
	}, q, in.Studio(), in.Family())
}

// Pulse asks two indexes once for every student.
func (r records) Pulse(ctx context.Context, s studio.StudioID) ([]studio.Pulse, error) {
	return list(ctx, r.read, func(w row) (p studio.Pulse, err error) {
		return p, w.Scan(&p.Student, &p.Family, stamp{&p.Heard}, stamp{&p.Told})
	}, `
		SELECT s.id, s.family_id,
			COALESCE((SELECT max(t.arrived_at) FROM takes AS t WHERE t.studio_id = s.studio_id AND t.student_id = s.id), 0),
			COALESCE((SELECT max(l.sent_at) FROM lessons AS l WHERE l.studio_id = s.studio_id AND l.student_id = s.id), 0)
		FROM students AS s WHERE s.studio_id = $1 AND s.id <> s.studio_id ORDER BY s.since, s.id`, s)
}
