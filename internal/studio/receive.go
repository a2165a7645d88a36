package studio

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
	"time"
)

// Announcement says that a take will come.
type Announcement struct {
	Student    StudentID
	Assignment AssignmentID // "" where it is not known yet
	Work       WorkID       // "" means the assignment's
	FileName   string       // as it is called where it comes from
	Note       string       // what the family says with it
	Hurt       bool         // something hurt
	Bytes      int64        // 0 unknown
	With       Partner      // what sounds beside the child
}

const longestNote = 2000 // bytes

// Announce notes a take before its bytes: from then on it is shown as arriving.
func (d *Desk) Announce(ctx context.Context, v Viewer, a Announcement) (Take, error) {
	if err := v.must("Takes are sent by the family or the teacher.", Teacher, Coach); err != nil {
		return Take{}, err
	}
	var t Take
	err := d.store.Within(ctx, func(tx Records) error {
		s, err := tx.Student(ctx, v.scope(), a.Student)
		if err != nil {
			return err
		}
		if t, err = d.announce(ctx, tx, v, s, a); err != nil {
			return err
		}
		return tx.AddTake(ctx, t)
	})
	if err != nil {
		return Take{}, problemOf(err)
	}
	return t, nil
}

// announce makes an arriving take of an announcement, and does not keep it yet.
func (d *Desk) announce(ctx context.Context, tx Records, v Viewer, s Student, a Announcement) (Take, error) {
	t := Take{Studio: s.Studio, Family: s.Family, Student: s.ID, By: v.Person, State: Arriving,
		FileName: bareName(a.FileName), Note: strings.TrimSpace(plain(a.Note)), Hurt: a.Hurt, Bytes: a.Bytes, Announced: d.now()}
	t.With = a.With.checked()
	t.Changed, t.KeepUntil = t.Announced, t.Announced.Add(d.o.ArriveFor)
	if a.Bytes < 0 || len(t.Note) > longestNote {
		return Take{}, invalid("The words with a take may have %d letters at most.", longestNote)
	}
	if err := d.room(ctx, tx, v, t); err != nil {
		return Take{}, err
	}
	if err := d.of(ctx, tx, v.scope(), &t, a.Assignment, a.Work); err != nil {
		return Take{}, err
	}
	var err error
	t.ID, err = NewID[TakeID](d.o.Rand)
	return t, err
}

// checked forgives a partner that makes no sense, and is none then: the take is worth more.
func (p Partner) checked() Partner {
	second, err := p.Second.checked()
	if err != nil || second.ready() != nil {
		return Partner{HandsOnly: p.HandsOnly}
	}
	p.Second = second
	if !goalTempo(p.Bpm) {
		p.Bpm = 0
	}
	if !(p.StartS > 0) || p.StartS > longestTapS {
		p.StartS = 0
	}
	return p
}

// room refuses what is more than a take, a family, the studio or its disk may hold. The teacher is not bound to
// what a family may send in a day.
func (d *Desk) room(ctx context.Context, tx Records, v Viewer, t Take) error {
	if t.Bytes > d.o.MaxTakeBytes {
		return fmt.Errorf("%d bytes announced: %w", t.Bytes, ErrTooLarge)
	}
	if err := d.spare(ctx, written*t.Bytes); err != nil {
		return err
	}
	since := d.now().Add(-24 * time.Hour)
	all, err := tx.Load(ctx, WholeStudio(t.Studio), since)
	if err != nil {
		return err
	}
	if all.Arriving >= d.o.Arriving {
		return &Problem{Kind: TooMany, Say: "Many recordings are arriving at this moment. Try again in an hour."}
	}
	own, err := tx.Load(ctx, OneFamily(t.Studio, t.Family), since)
	switch {
	case err != nil:
		return err
	case t.Model():
		return nil
	case v.Role == Coach && own.Arriving >= d.o.FamilyArriving:
		return &Problem{Kind: TooMany, Say: fmt.Sprintf("%d recordings are on their way and not here yet. Let them arrive, or give them up, before the next.", own.Arriving)}
	}
	return d.within(v, own, t.Bytes)
}

// within refuses bytes that are more than a family sends in a day, or than is kept of it.
func (d *Desk) within(v Viewer, own Load, bytes int64) error {
	switch {
	case v.Role == Coach && own.Came+bytes > d.o.FamilyDayBytes:
		return &Problem{Kind: TooLarge, Say: "Today your family has sent as much as the studio takes in one day. Send it tomorrow, or sound without the picture."}
	case own.Bytes+bytes > d.o.FamilyBytes:
		return &Problem{Kind: TooLarge, Say: "The studio keeps as many recordings of this family as it may. Delete older ones first."}
	}
	return nil
}

// familyRoom is the same of a file beside the takes.
func (d *Desk) familyRoom(ctx context.Context, tx Records, v Viewer, m Media) error {
	own, err := tx.Load(ctx, OneFamily(m.Studio, m.Family), d.now().Add(-24*time.Hour))
	if err != nil {
		return err
	}
	return d.within(v, own, m.Bytes)
}

