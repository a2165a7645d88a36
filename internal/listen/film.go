package listen

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"antiphon/internal/engrave"
	"antiphon/internal/media"
	"antiphon/internal/studio"
)

// errRetaken is a film of what was recorded anew meanwhile: it is made once more.
var errRetaken = errors.New("what was filmed was recorded anew meanwhile")

// film makes one film of a lesson's answers, with a chapter for each. What a recording is to blame for is
// said with the lesson.
func (h *Hands) film(ctx context.Context, v studio.Viewer, id studio.LessonID) error {
	if err := h.cleanOlder(ctx, v); err != nil { // nothing is filmed that still tells its place
		return err
	}
	answers, err := h.desk.Answers(ctx, v, id)
	if err != nil || len(answers) == 0 {
		return unlessOver(err) // nothing is recorded any more: the film went with it
	}
	lesson, err := h.desk.Lesson(ctx, v, id)
	if err != nil {
		return unlessOver(err)
	}
	dir, done, err := h.workplace()
	if err != nil {
		return err
	}
	defer done()
	items, err := h.filmItems(ctx, v, lesson, answers, dir)
	if err != nil && unlessOver(err) == nil {
		return errors.Join(errRetaken, err) // it was recorded anew between the list and the file
	}
	if err != nil {
		return err
	}
	j, err := media.Film(ctx, items, dir, media.FilmOptions{Media: media.Options{MaxBytes: h.o.Media.MaxBytes, Timeout: h.o.Media.Timeout}})
	if say := unfilmed(err, items); say != "" {
		_, err := h.desk.KeepFilm(ctx, v, id, studio.Film{State: studio.FilmFailed, Why: say}, "", nil)
		return unlessOver(err)
	}
	if err != nil {
		return err
	}
	now, err := h.desk.Answers(ctx, v, id)
	if err != nil {
		return unlessOver(err)
	}
	if !slices.EqualFunc(now, answers, func(a, b studio.Answer) bool { return a.Media == b.Media && a.Assignment == b.Assignment }) {
		return errRetaken
	}
	f := studio.Film{DurationS: j.DurationS}
	for i, c := range j.Chapters {
		f.Chapters = append(f.Chapters, studio.Chapter{Assignment: answers[i].Assignment, FromS: c.FromS, ToS: c.ToS})
	}
	return h.keepFilm(ctx, v, lesson, f, j)
}

func (h *Hands) keepFilm(ctx context.Context, v studio.Viewer, l studio.Lesson, f studio.Film, j media.Joined) error {
	r, err := os.Open(j.Path)
	if err != nil {
		return err
	}
	_, err = h.desk.KeepFilm(ctx, v, l.ID, f, j.Type, r)
	return unlessOver(errors.Join(err, r.Close()))
}

// filmItems copies the answers to where a caged program may read them.
func (h *Hands) filmItems(ctx context.Context, v studio.Viewer, l studio.Lesson, answers []studio.Answer, dir string) ([]media.FilmItem, error) {
	var items []media.FilmItem
	for i, a := range answers {
		f, err := h.desk.Bytes(ctx, v, studio.Media{ID: a.Media, Studio: a.Studio, Family: a.Family})
		if err != nil {
			return nil, err
		}
		place := filepath.Join(dir, fmt.Sprint("item-", i))
		if err := os.Mkdir(place, 0o700); err != nil {
			return nil, errors.Join(err, f.Close())
		}
		path, err := fetch(ctx, f, place)
		if err != nil {
			return nil, err
		}
		title := h.titleOf(ctx, v, l, a.Assignment)
		items = append(items, media.FilmItem{Path: path, Card: func(w, height int) ([]byte, error) { return engrave.Card(title, w, height) }})
	}
	return items, nil
}

// titleOf is what the card of an item says: its number and its work. It needs no language.
func (h *Hands) titleOf(ctx context.Context, v studio.Viewer, l studio.Lesson, id studio.AssignmentID) string {
	i := slices.IndexFunc(l.Assignments, func(a studio.Assignment) bool { return a.ID == id })
	if i < 0 {
		return "" // the opening words
	}
	title := fmt.Sprint(i + 1)
	if w, err := h.desk.Work(ctx, v, l.Assignments[i].Work); l.Assignments[i].Work != "" && err == nil {
		title += ". " + w.Title
	}
	return title
}

// unfilmed is what a recording is to blame for, as one sentence for the teacher that says which item; ""
// where the fault is no recording's.
func unfilmed(err error, items []media.FilmItem) string {
	e, ok := errors.AsType[*media.Error](err)
	if !ok {
		return ""
	}
	at := slices.IndexFunc(items, func(it media.FilmItem) bool { return it.Path == e.Path })
	if at < 0 && e.Kind == media.TooLong {
		return "The items together are longer than a film can be. Shorten one, or send it in two lessons."
	}
	if at < 0 {
		return ""
	}
	switch e.Kind {
	case media.TooLong:
		return fmt.Sprintf("Recording %d of this lesson is longer than half an hour. Record a shorter one.", at+1)
	case media.Empty, media.NotMedia, media.Broken, media.NoSound, media.TooLarge, media.TooSlow:
		return fmt.Sprintf("Recording %d of this lesson cannot be played. Record it again.", at+1)
	}
	return ""
}

// clips cuts the clips of a lesson that are not cut yet. One whose take is gone, or ends before it, is left out.
func (h *Hands) clips(ctx context.Context, v studio.Viewer, id studio.LessonID) error {
	uncut, err := h.desk.ClipsToCut(ctx, v, id)
	if err != nil {
		return unlessOver(err)
	}
	var all error
	for _, c := range uncut {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err := h.clip(ctx, v, id, c); err != nil {
			all = errors.Join(all, fmt.Errorf("clip %s: %w", c.Key(), err))
		}
	}
	return all
}

// errNotClean is a take that is still to be heard, and cleaned by that.
var errNotClean = errors.New("the take is not clean yet")

func (h *Hands) clip(ctx context.Context, v studio.Viewer, lesson studio.LessonID, c studio.Clip) error {
	ms, err := h.desk.Files(ctx, v, c.Take)
	if err != nil {
		return unlessOver(err)
	}
	i := slices.IndexFunc(ms, func(m studio.Media) bool { return m.Kind == studio.Original })
	switch {
	case i < 0:
		return nil
	case !ms[i].Clean:
		return errNotClean
	}
	path, done, err := h.fetched(ctx, v, ms[i])
	if err != nil {
		return unlessOver(err)
	}
	defer done()
	t, err := media.Examine(ctx, path, h.o.Media)
	if err == nil {
		var r media.Rendered
		if r, err = media.Clip(ctx, path, filepath.Dir(path), c.FromS, c.ToS, t, h.o.Media); err == nil {
			return h.keepClip(ctx, v, lesson, c, r)
		}
	}
	if blame(err) != "" {
		h.o.Log.WarnContext(ctx, "a clip cannot be cut", "lesson", lesson, "clip", c.Key(), "err", err)
	}
	return unlessBlamed(err)
}

func (h *Hands) keepClip(ctx context.Context, v studio.Viewer, lesson studio.LessonID, c studio.Clip, r media.Rendered) error {
	f, err := os.Open(r.Path)
	if err != nil {
		return err
	}
	_, err = h.desk.KeepClip(ctx, v, lesson, c, r.Type, f)
	return unlessOver(errors.Join(err, f.Close()))
}
