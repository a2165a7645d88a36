package scenario

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"

	"antiphon/internal/rehearse"
	"antiphon/internal/studio"
)

// Record makes the recordings of past takes, one after the other until ctx ends. What is there is not
// made again.
func Record(ctx context.Context, desk *studio.Desk, of studio.StudioID, r *Recorder, later []Unheard) error {
	ear := studio.Viewer{Studio: of, Role: studio.Ear}
	var story map[string]rehearse.Spec
	for _, u := range later {
		if ctx.Err() != nil {
			return nil
		}
		files, err := desk.Files(ctx, ear, u.Take)
		if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind == studio.NotFound {
			continue // it was deleted meanwhile
		}
		if err != nil {
			return err
		}
		if slices.ContainsFunc(files, func(m studio.Media) bool { return m.Kind == studio.Original }) {
			continue
		}
		if story == nil {
			if story, err = past(); err != nil {
				return err
			}
		}
		spec, ok := story[u.Key]
		if !ok {
			return fmt.Errorf("scenario: %s is not in the story", u.Key)
		}
		if err := follow(ctx, desk, ear, r, u.Take, spec); err != nil && ctx.Err() == nil {
			return err
		}
	}
	return nil
}

func follow(ctx context.Context, desk *studio.Desk, ear studio.Viewer, r *Recorder, id studio.TakeID, spec rehearse.Spec) error {
	path, mediaType, drop, err := r.Record(spec)
	if err != nil {
		return err
	}
	defer drop()
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	err = desk.Follow(ctx, ear, id, mediaType, f)
	if p, ok := errors.AsType[*studio.Problem](err); ok && (p.Kind == studio.Conflict || p.Kind == studio.NotFound) {
		return nil // it came, or was deleted, meanwhile
	}
	return err
}

// past is how the takes of past weeks sound, by their keys.
func past() (map[string]rehearse.Spec, error) {
	all, err := Pieces()
	if err != nil {
		return nil, err
	}
	pieces := map[string]Piece{}
	for _, p := range all {
		pieces[p.Name] = p
	}
	out := map[string]rehearse.Spec{}
	for _, h := range Households() {
		for _, l := range h.Learners {
			for _, a := range l.Story(h.Name) {
				for _, s := range a.Sent {
					if a.Week == 0 {
						continue
					}
					if out[s.Key], err = Played(l, a.Asked[s.Line], s, pieces); err != nil {
						return nil, err
					}
				}
			}
		}
	}
	return out, nil
}
