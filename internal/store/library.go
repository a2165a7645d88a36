package store

import (
	"context"

	"antiphon/internal/studio"
)

func (r records) AddWork(ctx context.Context, w studio.Work) error {
	var exercise int64
	if w.Exercise {
		exercise = 1
	}
	return exec(ctx, r.write, `
		INSERT INTO works (id, studio_id, title, composer, exercise, recipe, score, rights, added_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		w.ID, w.Studio, w.Title, w.Composer, exercise, w.Recipe, w.Score, w.Rights, micros(w.Added))
}

func scanWork(r row) (w studio.Work, err error) {
	var exercise int64
	err = r.Scan(&w.ID, &w.Studio, &w.Title, &w.Composer, &exercise, &w.Recipe, &w.Score, &w.Rights, stamp{&w.Added})
	w.Exercise = exercise != 0
	return w, err
}

func (r records) Work(ctx context.Context, s studio.StudioID, id studio.WorkID) (studio.Work, error) {
	return one(ctx, r.read, scanWork, `
		SELECT id, studio_id, title, composer, exercise, recipe, score, rights, added_at
		FROM works WHERE studio_id = $1 AND id = $2`, s, id)
}

func (r records) Works(ctx context.Context, s studio.StudioID) ([]studio.Work, error) {
	return list(ctx, r.read, scanWork, `
		SELECT id, studio_id, title, composer, exercise, recipe, '', rights, added_at
		FROM works WHERE studio_id = $1 ORDER BY added_at, id`, s)
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
