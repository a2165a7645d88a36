package arrive

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"os"
	"path"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"

	oldslog "golang.org/x/exp/slog"

	"github.com/tus/tusd/v2/pkg/filestore"
	"github.com/tus/tusd/v2/pkg/handler"
	"github.com/tus/tusd/v2/pkg/memorylocker"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// What a recording is sent as.
const (
	asTake   = "take"   // of a student's, announced by the family or the teacher
	asModel  = "model"  // the teacher's own of a work
	asDrop   = "drop"   // the teacher's, without a student's name
	asAnswer = "answer" // what the teacher recorded of one item of a draft
)

// announces says whether the studio knows of such a recording before its bytes.
func announces(kind string) bool { return kind != asDrop && kind != asAnswer }

// The keys under which a half recording's file remembers whose it is and what it will be. Nothing that a
// browser sends is kept there unread.
const (
	keyKind   = "kind"
	keyStudio = "studio"
	keyFamily = "family"
	keyRole   = "role"
	keyPerson = "person"
	keyName   = "name"
	keyType   = "type"
	keyLesson = "lesson" // of an answer
	keyItem   = "item"   // of an answer: the task's id, "" for the opening words
)

// Headers of an answer to a finished upload: the take that it became, and that it was sent before.
const (
	headerTake   = "Antiphon-Take"
	headerBefore = "Antiphon-Before"
)

// uploads speaks the tus protocol, version 1.0.0 (https://tus.io/protocols/resumable-upload), with
// creation and termination. It has no concatenation and no unknown lengths.
type uploads struct {
	f     *page.Frame
	desk  *studio.Desk
	o     Options
	log   *slog.Logger
	store filestore.FileStore
	tus   *handler.UnroutedHandler
	busy  *keyed

	nameless atomic.Int64 // half files that were not announced, as last counted and since then
}

func newUploads(f *page.Frame, o Options) (*uploads, error) {
	u := &uploads{f: f, desk: f.Desk(), o: o, log: f.Log(), busy: &keyed{}}
	u.store = filestore.FileStore{Path: o.Dir, DirModePerm: 0o700, FileModePerm: 0o600}
	parts := handler.NewStoreComposer()
	parts.UseCore(u.store)
	parts.UseTerminater(u.store)
	memorylocker.New().UseIn(parts)
	var err error
	u.tus, err = handler.NewUnroutedHandler(handler.Config{
		StoreComposer: parts, BasePath: "/uploads/", DisableDownload: true, DisableConcatenation: true,
		Cors:                      &handler.CorsConfig{Disable: true},
		Logger:                    oldslog.New(quiet{}), // what goes wrong comes back to us, and is logged once
		PreUploadCreateCallback:   u.announce,
		PreFinishResponseCallback: u.finished,
	})
	if err != nil {
		return nil, fmt.Errorf("making the uploads ready: %w", err)
	}
	if err := u.count(); err != nil {
		return nil, err
	}
	return u, nil
}

// quiet drops what it is told.
type quiet struct{}

func (quiet) Enabled(context.Context, oldslog.Level) bool  { return false }
func (quiet) Handle(context.Context, oldslog.Record) error { return nil }
func (q quiet) WithAttrs([]oldslog.Attr) oldslog.Handler   { return q }
func (q quiet) WithGroup(string) oldslog.Handler           { return q }

// asking is what a request brings into the protocol's callbacks, and what they bring back.
type asking struct {
	viewer    studio.Viewer
	announced string // id of what was announced in this request
	status    int    // that was answered
	told      func(*studio.Problem) string
}

type askingKey struct{}

// speak hands a request to the protocol under one upload's id, "" for none.
func (u *uploads) speak(w http.ResponseWriter, r *http.Request, id string, h http.HandlerFunc) *asking {
	page.Takes(w, r, 0) // the protocol counts
	a := &asking{viewer: page.Viewer(r), told: func(p *studio.Problem) string { return u.f.Told(r, p) }}
	r = r.Clone(context.WithValue(r.Context(), askingKey{}, a))
	r.URL.Path = "/" + id
	r.Header.Del("X-HTTP-Method-Override") // the route has checked the method that was said
	to := &here{ResponseWriter: w}
	u.tus.Middleware(h).ServeHTTP(to, r)
	if to.hushed {
		u.log.Error("an upload", "method", r.Method, "err", string(to.fault))
		to.own(a.told)
	}
	a.status = to.status
	return a
}

// ourFaultSays goes with a fault that is not the sender's.
const ourFaultSays = "Something broke on our side. Nothing is lost; it goes on by itself in a moment."

