package studio

import (
	"context"
	"errors"
	"io"
	"strings"
	"time"
)

// Announcement says that a take will come.
type Announcement struct {
	Student    StudentID
	Assignment AssignmentID // "" where it is not known yet
}

// Announce notes a take before its bytes: from then on it is shown as arriving.
func (d *Desk) Announce(ctx context.Context, v Viewer, a Announcement) (Take, error) {
	if err := v.must("Takes are sent by the family or the teacher.", Teacher, Coach); err != nil {
		return Take{}, err
	}
	id, err := NewID[TakeID](d.o.Rand)
	if err != nil {
		return Take{}, problemOf(err)
	}
	var t Take
	err = d.store.Within(ctx, func(tx Records) error {
		s, err := tx.Student(ctx, v.scope(), a.Student)
		if err != nil {
			return err
		}
		if a.Assignment != "" {
			asked, err := tx.StudentAsked(ctx, v.scope(), s.ID, a.Assignment)
			if err != nil {
				return err
			}
			if !asked {
				return invalid("This was not asked of %s. Choose the assignment again, or send the take without one.", s.Name)
			}
		}
		t = Take{ID: id, Studio: s.Studio, Family: s.Family, Student: s.ID, Assignment: a.Assignment,
			By: v.Person, State: Arriving, Announced: d.now()}
		t.KeepUntil, err = d.keepUntil(ctx, tx, t, t.Announced)
		if err != nil {
			return err
		}
		return tx.AddTake(ctx, t)
	})
	if err != nil {
		return Take{}, problemOf(err)
	}
	return t, nil
}

// keepUntil is the shortest time that any adult of the family agreed to, and never longer than the studio's.
func (d *Desk) keepUntil(ctx context.Context, tx Records, t Take, from time.Time) (time.Time, error) {
	st, err := tx.Studio(ctx, t.Studio)
	if err != nil {
		return time.Time{}, err
	}
	days := st.KeepDays
	cs, err := tx.Consents(ctx, OneFamily(t.Studio, t.Family))
	if err != nil {
		return time.Time{}, err
	}
	for _, c := range cs {
		days = min(days, c.KeepDays)
	}
	return from.AddDate(0, 0, days), nil
}

// Received is a take whose bytes are here. Duplicate: these bytes were here before, and Take is the older one.
type Received struct {
	Take      Take
	Duplicate bool
}

// Receive takes the bytes of an announced take in. When it returns nil the take is safe and will be
// heard; after an error the take is still arriving and may be sent again.
func (d *Desk) Receive(ctx context.Context, v Viewer, id TakeID, mediaType string, body io.Reader) (Received, error) {
	if err := v.must("Takes are sent by the family or the teacher.", Teacher, Coach); err != nil {
		return Received{}, err
	}
	t, err := d.store.Take(ctx, v.scope(), id)
	if err != nil {
		return Received{}, problemOf(err)
	}
	if t.State != Arriving {
		return Received{}, &Problem{Kind: Conflict, Say: "This take has arrived already. Send the other recording as a new take."}
	}
	st, err := d.store.Student(ctx, v.scope(), t.Student)
	if err != nil {
		return Received{}, problemOf(err)
	}
	if err := allowed(st, mediaType); err != nil {
		return Received{}, err
	}
	mid, err := NewID[MediaID](d.o.Rand)
	if err != nil {
		return Received{}, problemOf(err)
	}
	m := Media{ID: mid, Studio: t.Studio, Family: t.Family, Take: t.ID, Kind: Original, Type: mediaType}
	m.Bytes, m.SHA256, err = d.blobs.Put(ctx, m.Key(), body, d.o.MaxTakeBytes)
	if err != nil {
		return Received{}, problemOf(err)
	}
	rec := Received{Take: t}
	err = d.store.Within(ctx, func(tx Records) error {
		if m.Bytes == 0 {
			return invalid("Nothing arrived: the recording is empty. Record it again.")
		}
		older, err := tx.SameBytes(ctx, OneFamily(t.Studio, t.Family), m.SHA256)
		if err == nil {
			rec = Received{Take: older, Duplicate: true}
			return tx.RemoveTake(ctx, v.scope(), t.ID)
		}
		if !errors.Is(err, ErrNotFound) {
			return err
		}
		now := rec.Take
		now.State, now.Arrived = Waiting, d.now()
		if now.KeepUntil, err = d.keepUntil(ctx, tx, now, now.Arrived); err != nil {
			return err
		}
		if err := tx.MoveTake(ctx, now, Arriving); err != nil {
			return err
		}
		if err := tx.AddMedia(ctx, m); err != nil {
			return err
		}
		rec.Take = now
		return d.jobs.Enqueue(ctx, tx, Job{Kind: JobHear, Studio: t.Studio, Take: t.ID})
	})
	if err != nil || rec.Duplicate {
		err = errors.Join(err, d.dropStray(context.WithoutCancel(ctx), m))
	}
	if err != nil {
		return Received{}, problemOf(err)
	}
	return rec, nil
}

// dropStray removes a file that no row names. A transaction whose answer was lost may have been
// kept, so it asks first; while it cannot know, the file stays for the sweep.
func (d *Desk) dropStray(ctx context.Context, m Media) error {
	_, err := d.store.MediaByID(ctx, OneFamily(m.Studio, m.Family), m.ID)
	if errors.Is(err, ErrNotFound) {
		return d.blobs.Remove(ctx, m.Key())
	}
	return err
}

func allowed(s Student, mediaType string) error {
	kind, sub, ok := strings.Cut(mediaType, "/")
	switch {
	case !ok || sub == "" || len(mediaType) > 100 || tidy(mediaType) != mediaType:
		return invalid("It is not said what kind of recording this is. Send sound or video from the phone's own recorder.")
	case kind == "audio":
		return nil
	case kind == "video" && s.Media != SoundOnly:
		return nil
	case kind == "video":
		return &Problem{Kind: NotAllowed, Say: "Your family chose sound only for " + s.Name + ". Send a sound recording, or change the choice first."}
	}
	return invalid("%s is neither sound nor video. Send a recording.", mediaType)
}