// bareName is a file's own name without any folder, for a person to read; it never becomes a path.
func bareName(s string) string {
	s = tidy(path.Base(strings.ReplaceAll(s, `\`, "/")))
	if s == "." || s == "/" || s == ".." {
		return ""
	}
	if r := []rune(s); len(r) > 120 {
		s = string(r[:120])
	}
	return s
}

// plain is text of several lines without signs that are no letters.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' && r != '\n' && r != '\t' {
			return -1
		}
		return visible(r)
	}, strings.ToValidUTF8(s, ""))
}

// keepUntil is the shortest time that any adult of the family agreed to, and never longer than the studio's.
func (d *Desk) keepUntil(ctx context.Context, tx Records, t Take, from time.Time) (time.Time, error) {
	if t.Model() {
		return from.AddDate(keptModelYears, 0, 0), nil
	}
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
	if err := Allowed(st, mediaType); err != nil {
		return Received{}, err
	}
	if err := d.spare(ctx, t.Bytes); err != nil {
		return Received{}, problemOf(err)
	}
	m, err := d.keepOriginal(ctx, t, mediaType, body)
	if err != nil {
		return Received{}, problemOf(err)
	}
	rec := Received{Take: t}
	err = d.store.Within(ctx, func(tx Records) (err error) {
		rec, err = d.arrive(ctx, tx, v, t, m, func(t *Take) error { return d.move(ctx, tx, t, Arriving) })
		if err == nil && rec.Duplicate {
			return tx.RemoveTake(ctx, v.scope(), t.ID)
		}
		return err
	})
	if err != nil || rec.Duplicate {
		err = errors.Join(err, d.dropStray(context.WithoutCancel(ctx), m))
	}
	if err != nil {
		return Received{}, problemOf(err)
	}
	return rec, nil
}

// keepOriginal puts the bytes of a take among the files; no row names them yet.
func (d *Desk) keepOriginal(ctx context.Context, t Take, mediaType string, body io.Reader) (Media, error) {
	m := Media{Studio: t.Studio, Family: t.Family, Student: t.Student, Take: t.ID, Kind: Original, Type: mediaType}
	err := d.keepFile(ctx, &m, body, d.o.MaxTakeBytes)
	m.SentSHA256 = m.SHA256
	return m, err
}

// keepFile draws an id and puts the bytes among the files; no row names them yet.
func (d *Desk) keepFile(ctx context.Context, m *Media, body io.Reader, limit int64) error {
	var err error
	if m.ID, err = NewID[MediaID](d.o.Rand); err != nil {
		return err
	}
	m.Made = d.now()
	m.Bytes, m.SHA256, err = d.blobs.Put(ctx, m.Key(), body, limit)
	return err
}

// arrive makes a waiting take of one whose bytes are here, through put, and hands it to the ear; or
// finds the older one with the same bytes, and does nothing.
func (d *Desk) arrive(ctx context.Context, tx Records, v Viewer, t Take, m Media, put func(t *Take) error) (Received, error) {
	if m.Bytes == 0 {
		return Received{}, invalid("Nothing arrived: the recording is empty. Record it again.")
	}
	older, err := tx.SameBytes(ctx, OneFamily(t.Studio, t.Family), m.SentSHA256)
	if err == nil {
		return Received{Take: older, Duplicate: true}, nil
	}
	if !errors.Is(err, ErrNotFound) {
		return Received{}, err
	}
	if v.Role == Coach && m.Bytes > t.Bytes { // more came than was announced
		own, err := tx.Load(ctx, OneFamily(t.Studio, t.Family), d.now().Add(-24*time.Hour))
		if err != nil {
			return Received{}, err
		}
		if own.Came-t.Bytes+m.Bytes > d.o.FamilyDayBytes || own.Bytes+m.Bytes > d.o.FamilyBytes {
			return Received{}, &Problem{Kind: TooLarge, Say: "Your family has sent as much as the studio takes in one day, or keeps in all. Send it tomorrow, or delete older ones."}
		}
	}
	t.State, t.Arrived, t.Bytes = Waiting, d.now(), m.Bytes
	if t.KeepUntil, err = d.keepUntil(ctx, tx, t, t.Arrived); err != nil {
		return Received{}, err
	}
	if err := put(&t); err != nil {
		return Received{}, err
	}
	if err := tx.AddMedia(ctx, m); err != nil {
		return Received{}, err
	}
	if err := d.jobs.Enqueue(ctx, tx, Job{Kind: JobHear, Studio: t.Studio, Take: t.ID}); err != nil {
		return Received{}, err
	}
	if v.Role != Coach {
		return Received{Take: t}, nil
	}
	return Received{Take: t}, d.notify(ctx, tx, t.Studio, theTeachers, OfTake, string(t.ID), t.Arrived.Add(bundled))
}

// GiveUp forgets a take that was announced and is not here.
func (d *Desk) GiveUp(ctx context.Context, v Viewer, id TakeID) error {
	if err := v.must("Takes are sent by the family or the teacher.", Teacher, Coach); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		t, err := tx.Take(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		if t.State != Arriving {
			return ErrConflict
		}
		return tx.RemoveTake(ctx, v.scope(), id)
	}))
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

const longestType = 100

// Allowed refuses what is no recording, or not one that the family sends of the student.
func Allowed(s Student, mediaType string) error {
	kind, sub, ok := strings.Cut(mediaType, "/")
	switch {
	case !ok || sub == "" || len(mediaType) > longestType || tidy(mediaType) != mediaType:
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
