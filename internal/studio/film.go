package studio

import (
	"context"
	"errors"
	"io"
	"slices"
)

const (
	// JobFilm makes one film of the answers of Lesson.
	JobFilm JobKind = "film"
	// JobClip cuts what ClipsToCut lists of Lesson.
	JobClip JobKind = "clip"
)

// Film of a lesson; NoFilm where nothing was recorded. A family sees that of a lesson that was sent.
func (d *Desk) Film(ctx context.Context, v Viewer, lesson LessonID) (Film, error) {
	l, err := d.lessonFor(ctx, v, lesson)
	if err != nil {
		return Film{}, problemOf(err)
	}
	f, err := d.store.Film(ctx, OneFamily(l.Studio, l.Family), lesson)
	if errors.Is(err, ErrNotFound) {
		return Film{Lesson: lesson, Studio: l.Studio, Family: l.Family}, nil
	}
	return f, problemOf(err)
}

// MakeFilm has the film of a lesson made, or made anew. Nothing recorded: nothing is made.
func (d *Desk) MakeFilm(ctx context.Context, v Viewer, lesson LessonID) error {
	if err := v.must(itsTheLessons, Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		l, err := tx.Lesson(ctx, v.scope(), lesson)
		if err != nil {
			return err
		}
		return d.film(ctx, tx, l)
	}))
}

// film asks for it in a transaction.
func (d *Desk) film(ctx context.Context, tx Records, l Lesson) error {
	in := OneFamily(l.Studio, l.Family)
	as, err := tx.Answers(ctx, in, l.ID)
	if err != nil || !slices.ContainsFunc(as, func(a Answer) bool { return a.Media != "" }) {
		return err
	}
	f, err := tx.Film(ctx, in, l.ID)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return err
	}
	f.Lesson, f.Studio, f.Family, f.State, f.Why = l.ID, l.Studio, l.Family, FilmMaking, ""
	if err := tx.PutFilm(ctx, f); err != nil {
		return err
	}
	return d.jobs.Enqueue(ctx, tx, Job{Kind: JobFilm, Studio: l.Studio, Lesson: l.ID})
}

// unfilm forgets the film of a lesson in which something was recorded anew or taken out: nobody is to hear in it what is
// not said any more.
func (d *Desk) unfilm(ctx context.Context, tx Records, l Lesson) error {
	in := OneFamily(l.Studio, l.Family)
	if err := tx.RemoveFilm(ctx, in, l.ID); err != nil && !errors.Is(err, ErrNotFound) {
		return err
	}
	return d.dropItem(ctx, tx, l, Filmed, "")
}

// KeepFilm keeps the film that was made, instead of an older one; or with FilmFailed and no body, why there
// is none.
func (d *Desk) KeepFilm(ctx context.Context, v Viewer, lesson LessonID, f Film, mediaType string, body io.Reader) (Film, error) {
	if err := v.must(itsTheEars, Ear); err != nil {
		return Film{}, err
	}
	l, err := d.store.Lesson(ctx, v.scope(), lesson)
	if err != nil {
		return Film{}, problemOf(err)
	}
	f.Lesson, f.Studio, f.Family, f.Media = l.ID, l.Studio, l.Family, ""
	if f.State == FilmFailed && body == nil {
		return f, problemOf(d.store.Within(ctx, func(tx Records) error {
			old, err := tx.Film(ctx, OneFamily(l.Studio, l.Family), l.ID)
			if err != nil && !errors.Is(err, ErrNotFound) {
				return err
			}
			f.Media, f.Chapters, f.DurationS = old.Media, old.Chapters, old.DurationS
			return tx.PutFilm(ctx, f)
		}))
	}
	f.State, f.Why = FilmReady, ""
	m := Media{Studio: l.Studio, Family: l.Family, Student: l.Student, Lesson: l.ID, Kind: Filmed, Type: mediaType}
	kept, err := d.putMedia(ctx, v, m, body, func(tx Records, m Media) (Media, error) {
		f.Media = m.ID
		if err := tx.PutFilm(ctx, f); err != nil {
			return Media{}, err
		}
		ms, err := tx.MediaOfLesson(ctx, OneFamily(l.Studio, l.Family), l.ID)
		if err != nil {
			return Media{}, err
		}
		if i := slices.IndexFunc(ms, func(x Media) bool { return x.Kind == Filmed }); i >= 0 {
			return ms[i], nil
		}
		return Media{}, nil
	})
	if err != nil {
		return Film{}, err
	}
	f.Media = kept.ID
	return f, nil
}

