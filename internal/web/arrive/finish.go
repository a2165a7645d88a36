package arrive

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/tus/tusd/v2/pkg/handler"

	"antiphon/internal/studio"
)

// received is what stays of an upload for a while once the studio has it, for a browser that never got
// the answer to its last byte.
type received struct {
	Owner  owner
	Take   studio.TakeID `json:",omitzero"` // the older one where it was sent before
	Before bool          `json:",omitzero"`
	Bytes  int64
}

func (d *received) tell(h http.Header) {
	h.Set("Tus-Resumable", "1.0.0")
	h.Set("Upload-Offset", strconv.FormatInt(d.Bytes, 10))
	if d.Take != "" {
		h.Set(headerTake, string(d.Take))
	}
	if d.Before {
		h.Set(headerBefore, "yes")
	}
}

// owner is whose an upload is: a family's, or the teacher's.
type owner struct {
	Studio studio.StudioID
	Role   studio.Role
	Family studio.FamilyID `json:",omitzero"`
}

func ownerOf(info handler.FileInfo) owner {
	m := info.MetaData
	return owner{studio.StudioID(m[keyStudio]), studio.Role(m[keyRole]), studio.FamilyID(m[keyFamily])}
}

func (o owner) is(v studio.Viewer) bool {
	return o.Studio != "" && o.Studio == v.Studio && o.Role == v.Role && o.Family == v.Family
}

// answerOf is what of a lesson an answer belongs to.
func answerOf(info handler.FileInfo) (studio.LessonID, studio.AssignmentID) {
	return studio.LessonID(info.MetaData[keyLesson]), studio.AssignmentID(info.MetaData[keyItem])
}

// sender is who began an upload, for one that ends without a request.
func sender(info handler.FileInfo) studio.Viewer {
	o := ownerOf(info)
	return studio.Viewer{Studio: o.Studio, Role: o.Role, Family: o.Family, Person: studio.PersonID(info.MetaData[keyPerson])}
}

// receiveFor is how long the studio may take over taking in a whole file.
const receiveFor = 10 * time.Minute

// finished runs when the last byte is here and before the browser is told so.
func (u *uploads) finished(e handler.HookEvent) (handler.HTTPResponse, error) {
	a, _ := e.Context.Value(askingKey{}).(*asking)
	if a == nil {
		return handler.HTTPResponse{}, errors.New("an upload without anybody who asks")
	}
	done, err := u.finish(e.Context, e.Upload.ID)
	if err != nil {
		return handler.HTTPResponse{}, refusal(err, a.told, u.log)
	}
	h := http.Header{}
	done.tell(h)
	answer := handler.HTTPResponse{Header: handler.HTTPHeader{}}
	for k := range h {
		answer.Header[k] = h.Get(k)
	}
	return answer, nil
}

// finish gives a whole recording to the studio, exactly once: a second caller waits and is told the same.
// What the studio refuses for good is removed; after any other error the recording stays, and whoever
// asks for it again tries again.
func (u *uploads) finish(ctx context.Context, id string) (*received, error) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), receiveFor) // the browser may have gone: its recording is here all the same
	defer cancel()
	defer u.busy.lock(id)()
	if done, err := u.received(id); done != nil || err != nil {
		return done, err
	}
	info, err := u.half(ctx, id)
	if err != nil {
		return nil, err
	}
	f, err := os.Open(u.place(id))
	if err != nil {
		return nil, fmt.Errorf("a whole recording: %w", err)
	}
	done, err := u.hand(ctx, sender(info), info, f)
	err = errors.Join(err, f.Close())
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind != studio.Internal && p.Kind != studio.TooMany && p.Kind != studio.Full {
		if rerr := u.remove(id); rerr != nil {
			return nil, rerr
		}
		if announces(info.MetaData[keyKind]) {
			// The refusal is what counts; the clock forgets the announcement if this does not.
			_ = u.desk.GiveUp(ctx, sender(info), studio.TakeID(id))
		}
		return nil, p
	}
	if err != nil {
		return nil, err
	}
	if err := u.note(id, done); err != nil {
		return nil, err
	}
	return &done, u.remove(id)
}

// hand gives the bytes to the studio. A take that is there already was given by us before a kill.
func (u *uploads) hand(ctx context.Context, v studio.Viewer, info handler.FileInfo, f *os.File) (received, error) {
	done := received{Owner: ownerOf(info), Bytes: info.Size}
	name, mediaType := info.MetaData[keyName], info.MetaData[keyType]
	switch info.MetaData[keyKind] {
	case asDrop:
		_, err := u.desk.Drop(ctx, v, name, mediaType, f)
		return done, err
	case asAnswer: // given once more after a kill it takes its own place
		lesson, item := answerOf(info)
		_, err := u.desk.KeepAnswer(ctx, v, lesson, item, mediaType, f)
		return done, err
	}
	r, err := u.desk.Receive(ctx, v, studio.TakeID(info.ID), mediaType, f)
	done.Take, done.Before = r.Take.ID, r.Duplicate
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind == studio.Conflict {
		done.Take, err = studio.TakeID(info.ID), nil
	}
	return done, err
}

func (u *uploads) place(name string) string { return filepath.Join(u.o.Dir, name) }