// fullSays goes with an upload that found no room on the way.
const fullSays = "The studio's disk is full. What is here stays; it goes on by itself when the teacher has made room."

// here makes the address of a new upload one of this site, whatever stands between the browser and us,
// and keeps to us what the protocol says of a fault of ours: it names folders of this machine.
type here struct {
	http.ResponseWriter
	status int
	fault  []byte // what was said instead of ours
	hushed bool
}

func (h *here) WriteHeader(status int) {
	head := h.Header()
	if at := head.Get("Location"); at != "" {
		head.Set("Location", "/uploads/"+path.Base(at))
	}
	h.status = status
	if status < http.StatusInternalServerError || head.Get("Content-Type") == "application/json" {
		h.ResponseWriter.WriteHeader(status)
		return
	}
	h.hushed = true
}

// own answers a fault of ours in our words, once it is known which it is.
func (h *here) own(told func(*studio.Problem) string) {
	p := &studio.Problem{Kind: studio.Internal, Say: ourFaultSays}
	if strings.Contains(string(h.fault), syscall.ENOSPC.Error()) { // of the protocol's error only the text comes here
		h.status, p = http.StatusInsufficientStorage, &studio.Problem{Kind: studio.Full, Say: fullSays}
	}
	head := h.Header()
	head.Set("Content-Type", "application/json")
	head.Del("Content-Length")
	h.ResponseWriter.WriteHeader(h.status)
	_ = page.JSON(h.ResponseWriter, map[string]string{"kind": string(p.Kind), "say": told(p)}) // the reader has gone: nothing to tell
}

func (h *here) Write(b []byte) (int, error) {
	if h.hushed {
		h.fault = append(h.fault, b[:min(len(b), 500-min(500, len(h.fault)))]...)
		return len(b), nil
	}
	return h.ResponseWriter.Write(b)
}

func (h *here) Unwrap() http.ResponseWriter { return h.ResponseWriter }

// pass answers OPTIONS: what this server can do.
func (u *uploads) pass(w http.ResponseWriter, r *http.Request) error {
	w.Header().Set("Tus-Max-Size", strconv.FormatInt(u.o.MaxBytes, 10))
	u.speak(w, r, "", func(http.ResponseWriter, *http.Request) {})
	return nil
}

// create is POST /uploads/.
func (u *uploads) create(w http.ResponseWriter, r *http.Request) error {
	a := u.speak(w, r, "", u.tus.PostFile)
	if a.status >= http.StatusBadRequest && a.announced != "" { // no file could be made for it
		return u.forget(r.Context(), a.viewer, a.announced)
	}
	return nil
}

// announce runs before a half recording is made: whoever may not send it is refused before the first byte.
func (u *uploads) announce(e handler.HookEvent) (handler.HTTPResponse, handler.FileInfoChanges, error) {
	a, _ := e.Context.Value(askingKey{}).(*asking)
	if a == nil {
		return handler.HTTPResponse{}, handler.FileInfoChanges{}, errors.New("an upload without anybody who asks")
	}
	id, kind, err := u.announceTo(e.Context, a.viewer, e.Upload.Size, e.Upload.MetaData)
	if err != nil {
		return handler.HTTPResponse{}, handler.FileInfoChanges{}, refusal(err, a.told, u.log)
	}
	a.announced = id
	name := e.Upload.MetaData["filename"]
	kept := handler.MetaData{
		keyKind: kind, keyStudio: string(a.viewer.Studio), keyFamily: string(a.viewer.Family), keyRole: string(a.viewer.Role), keyPerson: string(a.viewer.Person),
		keyName: name, keyType: typeOf(name, e.Upload.MetaData["filetype"]),
	}
	if kind == asAnswer {
		kept[keyLesson], kept[keyItem] = e.Upload.MetaData["lesson"], e.Upload.MetaData["item"]
	}
	return handler.HTTPResponse{}, handler.FileInfoChanges{ID: id, MetaData: kept}, nil
}

