package studio

import (
	"context"
	"errors"
	"io"
	"math"
	"slices"
	"strings"
)

const (
	itsTheLessons   = "Lessons are the teacher's."
	longestCaptions = 200_000 // bytes: an hour of speech
)

// draftItem is a draft in which an item may be recorded.
func (d *Desk) draftItem(ctx context.Context, r Records, v Viewer, id LessonID, a AssignmentID) (Lesson, error) {
	l, err := r.Lesson(ctx, v.scope(), id)
	if err != nil {
		return l, err
	}
	if !l.Sent.IsZero() {
		return l, &Problem{Kind: Conflict, Say: "This lesson has been sent. What is recorded in it stays; take the lesson back, or say more in the next one."}
	}
	if a != "" && !slices.ContainsFunc(l.Assignments, func(x Assignment) bool { return x.ID == a }) {
		return l, invalid("This task does not stand in the lesson any more. Save the lesson, then record it.")
	}
	return l, nil
}

// mayKeep gives the draft in which a file of one item may be kept.
func (d *Desk) mayKeep(ctx context.Context, v Viewer, id LessonID, a AssignmentID, mediaType string) (Lesson, error) {
	if err := v.must(itsTheLessons, Teacher); err != nil {
		return Lesson{}, err
	}
	if err := Allowed(Student{Media: FullVideo}, mediaType); err != nil {
		return Lesson{}, err
	}
	if err := d.spare(ctx, 0); err != nil {
		return Lesson{}, err
	}
	return d.draftItem(ctx, d.store, v, id, a)
}

// MayAnswer says before the first byte, and not after the last, why what the teacher recorded of one item of a
// draft would not be kept. Nothing is announced by it.
func (d *Desk) MayAnswer(ctx context.Context, v Viewer, lesson LessonID, a AssignmentID, mediaType string, bytes int64) error {
	l, err := d.mayKeep(ctx, v, lesson, a, mediaType)
	if err == nil {
		err = d.familyRoom(ctx, d.store, v, Media{Studio: l.Studio, Family: l.Family, Bytes: bytes})
	}
	return problemOf(err)
}

// keepItem keeps a file of one item of a draft instead of an older one; then writes what goes with it.
func (d *Desk) keepItem(ctx context.Context, v Viewer, id LessonID, a AssignmentID, kind MediaKind, mediaType string, body io.Reader, then func(tx Records, l Lesson, m Media) error) (Media, error) {
	l, err := d.mayKeep(ctx, v, id, a, mediaType)
	if err != nil {
		return Media{}, problemOf(err)
	}
	m := Media{Studio: l.Studio, Family: l.Family, Student: l.Student, Lesson: l.ID, Kind: kind, What: string(a), Type: mediaType}
	if err := d.keepFile(ctx, &m, body, d.o.MaxTakeBytes); err != nil {
		return Media{}, problemOf(err)
	}
	err = d.store.Within(ctx, func(tx Records) error {
		if m.Bytes == 0 {
			return invalid("Nothing arrived: the recording is empty. Record it again.")
		}
		if _, err := d.draftItem(ctx, tx, v, id, a); err != nil {
			return err
		}
		if err := d.dropItem(ctx, tx, l, kind, string(a)); err != nil {
			return err
		}
		if err := d.familyRoom(ctx, tx, v, m); err != nil {
			return err
		}
		if err := tx.AddMedia(ctx, m); err != nil {
			return err
		}
		if err := then(tx, l, m); err != nil {
			return err
		}
		return d.jobs.Enqueue(ctx, tx, Job{Kind: JobClean, Studio: m.Studio})
	})
	if err != nil {
		return Media{}, problemOf(errors.Join(err, d.dropStray(context.WithoutCancel(ctx), m)))
	}
	return m, nil
}

// dropItem removes the files of a kind that one item of a lesson has.
func (d *Desk) dropItem(ctx context.Context, tx Records, l Lesson, kind MediaKind, what string) error {
	ms, err := tx.MediaOfLesson(ctx, OneFamily(l.Studio, l.Family), l.ID)
	if err != nil {
		return err
	}
	for _, m := range ms {
		if m.Kind != kind || m.What != what {
			continue
		}
		if err := d.drop(ctx, tx, m); err != nil {
			return err
		}
		if err := d.jobs.Enqueue(ctx, tx, Job{Kind: JobSweep, Studio: m.Studio}); err != nil {
			return err
		}
	}
	return nil
}

// KeepAnswer keeps what the teacher recorded of one item of a draft, "" for its opening words, instead of
// what was recorded before. When it returns nil the recording is safe.
func (d *Desk) KeepAnswer(ctx context.Context, v Viewer, lesson LessonID, a AssignmentID, mediaType string, body io.Reader) (Answer, error) {
	var made Answer
	_, err := d.keepItem(ctx, v, lesson, a, ItemAnswer, mediaType, body, func(tx Records, l Lesson, m Media) error {
		made = Answer{Lesson: lesson, Assignment: a, Studio: m.Studio, Family: m.Family, Media: m.ID, Type: mediaType, Made: m.Made}
		if err := tx.PutAnswer(ctx, made); err != nil {
			return err
		}
		return d.unfilm(ctx, tx, l)
	})
	if err != nil {
		return Answer{}, err
	}
	return made, nil
}

