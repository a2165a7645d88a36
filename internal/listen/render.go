package listen

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"

	"antiphon/internal/media"
	"antiphon/internal/studio"
)

// render makes what pages play and draw of a clean take: the outline first, since it is quick, then the
// picture, then what every browser plays. What is there already is not made again.
func (h *Hands) render(ctx context.Context, v studio.Viewer, id studio.TakeID) error {
	ms, err := h.desk.Files(ctx, v, id)
	if err != nil {
		return unlessOver(err)
	}
	has := func(kind studio.MediaKind) bool {
		return slices.ContainsFunc(ms, func(m studio.Media) bool { return m.Kind == kind })
	}
	i := slices.IndexFunc(ms, func(m studio.Media) bool { return m.Kind == studio.Original && m.Clean })
	if i < 0 {
		return nil // it could not be read, so nothing can be made of it
	}
	path, done, err := h.fetched(ctx, v, ms[i])
	if err != nil {
		return unlessOver(err)
	}
	defer done()
	tracks, err := media.Examine(ctx, path, h.o.Media)
	if err != nil {
		return unlessBlamed(err)
	}
	keep := func(kind studio.MediaKind, mediaType string, b []byte) error {
		_, err := h.desk.KeepRendition(ctx, v, id, kind, mediaType, bytes.NewReader(b))
		return err
	}
	if !has(studio.Peaks) && tracks.Sound != "" {
		pcm, _, err := media.Decode(ctx, path, h.o.Media)
		if blame(err) != "" {
			return nil // too long or damaged: it was set aside with the reason, and nothing can be made of it
		}
		if err == nil {
			err = keep(studio.Peaks, PeaksType, Peaks(pcm))
		}
		if err = unlessOver(err); err != nil {
			return err
		}
	}
	if !has(studio.Poster) && tracks.Video != "" {
		b, err := media.Poster(ctx, path, filepath.Dir(path), tracks, tracks.LengthS/3, h.o.Media)
		if err == nil && b != nil {
			err = keep(studio.Poster, "image/jpeg", b)
		}
		if err = unlessBlamed(unlessOver(err)); err != nil {
			return err
		}
	}
	if has(studio.Playable) || tracks.PlaysEverywhere() && tracks.Light() {
		return nil // the clean original is what pages play
	}
	r, err := media.Rendition(ctx, path, filepath.Dir(path), tracks, h.o.Media)
	if err != nil {
		return unlessBlamed(err)
	}
	out, err := os.Open(r.Path)
	if err != nil {
		return err
	}
	_, err = h.desk.KeepRendition(ctx, v, id, studio.Playable, r.Type, out)
	return unlessOver(errors.Join(err, out.Close()))
}

// unlessBlamed forgives what a recording itself is to blame for: a page then shows what there is.
func unlessBlamed(err error) error {
	if blame(err) != "" {
		return nil
	}
	return err
}

// Player picks what a page plays of a take's files: the rendition, or until that is there the clean
// original where most browsers play it as it is. False: nothing yet.
func Player(ms []studio.Media) (studio.Media, bool) {
	var found studio.Media
	for _, m := range ms {
		switch {
		case m.Kind == studio.Playable:
			return m, true
		case m.Kind == studio.Original && m.Clean && playsNow(m.Type):
			found = m
		}
	}
	return found, found.ID != ""
}

// playsNow says whether most browsers play the type.
func playsNow(mediaType string) bool {
	return slices.Contains([]string{"audio/mp4", "audio/mpeg", "audio/wav", "audio/flac", "audio/ogg", "audio/webm", "audio/aac",
		"video/mp4", `video/mp4; codecs="hvc1"`, "video/webm"}, mediaType)
}
