package store

import (
	"context"
	"encoding/json"

	"antiphon/internal/studio"
)

func (r records) AddWork(ctx context.Context, w studio.Work) error {
	if err := exec(ctx, r.write, `
		INSERT INTO works (id, studio_id, title, composer, exercise, recipe, rights, added_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
		w.ID, w.Studio, w.Title, w.Composer, bit(w.Exercise), w.Recipe, w.Rights, micros(w.Added)); err != nil {
		return err
	}
	return r.putScore(ctx, w)
}

func (r records) PutWork(ctx context.Context, w studio.Work) error {
	if err := change(ctx, r.write, studio.ErrNotFound, `
		UPDATE works SET title = $3, composer = $4, exercise = $5, recipe = $6, rights = $7 WHERE studio_id = $1 AND id = $2`,
		w.Studio, w.ID, w.Title, w.Composer, bit(w.Exercise), w.Recipe, w.Rights); err != nil {
		return err
	}
	return r.putScore(ctx, w)
}

func (r records) putScore(ctx context.Context, w studio.Work) error {
	if err := exec(ctx, r.write, `UPDATE work_plans SET fresh = 0 WHERE studio_id = $1 AND work_id = $2`, w.Studio, w.ID); err != nil {
		return err
	}
	if w.Score == "" {
		return exec(ctx, r.write, `DELETE FROM scores WHERE studio_id = $1 AND work_id = $2`, w.Studio, w.ID)
	}
	return change(ctx, r.write, studio.ErrNotFound, `
		INSERT INTO scores (studio_id, work_id, score) VALUES ($1, $2, $3)
		ON CONFLICT (work_id) DO UPDATE SET score = excluded.score WHERE scores.studio_id = excluded.studio_id`, w.Studio, w.ID, w.Score)
}

func scanWork(r row) (w studio.Work, err error) {
	return w, r.Scan(&w.ID, &w.Studio, &w.Title, &w.Composer, asBool{&w.Exercise}, &w.Recipe, &w.Score, &w.Rights, stamp{&w.Added})
}

func (r records) Work(ctx context.Context, s studio.StudioID, id studio.WorkID) (studio.Work, error) {
	return one(ctx, r.read, scanWork, `
		SELECT id, studio_id, title, composer, exercise, recipe,
			COALESCE((SELECT score FROM scores AS c WHERE c.studio_id = works.studio_id AND c.work_id = works.id), ''), rights, added_at
		FROM works WHERE studio_id = $1 AND id = $2 AND id <> studio_id`, s, id)
}

func (r records) Works(ctx context.Context, s studio.StudioID) ([]studio.Work, error) {
	return list(ctx, r.read, scanWork, `
		SELECT id, studio_id, title, composer, exercise, recipe, '', rights, added_at
		FROM works WHERE studio_id = $1 AND id <> studio_id ORDER BY added_at, id`, s)
}

// Candidates: the newest lesson in which a work was asked of the student says where it stands.
func (r records) Candidates(ctx context.Context, s studio.StudioID, student studio.StudentID, most int) ([]studio.Work, error) {
	return list(ctx, r.read, scanWork, `
		SELECT w.id, w.studio_id, w.title, w.composer, w.exercise, w.recipe, c.score, w.rights, w.added_at
		FROM works AS w JOIN scores AS c ON c.studio_id = w.studio_id AND c.work_id = w.id
		LEFT JOIN (
			SELECT a.work_id AS work_id, max(l.day) AS day FROM lessons AS l JOIN assignments AS a ON a.lesson_id = l.id
			WHERE l.studio_id = $1 AND l.student_id = $2 AND l.sent_at <> 0 GROUP BY a.work_id
		) AS asked ON asked.work_id = w.id
		WHERE w.studio_id = $1
		ORDER BY COALESCE(asked.day, '') DESC, w.added_at, w.id`+limit(most), s, student)
}

func (r records) AddPassage(ctx context.Context, p studio.Passage) error {
	return exec(ctx, r.write, `INSERT INTO passages (id, studio_id, work_id, name, from_bar, to_bar) VALUES ($1, $2, $3, $4, $5, $6)`,
		p.ID, p.Studio, p.Work, p.Name, p.FromBar, p.ToBar)
}

func (r records) Passages(ctx context.Context, s studio.StudioID, w studio.WorkID) ([]studio.Passage, error) {
	return list(ctx, r.read, func(w row) (p studio.Passage, err error) {
		return p, w.Scan(&p.ID, &p.Studio, &p.Work, &p.Name, &p.FromBar, &p.ToBar)
	}, `SELECT id, studio_id, work_id, name, from_bar, to_bar FROM passages WHERE studio_id = $1 AND work_id = $2 ORDER BY name, id`, s, w)
}

func (r records) RemovePassage(ctx context.Context, s studio.StudioID, id studio.PassageID) error {
	return change(ctx, r.write, studio.ErrNotFound, `DELETE FROM passages WHERE studio_id = $1 AND id = $2`, s, id)
}

func (r records) PutOwnRemedy(ctx context.Context, s studio.StudioID, id string, doc json.RawMessage) error {
	if doc == nil {
		return exec(ctx, r.write, `DELETE FROM own_remedies WHERE studio_id = $1 AND id = $2`, s, id)
	}
	return exec(ctx, r.write, `
		INSERT INTO own_remedies (studio_id, id, doc) VALUES ($1, $2, $3)
		ON CONFLICT (studio_id, id) DO UPDATE SET doc = excluded.doc`, s, id, string(doc))
}

func (r records) OwnRemedies(ctx context.Context, s studio.StudioID) (map[string]json.RawMessage, error) {
	type entry struct {
		id  string
		doc json.RawMessage
	}
	es, err := list(ctx, r.read, func(w row) (e entry, err error) { return e, w.Scan(&e.id, asJSON{&e.doc}) },
		`SELECT id, doc FROM own_remedies WHERE studio_id = $1`, s)
	all := map[string]json.RawMessage{}
	for _, e := range es {
		all[e.id] = e.doc
	}
	return all, err
}

func (r records) PutCollection(ctx context.Context, c studio.Collection) error {
	err := change(ctx, r.write, studio.ErrNotFound, `
		INSERT INTO collections (id, studio_id, name) VALUES ($1, $2, $3)
		ON CONFLICT (id) DO UPDATE SET name = excluded.name WHERE collections.studio_id = excluded.studio_id`,
		c.ID, c.Studio, c.Name)
	if err != nil {
		return err
	}
	if err := exec(ctx, r.write, `DELETE FROM collection_items WHERE studio_id = $1 AND collection_id = $2`, c.Studio, c.ID); err != nil {
		return err
	}
	for i, it := range c.Items {
		if err := exec(ctx, r.write, `INSERT INTO collection_items (studio_id, collection_id, place, work_id) VALUES ($1, $2, $3, $4)`,
			c.Studio, c.ID, i, it.Work); err != nil {
			return err
		}
		for _, after := range it.After {
			if err := exec(ctx, r.write, `INSERT INTO collection_after (studio_id, collection_id, work_id, after_id) VALUES ($1, $2, $3, $4)`,
				c.Studio, c.ID, it.Work, after); err != nil {
				return err
			}
		}
	}
	return nil
}

func (r records) Collections(ctx context.Context, s studio.StudioID) ([]studio.Collection, error) {
	all, err := list(ctx, r.read, func(w row) (c studio.Collection, err error) {
		return c, w.Scan(&c.ID, &c.Studio, &c.Name)
	}, `SELECT id, studio_id, name FROM collections WHERE studio_id = $1 ORDER BY name, id`, s)
	if err != nil {
		return nil, err
	}
	at := map[studio.CollectionID]*studio.Collection{}
	for i := range all {
		at[all[i].ID] = &all[i]
	}
	type line struct {
		in    studio.CollectionID
		work  studio.WorkID
		after studio.WorkID
	}
	lines, err := list(ctx, r.read, func(w row) (l line, err error) {
		return l, w.Scan(&l.in, &l.work, &l.after)
	}, `
		SELECT i.collection_id, i.work_id, COALESCE(a.after_id, '')
		FROM collection_items AS i
		LEFT JOIN collection_after AS a ON a.studio_id = i.studio_id AND a.collection_id = i.collection_id AND a.work_id = i.work_id
		LEFT JOIN collection_items AS b ON b.studio_id = a.studio_id AND b.collection_id = a.collection_id AND b.work_id = a.after_id
		WHERE i.studio_id = $1 ORDER BY i.collection_id, i.place, b.place`, s)
	if err != nil {
		return nil, err
	}
	for _, l := range lines {
		c := at[l.in]
		if c == nil {
			continue // put between the two questions; the next look shows it
		}
		if n := len(c.Items); n == 0 || c.Items[n-1].Work != l.work {
			c.Items = append(c.Items, studio.CollectionItem{Work: l.work})
		}
		if it := &c.Items[len(c.Items)-1]; l.after != "" {
			it.After = append(it.After, l.after)
		}
	}
	return all, nil
}
