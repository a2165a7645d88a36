package studio

import (
	"context"
	"errors"
	"io"
	"slices"
	"time"
)

// ReplaceOriginal keeps the original without what it told of place and device. Until then nothing of
// the take is served. The sum of what was sent stays, so that it is known when it comes again.
func (d *Desk) ReplaceOriginal(ctx context.Context, v Viewer, id TakeID, mediaType string, body io.Reader) (Media, error) {
	return d.putMedia(ctx, v, Media{Take: id, Kind: Original, Type: mediaType}, body, func(tx Records, m Media) (Media, error) {
		return mediaOf(ctx, tx, v.scope(), id, Original)
	})
}

// KeepRendition keeps what was made of an original, instead of an older one of its kind.
func (d *Desk) KeepRendition(ctx context.Context, v Viewer, id TakeID, kind MediaKind, mediaType string, body io.Reader) (Media, error) {
	if !slices.Contains([]MediaKind{Playable, Poster, Peaks}, kind) {
		return Media{}, invalid("%q is nothing that is made of a take.", kind)
	}
	return d.putMedia(ctx, v, Media{Take: id, Kind: kind, Type: mediaType}, body, func(tx Records, m Media) (Media, error) {
		old, err := mediaOf(ctx, tx, v.scope(), id, kind)
		if errors.Is(err, ErrNotFound) {
			return Media{}, nil
		}
		return old, err
	})
}

// putMedia keeps a file as m describes it, with its take or its student, instead of the one that find
// gives, if it gives one.
func (d *Desk) putMedia(ctx context.Context, v Viewer, m Media, body io.Reader, find func(tx Records, m Media) (Media, error)) (Media, error) {
	if err := v.must(itsTheEars, Ear); err != nil {
		return Media{}, err
	}
	if m.Type == "" || tidy(m.Type) != m.Type || len(m.Type) > longestType {
		return Media{}, invalid("%q is no media type.", m.Type)
	}
	if m.Student == "" {
		t, err := d.store.Take(ctx, v.scope(), m.Take)
		if err != nil {
			return Media{}, problemOf(err)
		}
		m.Studio, m.Family, m.Student = t.Studio, t.Family, t.Student
	}
	m.Clean = true
	// A rendition may be somewhat larger than what was sent.
	if err := d.keepFile(ctx, &m, body, 2*d.o.MaxTakeBytes); err != nil {
		return Media{}, problemOf(err)
	}
	err := d.store.Within(ctx, func(tx Records) error {
		if m.Bytes == 0 {
			return invalid("The file is empty: %s.", m.Kind)
		}
		old, err := find(tx, m)
		switch {
		case err != nil:
			return err
		case old.ID == "":
			return tx.AddMedia(ctx, m)
		}
		m.SentSHA256 = old.SentSHA256
		if err := d.drop(ctx, tx, old); err != nil {
			return err
		}
		if err := tx.AddMedia(ctx, m); err != nil {
			return err
		}
		return d.jobs.Enqueue(ctx, tx, Job{Kind: JobSweep, Studio: m.Studio})
	})
	if err != nil {
		return Media{}, problemOf(errors.Join(err, d.dropStray(context.WithoutCancel(ctx), m)))
	}
	return m, nil
}

// drop removes the row of a file and dooms the file.
func (d *Desk) drop(ctx context.Context, tx Records, m Media) error {
	if err := tx.Doom(ctx, Doomed{m.Studio, m.Family, m.ID}); err != nil {
		return err
	}
	return tx.RemoveMedia(ctx, OneFamily(m.Studio, m.Family), m.ID)
}

// Listen opens one file for a person, and writes it into the child's access log first where a child is
// heard in it. Nothing is served that still holds place and device. A family hears its own takes, what is
// said about them, its voice notes, the files of lessons that were sent, and the teacher's own take of a
// work that it was asked to play or to hear.
func (d *Desk) Listen(ctx context.Context, v Viewer, id MediaID) (Media, io.ReadSeekCloser, error) {
	in := v.scope()
	m, err := d.store.MediaByID(ctx, in, id)
	if errors.Is(err, ErrNotFound) && v.Role == Coach && in != (Scope{}) {
		in = OneFamily(v.Studio, Shelf(v.Studio))
		m, err = d.store.MediaByID(ctx, in, id)
	}
	if err != nil {
		return Media{}, nil, problemOf(err)
	}
	for _, may := range []func() error{
		func() error { return d.mayHear(ctx, v, in, m) },
		func() error { return d.isClean(ctx, in, m) },
		func() error {
			if m.teachersOwn() {
				return nil
			}
			return d.log(ctx, d.store, v, Take{ID: m.Take, Studio: m.Studio, Family: m.Family, Student: m.Student}, "played")
		},
	} {
		if err := may(); err != nil {
			return Media{}, nil, problemOf(err)
		}
	}
	f, err := d.blobs.Open(ctx, m.Key())
	if err != nil {
		return Media{}, nil, problemOf(err)
	}
	return m, f, nil
}

// mayHear refuses a family what is not for it though it is in the scope.
func (d *Desk) mayHear(ctx context.Context, v Viewer, in Scope, m Media) error {
	if v.Role != Coach {
		return nil
	}
	if m.Lesson != "" {
		l, err := d.store.Lesson(ctx, in, m.Lesson)
		if err == nil && l.Sent.IsZero() {
			err = ErrNotFound
		}
		return err
	}
	if in.Family() != Shelf(in.Studio()) {
		return nil
	}
	if m.Take == "" {
		return ErrNotFound
	}
	t, err := d.store.Take(ctx, in, m.Take)
	if err != nil {
		return err
	}
	asked, err := d.store.WorkAsked(ctx, v.scope(), t.Work)
	if err == nil && !asked {
		asked, err = d.store.ModelAsked(ctx, v.scope(), t.ID)
	}
	if err == nil && !asked {
		err = ErrNotFound
	}
	return err
}

// isClean refuses what still holds place and device, itself or the recording that it was made of.
func (d *Desk) isClean(ctx context.Context, in Scope, m Media) error {
	switch {
	case m.Kind.told():
		if !m.Clean {
			return notClean()
		}
	case m.Take != "" && m.Kind != CutClip:
		original, err := mediaOf(ctx, d.store, in, m.Take, Original)
		if err != nil {
			return err
		}
		if !original.Clean {
			return notClean()
		}
	}
	return nil
}

func notClean() *Problem {
	return &Problem{Kind: Conflict, Say: "This recording is still being prepared. Try again in a moment."}
}

// sameLook is how long a look or a playing goes on as one line of the log: a player asks for a file in
// many pieces.
const sameLook = 10 * time.Minute

// log writes into the access log of a child. The teacher's own take is no child's.
func (d *Desk) log(ctx context.Context, r Records, v Viewer, t Take, what string) error {
	if t.Model() {
		return nil
	}
	now := d.now()
	a := Access{Studio: t.Studio, Family: t.Family, Student: t.Student, Take: t.ID, By: v.Person, Role: v.Role, What: what, At: now}
	known, err := r.Logged(ctx, a, now.Add(-sameLook))
	if err != nil || known {
		return err
	}
	return r.LogAccess(ctx, a)
}

// Prints are what a student's takes since then sound like.
func (d *Desk) Prints(ctx context.Context, v Viewer, s StudentID, since time.Time) ([]Print, error) {
	if err := v.must(itsTheEars, Ear); err != nil {
		return nil, err
	}
	l, err := d.store.Prints(ctx, v.scope(), s, since)
	return l, problemOf(err)
}
