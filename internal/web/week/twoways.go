package week

import (
	"errors"
	"html/template"

	"antiphon/internal/studio"
	"antiphon/internal/web/sheet"
)

// way is one of two to try.
type way struct {
	N     int
	Say   string
	Sheet template.HTML // the notes with its fingers; "" where they are none of its own
}

// twoWays adds two fingerings to try: each with its own notes where fingers were kept for one of them.
func (r *reader) twoWays(it *item, work studio.Work, a studio.Assignment) error {
	it.Shown = it.Sheet != "" && (a.Ways[0].Own != "" || a.Ways[1].Own != "")
	for i, w := range a.Ways {
		if w.Say == "" && w.Fingering == "" && w.Own == "" {
			continue
		}
		one := way{N: i + 1, Say: w.Say}
		if it.Shown {
			so, err := r.w.f.Desk().WorkIn(r.ctx, r.viewer, it.Student, work.ID, w.Own)
			if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind == studio.NotFound {
				so, err = work, nil // its music says so in its own place
			}
			if err != nil {
				return err
			}
			one.Sheet, err = sheet.Place(sheet.Placing{Work: work.ID, For: it.Student, Own: w.Own, Score: so.Score, Title: work.Title, From: a.FromBar, Until: a.ToBar, NoTitle: true, In: r.Tongue})
			if err != nil {
				return err
			}
		}
		it.Ways = append(it.Ways, one)
	}
	return nil
}
