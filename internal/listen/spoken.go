package listen

import (
	"context"
	"errors"
	"os"
	"slices"
	"strings"

	"antiphon/internal/media"
	"antiphon/internal/studio"
)

// cleanSpoken takes off what the recorded remarks on a take tell of place and device.
func (h *Hands) cleanSpoken(ctx context.Context, v studio.Viewer, id studio.TakeID) error {
	ms, err := h.desk.Files(ctx, v, id)
	if err != nil {
		return unlessOver(err)
	}
	var all error
	for _, m := range ms {
		if m.Kind == studio.Spoken && !m.Clean {
			all = errors.Join(all, h.cleanRemark(ctx, v, m))
		}
	}
	return all
}

// cleanOlder does it for all that people said, in remarks, answers and voice notes, also where a job was given
// up or an older program kept it.
func (h *Hands) cleanOlder(ctx context.Context, v studio.Viewer) error {
	ms, err := h.desk.Unclean(ctx, v)
	if err != nil {
		return err
	}
	var all error
	for _, m := range ms {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		all = errors.Join(all, h.cleanRemark(ctx, v, m))
	}
	return all
}

// unplayable is what no other machine, and no later hour, would make better.
func unplayable(err error) bool {
	e, ok := errors.AsType[*media.Error](err)
	return ok && slices.Contains([]media.Kind{media.Empty, media.NotMedia, media.Broken, media.NoSound}, e.Kind)
}

// cleanRemark keeps what was said without what it told, as every browser plays it. What nobody could play is
// said in the remark instead.
func (h *Hands) cleanRemark(ctx context.Context, v studio.Viewer, m studio.Media) error {
	dir, done, err := h.workplace()
	if err != nil {
		return err
	}
	defer done()
	f, err := h.desk.Bytes(ctx, v, m)
	if err != nil {
		return unlessOver(err)
	}
	path, err := fetch(ctx, f, dir)
	if err != nil {
		return err
	}
	soundOnly := strings.HasPrefix(m.Type, "audio/")
	c, err := media.Strip(ctx, path, dir, soundOnly, h.o.Media)
	if unplayable(err) {
		return unlessOver(h.desk.LoseSpoken(ctx, v, m))
	}
	if err != nil {
		return err
	}
	if c.Tracks.Video == "" && !c.Tracks.PlaysEverywhere() { // what is only said is short, and nobody makes anything else of it later
		r, err := media.Rendition(ctx, c.Path, dir, c.Tracks, h.o.Media)
		if err != nil {
			return err
		}
		c = media.Clean(r)
	}
	r, err := os.Open(c.Path)
	if err != nil {
		return err
	}
	_, err = h.desk.ReplaceSpoken(ctx, v, m, c.Type, r)
	if err = errors.Join(unlessOver(err), r.Close()); err != nil || m.Kind != studio.ItemAnswer {
		return err
	}
	return unlessOver(h.desk.MeasureAnswer(ctx, v, m.Lesson, studio.AssignmentID(m.What), c.Tracks.LengthS))
}