// KeepRecording keeps a recording that is to be listened to, with a task of a draft, instead of an older one.
func (d *Desk) KeepRecording(ctx context.Context, v Viewer, lesson LessonID, a AssignmentID, mediaType string, body io.Reader) (Media, error) {
	if a == "" {
		return Media{}, invalid("A recording to hear belongs to a task.")
	}
	return d.keepItem(ctx, v, lesson, a, ToHear, mediaType, body, func(Records, Lesson, Media) error { return nil })
}

// Answers lists what was recorded of a lesson, the opening words first; for a family of one that was sent.
func (d *Desk) Answers(ctx context.Context, v Viewer, lesson LessonID) ([]Answer, error) {
	l, err := d.lessonFor(ctx, v, lesson)
	if err != nil {
		return nil, problemOf(err)
	}
	as, err := d.store.Answers(ctx, OneFamily(l.Studio, l.Family), lesson)
	if err != nil {
		return nil, problemOf(err)
	}
	place := map[AssignmentID]int{"": -1}
	for i, a := range l.Assignments {
		place[a.ID] = i
	}
	as = slices.DeleteFunc(as, func(a Answer) bool { _, there := place[a.Assignment]; return !there || a.Media == "" })
	slices.SortFunc(as, func(a, b Answer) int { return place[a.Assignment] - place[b.Assignment] })
	return as, nil
}

// Torn are the items of a lesson, "" the opening words, of which a recording came that nobody can play. It was
// not kept; a new one puts it right.
func (d *Desk) Torn(ctx context.Context, v Viewer, lesson LessonID) ([]AssignmentID, error) {
	if err := v.must(itsTheLessons, Teacher); err != nil {
		return nil, err
	}
	as, err := d.store.Answers(ctx, v.scope(), lesson)
	if err != nil {
		return nil, problemOf(err)
	}
	var torn []AssignmentID
	for _, a := range as {
		if a.Media == "" {
			torn = append(torn, a.Assignment)
		}
	}
	return torn, nil
}

// lessonFor is a lesson that v may see.
func (d *Desk) lessonFor(ctx context.Context, v Viewer, id LessonID) (Lesson, error) {
	l, err := d.store.Lesson(ctx, v.scope(), id)
	if err == nil && l.Sent.IsZero() && v.Role != Teacher && v.Role != Ear {
		err = ErrNotFound
	}
	return l, err
}

// RemoveAnswer removes what was recorded of one item of a draft.
func (d *Desk) RemoveAnswer(ctx context.Context, v Viewer, lesson LessonID, a AssignmentID) error {
	if err := v.must(itsTheLessons, Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		l, err := d.draftItem(ctx, tx, v, lesson, "")
		if err != nil {
			return err
		}
		if err := tx.RemoveAnswer(ctx, v.scope(), lesson, a); err != nil {
			return err
		}
		if err := d.unfilm(ctx, tx, l); err != nil {
			return err
		}
		return d.dropItem(ctx, tx, l, ItemAnswer, string(a))
	}))
}

// RemoveRecording removes what was to be listened to with a task of a draft.
func (d *Desk) RemoveRecording(ctx context.Context, v Viewer, lesson LessonID, a AssignmentID) error {
	if err := v.must(itsTheLessons, Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		l, err := d.draftItem(ctx, tx, v, lesson, "")
		if err != nil {
			return err
		}
		return d.dropItem(ctx, tx, l, ToHear, string(a))
	}))
}

// CaptionAnswer keeps what is said in an answer in writing: WebVTT, or plain text. It may be written after
// the lesson was sent.
func (d *Desk) CaptionAnswer(ctx context.Context, v Viewer, lesson LessonID, a AssignmentID, text string) error {
	if err := v.must(itsTheLessons, Teacher); err != nil {
		return err
	}
	if text = strings.TrimSpace(plain(strings.ReplaceAll(text, "\r\n", "\n"))); len(text) > longestCaptions {
		return invalid("Captions may have %d letters.", longestCaptions)
	}
	return d.changeAnswer(ctx, v, lesson, a, func(x *Answer) { x.Captions = text })
}

// MeasureAnswer keeps how long an answer lasts.
func (d *Desk) MeasureAnswer(ctx context.Context, v Viewer, lesson LessonID, a AssignmentID, durationS float64) error {
	if err := v.must(itsTheEars, Ear); err != nil {
		return err
	}
	if !(durationS >= 0) || math.IsInf(durationS, 0) {
		return invalid("A recording does not last %v seconds.", durationS)
	}
	return d.changeAnswer(ctx, v, lesson, a, func(x *Answer) { x.DurationS = durationS })
}

func (d *Desk) changeAnswer(ctx context.Context, v Viewer, lesson LessonID, a AssignmentID, change func(*Answer)) error {
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		as, err := tx.Answers(ctx, v.scope(), lesson)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(as, func(x Answer) bool { return x.Assignment == a })
		if i < 0 {
			return ErrNotFound
		}
		change(&as[i])
		return tx.PutAnswer(ctx, as[i])
	}))
}