// ClipsToCut lists the clips of a lesson that are not cut yet, each once.
func (d *Desk) ClipsToCut(ctx context.Context, v Viewer, lesson LessonID) ([]Clip, error) {
	if err := v.must(itsTheEars, Ear); err != nil {
		return nil, err
	}
	l, err := d.store.Lesson(ctx, v.scope(), lesson)
	if err != nil {
		return nil, problemOf(err)
	}
	return l.uncut(), nil
}

func (l Lesson) uncut() []Clip {
	var all []Clip
	for i := range l.Assignments {
		for _, c := range l.Assignments[i].Clips() {
			if c.Media == "" && c.ready() == nil && !slices.ContainsFunc(all, func(x Clip) bool { return x.Key() == c.Key() }) {
				all = append(all, *c)
			}
		}
	}
	return all
}

// KeepClip keeps what was cut of a take for a lesson. It goes when the take or the lesson goes. One that is
// there already stays.
func (d *Desk) KeepClip(ctx context.Context, v Viewer, lesson LessonID, c Clip, mediaType string, body io.Reader) (Media, error) {
	if err := v.must(itsTheEars, Ear); err != nil {
		return Media{}, err
	}
	l, err := d.store.Lesson(ctx, v.scope(), lesson)
	if err != nil {
		return Media{}, problemOf(err)
	}
	m := Media{Studio: l.Studio, Family: l.Family, Student: l.Student, Lesson: l.ID, Kind: CutClip, What: c.Key(), Type: mediaType}
	t, err := d.store.Take(ctx, v.scope(), c.Take)
	switch {
	case err != nil:
		return Media{}, problemOf(err)
	case t.Student == l.Student:
		m.Take = t.ID
	case !t.Model():
		return Media{}, problemOf(ErrNotFound)
	}
	kept, err := d.putMedia(ctx, v, m, body, func(tx Records, _ Media) (Media, error) {
		ms, err := tx.MediaOfLesson(ctx, OneFamily(l.Studio, l.Family), l.ID)
		if err != nil {
			return Media{}, err
		}
		if i := slices.IndexFunc(ms, func(x Media) bool { return x.Kind == CutClip && x.What == c.Key() }); i >= 0 {
			return ms[i], nil
		}
		return Media{}, nil
	})
	return kept, err
}

// sortOut removes from a lesson that goes out what belongs to no task of it any more.
func (d *Desk) sortOut(ctx context.Context, tx Records, l Lesson) error {
	in := OneFamily(l.Studio, l.Family)
	ms, err := tx.MediaOfLesson(ctx, in, l.ID)
	if err != nil {
		return err
	}
	task, clip := map[string]bool{"": true}, map[string]bool{}
	for i := range l.Assignments {
		task[string(l.Assignments[i].ID)] = true
		for _, c := range l.Assignments[i].Clips() {
			clip[c.Key()] = true
		}
	}
	gone := 0
	for _, m := range ms {
		if m.Kind == Filmed || m.Kind == CutClip && clip[m.What] || m.Kind != CutClip && task[m.What] {
			continue
		}
		if m.Kind == ItemAnswer {
			if err := tx.RemoveAnswer(ctx, in, l.ID, AssignmentID(m.What)); err != nil && !errors.Is(err, ErrNotFound) {
				return err
			}
			if err := d.unfilm(ctx, tx, l); err != nil {
				return err
			}
		}
		if err := d.drop(ctx, tx, m); err != nil {
			return err
		}
		gone++
	}
	if gone == 0 {
		return nil
	}
	return d.jobs.Enqueue(ctx, tx, Job{Kind: JobSweep, Studio: l.Studio})
}