func (u *uploads) announceTo(ctx context.Context, v studio.Viewer, size int64, said handler.MetaData) (id, kind string, err error) {
	switch {
	case size == 0:
		return "", "", &studio.Problem{Kind: studio.Invalid, Say: "The file is empty. Record it again."}
	case size > u.o.MaxBytes:
		return "", "", &studio.Problem{Kind: studio.TooLarge, Say: fmt.Sprintf("The file is larger than the studio takes (%d MB, at most %d MB). Send a shorter recording, or sound without the picture.", size>>20, u.o.MaxBytes>>20)}
	case !isRecording(typeOf(said["filename"], said["filetype"])):
		return "", "", &studio.Problem{Kind: studio.Invalid, Say: "This is neither sound nor video. Send a recording."}
	}
	mediaType := typeOf(said["filename"], said["filetype"])
	switch said["kind"] {
	case asDrop:
		if v.Role != studio.Teacher {
			return "", "", &studio.Problem{Kind: studio.NotAllowed, Say: "Files without a name are the teacher's to drop."}
		}
		if err := studio.Allowed(studio.Student{Media: studio.FullVideo}, mediaType); err != nil {
			return "", "", err
		}
		if err := u.desk.RoomFor(ctx, 2*size); err != nil { // half sent, and taken in
			return "", "", err
		}
		id, err := u.draw()
		return id, asDrop, err
	case asAnswer:
		item, named := said["item"] // "" are the opening words: none must be said too
		if !named {
			break
		}
		if err := u.desk.MayAnswer(ctx, v, studio.LessonID(said["lesson"]), studio.AssignmentID(item), mediaType, size); err != nil {
			return "", "", err
		}
		if err := u.desk.RoomFor(ctx, 2*size); err != nil {
			return "", "", err
		}
		id, err := u.draw()
		return id, asAnswer, err
	case asModel:
		if err := studio.Allowed(studio.Student{Media: studio.FullVideo}, mediaType); err != nil {
			return "", "", err
		}
		m, err := u.desk.AnnounceModel(ctx, v, studio.WorkID(said["work"]), said["filename"], size)
		return string(m.ID), asModel, err
	case asTake, "":
		if err := u.agreed(ctx, v, studio.StudentID(said["child"]), mediaType); err != nil {
			return "", "", err
		}
		beside, err := partnerOf(said["with"])
		if err != nil {
			return "", "", err
		}
		t, err := u.desk.Announce(ctx, v, studio.Announcement{Student: studio.StudentID(said["child"]), Assignment: studio.AssignmentID(said["of"]), Work: studio.WorkID(said["work"]),
			FileName: said["filename"], Note: said["note"], Hurt: said["hurt"] == "yes", Bytes: size, With: beside})
		return string(t.ID), asTake, err
	}
	return "", "", &studio.Problem{Kind: studio.Invalid, Say: "The page sent something that makes no sense. Load it again."}
}

// draw gives an id to an upload that the studio does not know of yet, and counts it.
func (u *uploads) draw() (string, error) {
	if u.nameless.Add(1) > int64(u.o.Drops) {
		u.nameless.Add(-1)
		return "", &studio.Problem{Kind: studio.TooMany, Say: "Many files are half here already. Let them arrive, or try again tomorrow: what is not finished is given up by then."}
	}
	drawn, err := studio.NewID[studio.TakeID](rand.Reader)
	return string(drawn), err
}

// partnerOf reads what sounded beside a child, as the recorder says it; "" is nothing.
func partnerOf(with string) (studio.Partner, error) {
	var p studio.Partner
	if with == "" {
		return p, nil
	}
	if err := json.Unmarshal([]byte(with), &p); err != nil {
		return p, &studio.Problem{Kind: studio.Invalid, Say: "The page sent something that makes no sense. Load it again.", Err: err}
	}
	return p, nil
}

// agreed says before the first byte, and not after the last, what may not be sent of a child.
func (u *uploads) agreed(ctx context.Context, v studio.Viewer, child studio.StudentID, mediaType string) error {
	all, err := u.desk.Students(ctx, v)
	if err != nil {
		return err
	}
	for _, s := range all {
		if s.ID == child {
			return studio.Allowed(s, mediaType)
		}
	}
	return nil
}

// refusal is an error as the protocol tells it. The body is what page's scripts read.
func refusal(err error, told func(*studio.Problem) string, log *slog.Logger) error {
	p, ok := errors.AsType[*studio.Problem](err)
	status := map[studio.Kind]int{studio.Invalid: 422, studio.NotFound: 404, studio.NotAllowed: 403, studio.Conflict: 410, studio.Gone: 410,
		studio.TooLarge: 413, studio.TooMany: 429, studio.Full: 507}
	code := http.StatusInternalServerError
	if ok && status[p.Kind] != 0 {
		code = status[p.Kind]
		if p.Kind == studio.Full { // whoever runs the studio has to know
			log.Error("an upload", "err", err)
		}
	} else {
		log.Error("an upload", "err", err)
		p = &studio.Problem{Kind: studio.Internal, Say: ourFaultSays}
	}
	body, merr := json.Marshal(map[string]string{"kind": string(p.Kind), "say": told(p)})
	if merr != nil {
		return merr
	}
	return handler.Error{ErrorCode: string(p.Kind), Message: p.Say, HTTPResponse: handler.HTTPResponse{StatusCode: code, Body: string(body),
		Header: handler.HTTPHeader{"Content-Type": "application/json"}}}
}

