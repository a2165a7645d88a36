package store

import (
	"context"

	"antiphon/internal/studio"
)

func (r records) AddStudio(ctx context.Context, s studio.Studio) error {
	return exec(ctx, r.write, `INSERT INTO studios (id, name, keep_days, founded_at) VALUES ($1, $2, $3, $4)`,
		s.ID, s.Name, s.KeepDays, micros(s.Founded))
}

func (r records) Studio(ctx context.Context, id studio.StudioID) (studio.Studio, error) {
	return one(ctx, r.read, func(w row) (s studio.Studio, err error) {
		return s, w.Scan(&s.ID, &s.Name, &s.KeepDays, stamp{&s.Founded})
	}, `SELECT id, name, keep_days, founded_at FROM studios WHERE id = $1`, id)
}

func (r records) AddFamily(ctx context.Context, f studio.Family) error {
	return exec(ctx, r.write, `INSERT INTO families (id, studio_id, name, since) VALUES ($1, $2, $3, $4)`,
		f.ID, f.Studio, f.Name, micros(f.Since))
}

func (r records) Families(ctx context.Context, in studio.Scope) ([]studio.Family, error) {
	// The family's own table calls its id so.
	q := `SELECT id, studio_id, name, since FROM (SELECT id, id AS family_id, studio_id, name, since FROM families) AS f WHERE ` + where(in) + ` ORDER BY since, id`
	return list(ctx, r.read, func(w row) (f studio.Family, err error) {
		return f, w.Scan(&f.ID, &f.Studio, &f.Name, stamp{&f.Since})
	}, q, in.Studio(), in.Family())
}

func (r records) AddPerson(ctx context.Context, p studio.Person) error {
	return exec(ctx, r.write, `INSERT INTO people (id, studio_id, family_id, role, name) VALUES ($1, $2, $3, $4, $5)`,
		p.ID, p.Studio, orNull(p.Family), p.Role, p.Name)
}

func (r records) People(ctx context.Context, in studio.Scope) ([]studio.Person, error) {
	q := `SELECT id, studio_id, COALESCE(family_id, ''), role, name FROM people WHERE ` + where(in) + ` ORDER BY id`
	return list(ctx, r.read, func(w row) (p studio.Person, err error) {
		return p, w.Scan(&p.ID, &p.Studio, &p.Family, &p.Role, &p.Name)
	}, q, in.Studio(), in.Family())
}

func (r records) AddStudent(ctx context.Context, s studio.Student) error {
	return exec(ctx, r.write, `INSERT INTO students (id, studio_id, family_id, name, media, since) VALUES ($1, $2, $3, $4, $5, $6)`,
		s.ID, s.Studio, s.Family, s.Name, s.Media, micros(s.Since))
}

const studentColumns = `id, studio_id, family_id, name, media, since`

func scanStudent(w row) (s studio.Student, err error) {
	return s, w.Scan(&s.ID, &s.Studio, &s.Family, &s.Name, &s.Media, stamp{&s.Since})
}

func (r records) Student(ctx context.Context, in studio.Scope, id studio.StudentID) (studio.Student, error) {
	q := `SELECT ` + studentColumns + ` FROM students WHERE ` + where(in) + ` AND id = $3`
	return one(ctx, r.read, scanStudent, q, in.Studio(), in.Family(), id)
}

func (r records) Students(ctx context.Context, in studio.Scope) ([]studio.Student, error) {
	q := `SELECT ` + studentColumns + ` FROM students WHERE ` + where(in) + ` ORDER BY since, id`
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
