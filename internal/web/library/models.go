package library

import (
	"context"
	"errors"
	"net/http"
	"slices"

	"antiphon/internal/listen"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// addModel takes in the teacher's own take of a work, as one file. A browser with scripts sends it in
// pieces instead. POST /library/works/{work}/models
func (l *library) addModel(w http.ResponseWriter, r *http.Request) error {
	page.Takes(w, r, 0) // the studio counts
	kind, body, err := page.Recording(r)
	if err != nil {
		return err
	}
	if _, err := l.desk().ReceiveModel(r.Context(), page.Viewer(r), workID(r), kind, body); err != nil {
		return err
	}
	return see(w, r, workAddress(workID(r))+"#models")
}

// modelArrived leads back to the work once a take that came in pieces is here.
// GET /library/works/{work}/models/{take}
func (l *library) modelArrived(w http.ResponseWriter, r *http.Request) error {
	return see(w, r, workAddress(workID(r))+"#models")
}

// removeModel deletes one. POST /library/works/{work}/models/{take}/remove
func (l *library) removeModel(w http.ResponseWriter, r *http.Request) error {
	ctx, v, id := r.Context(), page.Viewer(r), studio.TakeID(r.PathValue("take"))
	models, err := l.models(ctx, v, workID(r))
	if err != nil {
		return err
	}
	// A family's take is not deleted from here, whatever the address says.
	if slices.ContainsFunc(models, func(m studio.ModelTake) bool { return m.ID == id }) {
		if _, err := l.desk().DeleteTake(ctx, v, id); gone(err) != nil {
			return err
		}
	}
	return see(w, r, workAddress(workID(r))+"#models")
}

// gone forgives that something to be removed is not there any more: the second of two equal posts.
func gone(err error) error {
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind == studio.NotFound {
		return nil
	}
	return err
}

// models are the teacher's takes of a work, each with the one file that a page plays, if it is there yet.
func (l *library) models(ctx context.Context, v studio.Viewer, w studio.WorkID) ([]studio.ModelTake, error) {
	all, err := l.desk().ModelTakes(ctx, v, w)
	for i := range all {
		m, ok := listen.Player(all[i].Media)
		all[i].Media = nil
		if ok {
			all[i].Media = []studio.Media{m}
		}
	}
	return all, err
}