// own finds an upload of the viewer's: a half recording, or the note that it was received. Somebody
// else's is not there.
func (u *uploads) own(r *http.Request) (id string, half *handler.FileInfo, done *received, err error) {
	id = r.PathValue("upload")
	v := page.Viewer(r)
	none := &studio.Problem{Kind: studio.NotFound, Say: "This upload is not here any more. Send the recording again."}
	if !studio.IsID(studio.TakeID(id)) {
		return "", nil, nil, none
	}
	if done, err = u.received(id); err != nil {
		return "", nil, nil, err
	}
	if done != nil {
		if !done.Owner.is(v) {
			return "", nil, nil, none
		}
		return id, nil, done, nil
	}
	info, err := u.half(r.Context(), id)
	if errors.Is(err, handler.ErrNotFound) || err == nil && !ownerOf(info).is(v) {
		return "", nil, nil, none
	}
	if err != nil {
		return "", nil, nil, err
	}
	return id, &info, nil, nil
}

func (u *uploads) half(ctx context.Context, id string) (handler.FileInfo, error) {
	up, err := u.store.GetUpload(ctx, id)
	if err != nil {
		return handler.FileInfo{}, err
	}
	return up.GetInfo(ctx)
}

// here finds an upload of the viewer's. One that is whole, but could not be received when its last byte
// came, is received now: a browser that is told "all of it" believes that it is done.
func (u *uploads) here(r *http.Request) (id string, done *received, err error) {
	id, half, done, err := u.own(r)
	if err == nil && done == nil && half.Offset == half.Size {
		done, err = u.finish(r.Context(), id)
	}
	return id, done, err
}

// ask is HEAD: how much of an upload is here.
func (u *uploads) ask(w http.ResponseWriter, r *http.Request) error {
	id, done, err := u.here(r)
	if err != nil {
		return err
	}
	if done != nil {
		done.tell(w.Header())
		w.Header().Set("Upload-Length", strconv.FormatInt(done.Bytes, 10))
		w.WriteHeader(http.StatusOK)
		return nil
	}
	u.speak(w, r, id, u.tus.HeadFile)
	return nil
}

// append is PATCH: more of an upload.
func (u *uploads) append(w http.ResponseWriter, r *http.Request) error {
	id, done, err := u.here(r)
	if err != nil {
		return err
	}
	if done != nil {
		done.tell(w.Header())
		w.WriteHeader(http.StatusNoContent)
		return nil
	}
	if err := u.desk.RoomFor(r.Context(), max(r.ContentLength, 0)); err != nil { // others sent meanwhile
		return err
	}
	u.speak(w, r, id, u.tus.PatchFile)
	return nil
}

// giveUp is DELETE.
func (u *uploads) giveUp(w http.ResponseWriter, r *http.Request) error {
	id, _, done, err := u.own(r)
	if err != nil {
		return err
	}
	if done != nil {
		return &studio.Problem{Kind: studio.Gone, Say: "This recording has arrived already. It can be deleted where it is shown."}
	}
	if err := u.forget(r.Context(), page.Viewer(r), id); err != nil {
		return err
	}
	w.Header().Set("Tus-Resumable", "1.0.0")
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// forget removes a half recording and what was announced of it.
func (u *uploads) forget(ctx context.Context, v studio.Viewer, id string) error {
	defer u.busy.lock(id)()
	if err := u.remove(id); err != nil {
		return err
	}
	err := u.desk.GiveUp(ctx, v, studio.TakeID(id))
	if p, ok := errors.AsType[*studio.Problem](err); ok && (p.Kind == studio.NotFound || p.Kind == studio.Conflict) {
		return nil // one without a name was not announced
	}
	return err
}

// remove deletes the files of a half recording.
func (u *uploads) remove(id string) error {
	info, err := u.half(context.Background(), id)
	nameless := err == nil && !announces(info.MetaData[keyKind])
	for _, name := range []string{id, id + ".info"} {
		err := os.Remove(u.place(name))
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			return fmt.Errorf("removing a half recording: %w", err)
		}
		if errors.Is(err, os.ErrNotExist) {
			nameless = false // somebody else was quicker, and counted
		}
	}
	if nameless {
		u.nameless.Add(-1)
	}
	return nil
}