const doneEnding = ".done"

// received reads the note on an upload; nil where there is none.
func (u *uploads) received(id string) (*received, error) {
	b, err := os.ReadFile(u.place(id + doneEnding))
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("a received recording: %w", err)
	}
	var d received
	if err := json.Unmarshal(b, &d); err != nil {
		return nil, fmt.Errorf("a received recording: %w", err)
	}
	return &d, nil
}

// note keeps that an upload was received. A kill leaves the note whole or not there.
func (u *uploads) note(id string, d received) error {
	b, err := json.Marshal(d)
	if err != nil {
		return err
	}
	half := u.place(id + ".writing")
	if err = os.WriteFile(half, b, 0o600); err == nil {
		err = os.Rename(half, u.place(id+doneEnding))
	}
	if err != nil {
		return fmt.Errorf("noting a received recording: %w", err)
	}
	return nil
}

// Tend gives whole recordings that a stop left behind to the studio, and removes what nobody will finish:
// at once, and then every ten minutes until ctx ends.
func (a *Arrivals) Tend(ctx context.Context) error {
	tick := time.NewTicker(10 * time.Minute)
	defer tick.Stop()
	for {
		if err := a.uploads.tend(ctx); err != nil && ctx.Err() == nil {
			a.f.Log().ErrorContext(ctx, "half recordings could not be tended; it is tried again", "err", err)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
	}
}

func (u *uploads) tend(ctx context.Context) error {
	files, err := os.ReadDir(u.o.Dir)
	if err != nil {
		return err
	}
	var all error
	for _, f := range files {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		st, err := f.Info()
		if err != nil {
			continue // gone meanwhile
		}
		old := u.f.Now().Sub(st.ModTime()) > u.o.KeepHalf
		id, isInfo := strings.CutSuffix(f.Name(), ".info")
		switch {
		case isInfo:
			all = errors.Join(all, u.mind(ctx, id))
		case old && (strings.HasSuffix(f.Name(), doneEnding) || strings.Contains(f.Name(), ".")):
			all = errors.Join(all, os.Remove(u.place(f.Name())))
		case old && !strings.Contains(f.Name(), "."):
			if _, err := os.Stat(u.place(f.Name() + ".info")); errors.Is(err, os.ErrNotExist) {
				all = errors.Join(all, os.Remove(u.place(f.Name())))
			}
		}
	}
	return errors.Join(all, u.count())
}

// mind looks after one half recording.
func (u *uploads) mind(ctx context.Context, id string) error {
	info, err := u.half(ctx, id)
	if err != nil { // a kill left it unreadable, or it ended meanwhile
		st, serr := os.Stat(u.place(id + ".info"))
		if serr == nil && u.f.Now().Sub(st.ModTime()) > time.Hour {
			return u.remove(id)
		}
		return nil
	}
	st, err := os.Stat(u.place(id))
	if err != nil {
		return nil
	}
	if info.Offset == info.Size {
		_, err := u.finish(ctx, id)
		if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind != studio.Internal {
			u.log.InfoContext(ctx, "a recording that was whole was refused", "upload", id, "err", err)
			return nil
		}
		return err
	}
	if u.f.Now().Sub(st.ModTime()) > u.o.KeepHalf {
		return u.forget(ctx, sender(info), id)
	}
	// The family, or its take, or the draft may have been erased meanwhile.
	switch info.MetaData[keyKind] {
	case asDrop:
		return nil
	case asAnswer:
		lesson, item := answerOf(info)
		err = u.desk.MayAnswer(ctx, sender(info), lesson, item, info.MetaData[keyType], 0)
	default:
		_, err = u.desk.Files(ctx, studio.Viewer{Studio: ownerOf(info).Studio, Role: studio.Ear}, studio.TakeID(id))
	}
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind == studio.NotFound {
		defer u.busy.lock(id)()
		return u.remove(id)
	} else if ok && p.Kind != studio.Internal {
		return nil // a lesson that is out may be taken back, and a task may be put in again
	}
	return err
}

// count counts the files without an announcement that are half here.
func (u *uploads) count() error {
	l, err := filepath.Glob(u.place("*.info"))
	if err != nil {
		return err
	}
	n := int64(0)
	for _, f := range l {
		info, err := u.half(context.Background(), strings.TrimSuffix(filepath.Base(f), ".info"))
		if err == nil && !announces(info.MetaData[keyKind]) {
			n++
		}
	}
	u.nameless.Store(n)
	return nil
}

// keyed is a lock for each key.
type keyed struct {
	mu sync.Mutex
	of map[string]*held
}

type held struct {
	sync.Mutex
	waiting int
}

// lock waits for the key and gives the way to let it go.
func (k *keyed) lock(key string) (unlock func()) {
	k.mu.Lock()
	if k.of == nil {
		k.of = map[string]*held{}
	}
	h := k.of[key]
	if h == nil {
		h = &held{}
		k.of[key] = h
	}
	h.waiting++
	k.mu.Unlock()
	h.Lock()
	return func() {
		h.Unlock()
		k.mu.Lock()
		defer k.mu.Unlock()
		if h.waiting--; h.waiting == 0 {
			delete(k.of, key)
		}
	}
}
