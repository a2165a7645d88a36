package week

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"net/url"
	"path"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// sendPage is GET /week/send: first which child, then what and how.
type sendPage struct {
	common
	Choose []studio.Student // more than one child, and none named yet
	Child  studio.Student
	Asked  []asked
	Other  bool // "something else" is chosen
}

// uploadWords are what the island that uploads says; see package arrive.
var uploadWords = []string{"sending", "waits", "full", "here", "before", "refused", "again", "elsewhere", "stop", "hurry", "stopped"}

// Words are they, for the form.
func (p sendPage) Words() (string, error) {
	words := map[string]string{}
	for _, w := range uploadWords {
		var err error
		if words[w], err = p.Say("upload." + w); err != nil {
			return "", err
		}
	}
	b, err := json.Marshal(words)
	return string(b), err
}

// asked is one thing that a recording can be of.
type asked struct {
	ID     studio.AssignmentID
	Title  string
	Where  string
	Do     string
	Chosen bool
}

func (w *week) sendForm(rw http.ResponseWriter, r *http.Request) error {
	c, err := w.common(r, "/week/send")
	if err != nil {
		return err
	}
	p := sendPage{common: c}
	students, err := w.f.Desk().Students(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	named := studio.StudentID(r.URL.Query().Get("child"))
	for _, s := range students {
		if s.ID == named || len(students) == 1 {
			p.Child = s
		}
	}
	if p.Child.ID == "" {
		inOrder(students)
		p.Choose = students
		return w.render(rw, r, "send.html", "send.title", c.Tongue, p)
	}
	read, err := w.read(r, c)
	if err != nil {
		return err
	}
	if p.Asked, err = read.asked(p.Child.ID, studio.AssignmentID(r.URL.Query().Get("of"))); err != nil {
		return err
	}
	p.Other = true
	for _, a := range p.Asked {
		p.Other = p.Other && !a.Chosen
	}
	return w.render(rw, r, "send.html", "send.title", c.Tongue, p)
}

// asked lists what the newest lesson asks, with one of it chosen.
func (r *reader) asked(s studio.StudentID, chosen studio.AssignmentID) ([]asked, error) {
	l, err := r.newest(s)
	if err != nil || l == nil {
		return nil, err
	}
	all := make([]asked, len(l.Assignments))
	for i, a := range l.Assignments {
		it, err := r.item(s, a)
		if err != nil {
			return nil, err
		}
		all[i] = asked{a.ID, it.Title, it.Where, it.Do, a.ID == chosen}
	}
	return all, nil
}

const (
	mostFieldBytes = 8 << 10 // of a form's field that is no file
	mostFields     = 16
)

// send is POST /week/send: the whole recording in one form, for a browser without scripts. The fields
// stand before the file.
func (w *week) send(rw http.ResponseWriter, r *http.Request) error {
	c, err := w.common(r, "/week/send")
	if err != nil {
		return err
	}
	page.Takes(rw, r, 0) // the studio counts
	parts, err := r.MultipartReader()
	if err != nil {
		return say(c.Tongue, "send.nothing")
	}
	fields := url.Values{}
	for range mostFields {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return say(c.Tongue, "send.nothing")
		}
		if err != nil {
			return say(c.Tongue, "send.broken")
		}
		if part.FileName() == "" {
			value, err := io.ReadAll(io.LimitReader(part, mostFieldBytes))
			if err != nil {
				return say(c.Tongue, "send.broken")
			}
			fields.Set(part.FormName(), string(value))
			continue
		}
		rec, err := w.receive(r, fields, part)
		if err != nil {
			return err
		}
		to := "/week/takes/" + string(rec.Take.ID) + "?sent"
		if rec.Duplicate {
			to += "=before"
		}
		http.Redirect(rw, r, to, http.StatusSeeOther)
		return nil
	}
	return say(c.Tongue, "send.nothing")
}

// receive announces a take and takes its bytes in. One that does not arrive whole is not left behind as
// arriving: this browser will not go on with it.
func (w *week) receive(r *http.Request, fields url.Values, part *multipart.Part) (studio.Received, error) {
	v, d := page.Viewer(r), w.f.Desk()
	take, err := d.Announce(r.Context(), v, studio.Announcement{
		Student: studio.StudentID(fields.Get("child")), Assignment: studio.AssignmentID(fields.Get("of")),
		FileName: part.FileName(), Note: fields.Get("note"), Hurt: fields.Get("hurt") == "yes",
	})
	if err != nil {
		return studio.Received{}, err
	}
	rec, err := d.Receive(r.Context(), v, take.ID, typeOf(part.FileName(), part.Header.Get("Content-Type")), part)
	if err != nil {
		return studio.Received{}, errors.Join(err, d.GiveUp(context.WithoutCancel(r.Context()), v, take.ID))
	}
	return rec, nil
}

// types are what files of recordings are called whose type the browser does not know.
var types = map[string]string{
	".m4a": "audio/mp4", ".mp3": "audio/mpeg", ".wav": "audio/wav", ".ogg": "audio/ogg", ".oga": "audio/ogg", ".opus": "audio/ogg",
	".aac": "audio/aac", ".amr": "audio/amr", ".flac": "audio/flac", ".caf": "audio/x-caf", ".3gp": "video/3gpp",
	".mp4": "video/mp4", ".m4v": "video/mp4", ".mov": "video/quicktime", ".webm": "video/webm", ".mkv": "video/x-matroska",
}

// typeOf is the media type that the browser says, or the one of the file's name where it says none of use.
func typeOf(name, said string) string {
	typ, _, err := mime.ParseMediaType(said)
	if err == nil && (strings.HasPrefix(typ, "audio/") || strings.HasPrefix(typ, "video/")) {
		return typ
	}
	if known := types[strings.ToLower(path.Ext(name))]; known != "" {
		return known
	}
	return typ
}

// hurtPage is GET /week/hurt: stop, and tell the teacher.
type hurtPage struct {
	common
	Child studio.Student
	Of    studio.AssignmentID
}

func (w *week) hurtForm(rw http.ResponseWriter, r *http.Request) error {
	c, err := w.common(r, "/week")
	if err != nil {
		return err
	}
	p := hurtPage{common: c, Of: studio.AssignmentID(r.URL.Query().Get("of"))}
	students, err := w.f.Desk().Students(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	for _, s := range students {
		if string(s.ID) == r.URL.Query().Get("child") {
			p.Child = s
		}
	}
	if p.Child.ID == "" {
		return &studio.Problem{Kind: studio.NotFound, Say: "This is not here, or not for you to see."}
	}
	return w.render(rw, r, "hurt.html", "hurt.title", c.Tongue, p)
}

// hurt is POST /week/hurt: the teacher is told, without a recording.
func (w *week) hurt(rw http.ResponseWriter, r *http.Request) error {
	child := studio.StudentID(r.PostFormValue("child"))
	_, err := w.f.Desk().Hurts(r.Context(), page.Viewer(r), child, studio.AssignmentID(r.PostFormValue("of")), r.PostFormValue("note"))
	if err != nil {
		return err
	}
	http.Redirect(rw, r, "/week?told", http.StatusSeeOther)
	return nil
}
