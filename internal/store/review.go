package store

import (
	"context"
	"encoding/json"

	"antiphon/internal/studio"
)

func (r records) AddHearing(ctx context.Context, h studio.Hearing) error {
	return exec(ctx, r.write, `
		INSERT INTO hearings (id, studio_id, family_id, take_id, version, json, heard_at) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
		h.ID, h.Studio, h.Family, h.Take, h.Schema, string(h.JSON), micros(h.Heard))
}

func (r records) Hearings(ctx context.Context, in studio.Scope, take studio.TakeID) ([]studio.Hearing, error) {
	q := `SELECT id, studio_id, family_id, take_id, version, json, heard_at FROM hearings WHERE ` + where(in) + ` AND ($3 = '' OR take_id = $3) ORDER BY heard_at, id`
	return list(ctx, r.read, func(w row) (h studio.Hearing, err error) {
		return h, w.Scan(&h.ID, &h.Studio, &h.Family, &h.Take, &h.Schema, asJSON{&h.JSON}, stamp{&h.Heard})
	}, q, in.Studio(), in.Family(), take)
}

func (r records) AddCorrection(ctx context.Context, c studio.Correction) error {
	return exec(ctx, r.write, `
		INSERT INTO corrections (id, studio_id, family_id, take_id, hearing_id, by_id, kind, what, made_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		c.ID, c.Studio, c.Family, c.Take, c.Hearing, c.By, c.Kind, string(c.What), micros(c.Made))
}

func (r records) Corrections(ctx context.Context, in studio.Scope, take studio.TakeID) ([]studio.Correction, error) {
	q := `SELECT id, studio_id, family_id, take_id, hearing_id, by_id, kind, what, made_at FROM corrections WHERE ` + where(in) + ` AND ($3 = '' OR take_id = $3) ORDER BY made_at, id`
	return list(ctx, r.read, func(w row) (c studio.Correction, err error) {
		return c, w.Scan(&c.ID, &c.Studio, &c.Family, &c.Take, &c.Hearing, &c.By, &c.Kind, asJSON{&c.What}, stamp{&c.Made})
	}, q, in.Studio(), in.Family(), take)
}

func (r records) AddRemark(ctx context.Context, m studio.Remark) error {
	anchor, err := json.Marshal(m.Anchor)
	if err != nil {
		return err
	}
	return exec(ctx, r.write, `
		INSERT INTO remarks (id, studio_id, family_id, take_id, by_id, anchor, words, media_id, made_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		m.ID, m.Studio, m.Family, m.Take, m.By, string(anchor), m.Text, m.Media, micros(m.Made))
}

func (r records) Remarks(ctx context.Context, in studio.Scope, take studio.TakeID) ([]studio.Remark, error) {
	q := `SELECT id, studio_id, family_id, take_id, by_id, anchor, words, media_id, made_at FROM remarks WHERE ` + where(in) + ` AND ($3 = '' OR take_id = $3) ORDER BY made_at, id`
	return list(ctx, r.read, func(w row) (m studio.Remark, err error) {
		return m, w.Scan(&m.ID, &m.Studio, &m.Family, &m.Take, &m.By, asJSON{&m.Anchor}, &m.Text, &m.Media, stamp{&m.Made})
	}, q, in.Studio(), in.Family(), take)
}
